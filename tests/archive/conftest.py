"""Lets the tests of the archive share their made-up sites."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def memory_path() -> Iterator[Path]:
    """A folder in memory where the system has one: tests that write thousands of sites need not wait for a disk."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(dir=memory if memory.is_dir() else None))
    yield folder
    shutil.rmtree(folder)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that a user without rights may enter."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)
