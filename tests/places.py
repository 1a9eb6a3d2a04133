"""A place of its own for each whole build: small comparisons, a site and a cache below the test's folder."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from generator.cli import main

ROOT = Path(__file__).parents[1]
EPOCH = "1790000000"
"""2026-09-21 in UTC; builds of the tests bear this date."""


class Place:
    """Comparisons, site and cache in one folder, and the commands that use them."""

    def __init__(self, root: Path, cache: Path) -> None:
        self.root = root
        self.comparisons = root / "comparisons"
        self.site = root / "site"
        self.cache = cache

    def begin(self, slug: str, *changes: tuple[str, str]) -> Path:
        """Write the starter comparison without its costly stall map, changed; returns its file."""
        assert main(["begin", slug, "--comparisons", str(self.comparisons)]) == 0
        file = self.comparisons / slug / "comparison.yaml"
        self.change(file, ("schema: 1\n", "schema: 1\nstall_map: false\n"), *changes)
        return file

    def change(self, file: Path, *changes: tuple[str, str]) -> None:
        """Replace pieces of a file's text that must be there."""
        text = file.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        file.write_text(text, encoding="utf-8")

    def build_arguments(self, *more: str) -> list[str]:
        """Arguments of a build of this place, in this process unless told otherwise."""
        folders = ["--comparisons", str(self.comparisons), "--site", str(self.site), "--cache", str(self.cache)]
        workers = [] if "--workers" in more else ["--workers", "1"]
        return ["build", *folders, *workers, *more]

    def build(self, *more: str) -> int:
        """Build in this process; returns the exit code."""
        return main(self.build_arguments(*more))

    def run(self, *argv: str, **env: str) -> subprocess.CompletedProcess[str]:
        """The command in a process of its own, with the environment changed."""
        command = [sys.executable, "-m", "generator", *argv]
        return subprocess.run(command, cwd=self.root, env=environment(**env), capture_output=True, text=True)

    def look(self) -> dict[str, str]:
        """Every file of the site by path, with its digest."""
        return look(self.site)

    def builds(self) -> list[str]:
        """Ids of the site's builds, oldest first."""
        return sorted(path.stem for path in (self.site / "archive" / "builds").glob("*.json"))


def environment(**changes: str) -> dict[str, str]:
    """This process's environment with the project importable from any folder, and changes."""
    paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths)), **changes}


def look(folder: Path) -> dict[str, str]:
    """Every file below a folder by path, with its digest."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def snapshot(folder: Path) -> Mapping[str, tuple[str, int, int]]:
    """Every file below a folder with digest, inode and time: whether anything was so much as touched."""
    return {
        path: (digest, (folder / path).stat().st_ino, (folder / path).stat().st_mtime_ns)
        for path, digest in look(folder).items()
    }
