"""Lets the tests of the pages share invented results and a small site."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from invented import engraver, gantry, plotter
from small_site import make_context, write_site

from generator.pages.context import Context
from generator.records.presentation import Page


@pytest.fixture
def results() -> dict[str, Any]:
    """The full comparison."""
    return plotter()


@pytest.fixture
def three() -> dict[str, Any]:
    """Three candidates, measured."""
    return gantry()


@pytest.fixture
def unmeasured() -> dict[str, Any]:
    """A bench sheet."""
    return engraver()


@pytest.fixture(scope="session")
def context() -> Context:
    """A site without an address."""
    return make_context()[0]


@pytest.fixture(scope="session")
def public() -> Context:
    """A site with an address."""
    return make_context("https://bench.example/site/")[0]


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Page]]:
    """The small site on disk, and its pages."""
    folder = tmp_path_factory.mktemp("site")
    return folder, write_site(folder)
