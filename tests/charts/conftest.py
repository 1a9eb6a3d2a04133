"""Lets the tests of the charts share their invented results object and their reading of SVG."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from invented_results import invent_results

from generator.charts.index import draw_charts
from generator.records.presentation import Chart


@pytest.fixture
def results() -> dict[str, Any]:
    """A fresh results object with every part that charts draw."""
    return invent_results()


@pytest.fixture(scope="session")
def charts() -> Mapping[str, Chart]:
    """Every chart of the invented results, by id; not to be changed."""
    return {chart.id: chart for chart in draw_charts(invent_results())}
