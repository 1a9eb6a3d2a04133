"""How much one comparison may hold. Every limit can be set; the documentation of the comparison file lists them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Largest sizes [bytes] and counts that a reader accepts."""

    comparison_bytes: int = 1_000_000
    """comparison.yaml and site.yaml."""
    prose_bytes: int = 1_000_000
    """The write-up."""
    table_bytes: int = 64_000_000
    """One CSV file."""
    sound_bytes: int = 512_000_000
    """One sound file."""
    sound_samples: int = 100_000_000
    """Samples of one sound file, all channels together."""
    photo_bytes: int = 64_000_000
    """One photo."""
    photo_pixels: int = 120_000_000
    """Pixels of one photo; more than any camera of the trade gives are taken for a decompression bomb [1]."""
    depth: int = 16
    """Levels of nesting in a YAML file."""
    nodes: int = 50_000
    """Keys and values in a YAML file."""
    exponent: int = 30
    """Power of ten in which a figure may be written, either way."""
    text_characters: int = 2000
    """One text: a title, a note, a cell of a table."""
    candidates: int = 12
    items: int = 60
    """Trials, sound, vibration, surfaces and panel together."""
    runs: int = 1000
    """Runs or attempts of one candidate in one trial."""
    files: int = 1000
    """Files named by one comparison."""
    table_rows: int = 5_000_000
    table_columns: int = 64
    draws: int = 4000
    """Monte Carlo draws of one comparison: not a bound but the number taken, so that it changes the figures."""
    template_steps: int = 100_000
    """Steps of one ``range`` in a template."""
    problems: int = 200
    """Problems listed for one comparison; the rest is counted."""

    def bytes_for(self, role: str) -> int:
        """Largest size of a file in this role [bytes]."""
        return {
            "comparison": self.comparison_bytes,
            "site": self.comparison_bytes,
            "prose": self.prose_bytes,
            "sound": self.sound_bytes,
            "photo": self.photo_bytes,
        }.get(role, self.table_bytes)


DEFAULT_LIMITS = Limits()
