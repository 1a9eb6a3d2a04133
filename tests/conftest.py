"""A place of its own for each whole build; ``places.py`` stands beside for its kinds and helpers."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.append(str(Path(__file__).parent))

from places import EPOCH, Place

# a shell starts what runs in the background deaf to Ctrl-C, and children inherit that: tests press it
signal.signal(signal.SIGINT, signal.default_int_handler)

# no test is timed, and a run finds what the last one found
settings.register_profile("repeatable", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def shared_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache that the tests share where keeping is not what they test."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def place(tmp_path: Path, shared_cache: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """An empty place that shares kept results with other tests."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    return Place(tmp_path, shared_cache)


@pytest.fixture
def fresh_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """An empty place with a cache of its own."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    return Place(tmp_path, tmp_path / "cache")
