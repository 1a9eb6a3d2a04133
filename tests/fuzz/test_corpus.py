"""Every input that the fuzzer kept is answered with a result or with the project's own problems, without a warning."""

from __future__ import annotations

import pytest
from kept import make_seeds, read_kept
from targets import TARGETS


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_kept_inputs_are_answered(target: str) -> None:
    inputs = make_seeds(target) + read_kept(target)

    for content in inputs:
        TARGETS[target](content)

    assert len(inputs) > 20
