"""What a result depends on besides its inputs: the code, the libraries, the templates."""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from generator import __version__

LIBRARIES = (
    "jinja2",
    "markdown",
    "matplotlib",
    "nh3",
    "numpy",
    "pandas",
    "pillow",
    "pint",
    "pyyaml",
    "scipy",
    "soundfile",
)


def find_made_with() -> dict[str, Any]:
    """Versions of the tool and of the libraries that a figure or a byte may depend on."""
    return {"stallmark": __version__, **{name: importlib.metadata.version(name) for name in LIBRARIES}}


@functools.cache
def find_code_digest(layers: tuple[str, ...] = ()) -> str:
    """SHA-256 over the package's own files (those of some layers, or all) and the libraries' versions."""
    package = Path(__file__).parent
    places = [package / layer for layer in layers] or [package]
    files = {path for place in places for path in (place.rglob("*") if place.is_dir() else [place])
             if path.suffix in (".py", ".json")}  # fmt: skip
    return _digest_files(files, package, sorted(find_made_with().items()))


def find_templates_digest(folders: Iterable[Path]) -> str:
    """SHA-256 over every file of the template folders, in their order."""
    parts = [_digest_files((p for p in folder.rglob("*") if p.is_file()), folder) for folder in folders]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _digest_files(files: Iterable[Path], base: Path, more: object = None) -> str:
    total = hashlib.sha256(repr(more).encode())
    for path in sorted(files):
        total.update(f"\n{path.relative_to(base).as_posix()}\n".encode())
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()
