"""Made-up sites for the tests of the archive: small, but with every kind of thing that a build brings."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from generator.archive.entries import Contents, InputFile, PageMakers
from generator.archive.publisher import Publisher, PublishResult, open_site
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Page

VERSIONS = {"stallmark": "1.0", "numpy": "2.0"}
DATE = "2026-09-18"
LATER = "2027-01-02"


def make_asset(content: bytes, suffix: str = "svg") -> Asset:
    return Asset(f"{hashlib.sha256(content).hexdigest()[:16]}.{suffix}", content)


def make_results(words: str) -> dict[str, object]:
    held = float(sum(words.encode()))
    return {
        "schema": 1,
        "answer": f"The answer is {words}.",
        "made_with": {"models": "1"},
        "predictions": [{"trial": "run", "candidate": "a", "unit": "m/s^2", "static": {"nominal": 44.1}}],
        "measurements": [
            {"item": "run", "candidate": "a", "unit": "m/s^2", "estimate": held, "runs": [{"held": held}]}
        ],
        "contrasts": [{"item": "run", "between": ["a", "b"], "unit": "m/s^2", "call": f"{words} ahead"}],
    }


def make_contents(slug: str, words: str, shared: bytes = b"<svg>shared</svg>") -> Contents:
    chart, photo = make_asset(f"<svg>{slug} {words}</svg>".encode()), make_asset(shared)
    results = json.dumps(make_results(words)).encode()
    text = (
        f"<p>{words} <img src='{ROOT}{chart.address}'><img src='{ROOT}{photo.address}'> "
        f"<a href='{ROOT}comparisons/{slug}/versions.html'>{VERSION}, first published {PUBLISHED}</a></p>"
    )
    return Contents(
        inputs=[
            InputFile("comparison.yaml", f"title: {words}\n".encode()),
            InputFile("runs/a.csv", f"held [m/s²]\n{words}\n".encode()),
            InputFile("tone.wav", f"secret sound of {slug} {words}".encode(), published=False),
        ],
        pages=[Page(f"comparisons/{slug}", text)],
        assets=[chart, photo],
        files={f"comparisons/{slug}/results.json": results},
    )


def make_shared(state: Mapping[str, str]) -> Contents:
    return Contents(
        inputs=[InputFile("comparisons/site.yaml", b"name: Made-up site\n")],
        pages=[Page("methods/stall", f"<p>how {VERSION}</p>")],
        unfrozen=[Page("", f"<p>{' '.join(sorted(state))} {ROOT}</p>"), Page("404.html", "<p>not here</p>")],
        files={"feed.xml": f"<feed>{sorted(state.items())}</feed>".encode()},
    )


def make_makers() -> PageMakers:
    return PageMakers(
        render_versions=lambda path, rows, removed: Page(path, f"<p>{ROOT} {rows} gone since {removed}</p>"),
        render_builds=lambda builds: Page("builds", f"<p>{[(b.id, b.date, b.kind, b.changed) for b in builds]}</p>"),
        render_changes=lambda difference: Page("", f"<p>{difference.after.id} {difference.comparisons}</p>"),
    )


def fill(publisher: Publisher, state: Mapping[str, str]) -> None:
    """Add what changed, carry what did not: a comparison's words are its key."""
    for slug, words in state.items():
        entry = publisher.entry(slug)
        if entry and entry.key == words:
            publisher.carry(slug)
        else:
            publisher.add(slug, words, {"words": words}, make_contents(slug, words))
    publisher.add_shared(make_shared(state))


def build(
    site: Path,
    state: Mapping[str, str],
    date: str = DATE,
    versions: Mapping[str, str] = VERSIONS,
    vault: Path | None = None,
    compress: bool = False,
) -> PublishResult:
    """Build a made-up site: words by slug."""
    with open_site(site, date, vault=vault, makers=make_makers(), compress=compress) as publisher:
        fill(publisher, state)
        return publisher.publish(versions)


def look(root: Path) -> dict[str, str]:
    """Every file under a folder, by path, with its digest; the whole state of a site."""
    files = (path for path in sorted(root.rglob("*")) if path.is_file())
    return {path.relative_to(root).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def list_beside(site: Path) -> list[str]:
    """What a command left beside the site."""
    return sorted(path.name for path in site.parent.iterdir() if path.name != site.name)
