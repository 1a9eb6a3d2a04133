"""``python -m generator``: the same as the command ``stallmark``."""

from generator.cli import run

run()
