"""One hostile site, built twice so that it has versions and changes, for all tests that look at it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from hostile import FEW, write_folder

from generator.build import Settings, build


@pytest.fixture(scope="session")
def hostile_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built site of the hostile comparison; both builds stand in its archive."""
    root = tmp_path_factory.mktemp("hostile")
    (root / "comparisons").mkdir()
    for note, date in (("", "2026-10-01"), ("again", "2026-10-02")):
        write_folder(root / "comparisons", note)
        build(
            Settings(
                root / "comparisons", root / "site", date, cache=root / "cache",
                address="https://bench.example/", compress=True, limits=FEW,
            )
        )  # fmt: skip
    return root / "site"
