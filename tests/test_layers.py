"""The arrows of the house point one way: who may import whom, and what a quick command must not import."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "generator"
DEMOS = PACKAGE.parent / "comparisons"

BASE = {"errors", "units", "records"}
CORE = {"models", "readers", "analysis"}
STAGES = {"archive", "charts", "evaluation", "pages", "readers", "records", "errors"}
"""What the modules between the layers and the pipeline put together."""
MAY_IMPORT = {
    "errors": set(),
    "unit_grammar": set(),
    "units": {"errors", "unit_grammar"},
    "phrases": {"units"},
    "records": {"errors", "units"},
    "models": {"errors", "records"},
    "readers": BASE | {"unit_grammar"},
    "analysis": BASE,
    "validation": BASE | {"analysis"},
    "evaluation": BASE | CORE | {"validation"},
    "charts": BASE | {"phrases"},
    "pages": BASE | {"phrases"},
    "archive": BASE,
    "cache": {"errors"},
    "versions": set(),
    "workers": {"errors"},
    "sheets": {"errors", "units"},
    "opening": {"analysis", "archive", "errors", "evaluation", "readers", "records"},
    "inputs": {"archive", "cache", "errors", "evaluation", "opening", "readers", "records", "versions"},
    "presenting": {"charts", "errors", "evaluation", "pages", "readers", "records"},
    "looks": {"charts", "errors", "pages", "records"},
    "making": (STAGES - {"archive"}) | {"inputs", "looks", "presenting"},
    "shared": {"archive", "errors", "looks", "pages", "records", "validation", "versions"},
    "build": {"archive", "errors", "inputs", "making", "pages", "readers", "records", "shared", "versions", "workers"},
    "checking": {"errors", "evaluation", "inputs", "opening", "readers"},
    "preview": {"errors"},
    "commands": STAGES | {"build", "checking", "preview", "shared", "sheets", "versions"},
    "archive_commands": {"archive", "commands", "errors"},
    "cli": {"errors", "commands", "archive_commands"},
}


def layer_of(path: Path) -> str:
    """First part below generator/: a package's or a module's name."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(path: Path) -> set[str]:
    """Layers of the project that a module imports, anywhere in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            # `from generator.models import motor` and `from generator import cache` both name a layer
            names = [node.module] if node.module != "generator" else [f"generator.{a.name}" for a in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("generator.")}
    return found - {"__version__"}


MODULES = sorted(p for p in PACKAGE.rglob("*.py") if p.parent != PACKAGE or not p.name.startswith("__"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_one_way(path: Path) -> None:
    layer = layer_of(path)

    assert layer in MAY_IMPORT, f"{layer} is not on the map"
    assert imports_of(path) <= MAY_IMPORT[layer] | {layer}


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("__init__.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_package_roots_hold_no_imports(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))

    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]


def modules_after(code: str) -> set[str]:
    """Names of the modules that a fresh interpreter holds after running ``code``."""
    probe = f"import sys\n{code}\nprint('\\n'.join(sys.modules), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    return set(done.stderr.split())


def test_help_imports_nothing_heavy() -> None:
    held = modules_after("from generator.cli import main\nmain(['--help'])")

    assert not held & {"numpy", "pandas", "matplotlib", "scipy", "pint"}


def test_check_draws_nothing() -> None:
    held = modules_after(f"from generator.cli import main\nmain(['check', '--comparisons', {str(DEMOS)!r}])")

    assert {"generator.cli", "generator.readers.comparison"} <= held
    assert "matplotlib" not in held
