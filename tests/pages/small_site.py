"""A whole small site of invented pages, laid out on disk as the archive would, for the link and browser tests."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from invented import chart, engraver, gantry, plotter
from PIL import Image

from generator.archive.names import find_page_file
from generator.charts.palette import css_properties, render_swatch, style_of
from generator.pages.assets import addresses, collect_assets, name_asset
from generator.pages.bench_sheet import render_bench_sheet
from generator.pages.builds import render_builds
from generator.pages.cautions import render_cautions
from generator.pages.changes import render_changes
from generator.pages.comparison import render_comparison
from generator.pages.context import NO_MEDIA, Context, Download, Excerpt, Look, Media, Picture
from generator.pages.feed import render_feed
from generator.pages.home import render_home
from generator.pages.methods import render_methods
from generator.pages.notfound import render_notfound
from generator.pages.parts import render_parts
from generator.pages.sitemap import render_sitemap
from generator.pages.summary import summarise
from generator.pages.templates import environment, template_dirs
from generator.pages.versions import render_versions
from generator.records.comparison import Site
from generator.records.presentation import PUBLISHED, ROOT, VERSION, Asset, Page
from generator.validation.table import read_validation

SITE = Site("Plate workshop bench", "Comparisons, each with a prediction beside the measurement.", "The bench",
            "bench@example.org", None, "en", "CC BY 4.0", "CC0 1.0")  # fmt: skip
CHARTS = ("corridor", "corridor-x", "trial-diagonal-500", "drift-diagonal-500", "torque", "torque-x",
          "stall-series-x-y", "stall-parallel-x-y", "stall-series-x", "sound-traverse-100",
          "sound-traverse-100-spectrum", "vibration-along-x", "surface-plate", "panel-smoother-plate",
          "differences", "stranger")  # fmt: skip
PROSE = {
    "write-up.md": "Two windings, one motor.\n\n{figure: torque}\n\n## Trials\n\nParallel held "
    "{value: parallel diagonal-500 measured}.\n\n## Where it was tested\n\nIn a [workshop](/cautions/).\n\n"
    "| a | b |\n|---|---|\n| 1 | 2 |\n"
}
BUILDS = [
    {"id": "0001-0a1b2c3d", "date": "2026-09-18", "manifest": "archive/builds/0001-0a1b2c3d.json", "kind": "build",
     "page": "archive/builds/0001-0a1b2c3d.html", "added": ("braille-plate-plotter",), "changed": (), "removed": (),
     "note": "", "made_with": {"stallmark": "1.0.0"}}
]  # fmt: skip
VERSIONS = [
    {"version": "0123456789ab", "published": "2026-09-18", "address": None, "current": True},
    {"version": "ba9876543210", "published": "2026-09-01", "address": "index.html", "current": False},
]


def look(index: int) -> Look:
    """The charts' own look of a candidate."""
    style = style_of(index)
    return Look(style.slot, render_swatch(style))


def make_context(address: str | None = None) -> tuple[Context, dict[str, Asset]]:
    """A context over the project's own templates, and the assets that its pages name."""
    made = environment(template_dirs())
    assets = collect_assets(made, css_properties())
    site = Site(**(vars(SITE) | {"address": address}))
    return Context(site, made, addresses(assets), "Stallmark 1.0.0", look=look), assets


def make_media(files: dict[str, bytes]) -> Media:
    """A grey photo and a silent excerpt per candidate, one download."""
    pictures, excerpts = {}, {}
    for number, candidate in enumerate(("series", "parallel")):
        buffer = io.BytesIO()
        Image.new("RGB", (200, 120), (90 + 60 * number,) * 3).save(buffer, "JPEG")
        photo = name_asset(buffer.getvalue(), "jpg")
        sound = name_asset(SILENCE + bytes([128, number]), "wav")
        files |= {photo.address: photo.content, sound.address: sound.content}
        pictures["plate", candidate] = Picture({"image/jpeg": ((photo.address, 200),)}, 200, 120)
        excerpts["traverse-100", candidate] = tuple(
            Excerpt(sound.address, "audio/wav", matched) for matched in (False, True)
        )
    table = name_asset(b"a,b\r\n1,2\r\n", "csv")
    files[table.address] = table.content
    return Media(pictures, excerpts, (Download("measurements.csv", table.address, len(table.content)),))


SILENCE = bytes.fromhex(
    "52494646 26000000 57415645 666d7420 10000000 0100 0100 401f0000 401f0000 0100 0800 64617461 02000000"
)


def make_comparison(
    results: Mapping[str, Any], context: Context, files: dict[str, bytes], names: tuple[str, ...], full: bool = False
) -> Page:
    """The page of one comparison; its charts and downloads go into ``files``."""
    charts = [chart(name, f"What {name} shows") for name in names]
    where = {}
    for each in charts:
        pair = name_asset(each.wide.svg, "svg"), name_asset(each.narrow.svg, "svg")
        where[each.id] = (pair[0].address, pair[1].address)
        files |= {asset.address: asset.content for asset in pair}
    folder = f"comparisons/{results['comparison']}"
    files |= {f"{folder}/results.json": json.dumps(results).encode(), f"{folder}/sources.zip": b"PK"}
    media = make_media(files) if full else NO_MEDIA
    return render_comparison(results, charts, where, PROSE if full else {}, context, media)


def make_pages(context: Context) -> tuple[list[Page], dict[str, bytes]]:
    """Every page of a small site, and its other files by address."""
    files: dict[str, bytes] = {"archive/builds/0001-0a1b2c3d.json": b"{}"}
    every = (plotter(), gantry(), engraver())
    pages = [make_comparison(every[0], context, files, CHARTS, full=True)]
    pages += [make_comparison(results, context, files, ("corridor",)) for results in every[1:]]
    summaries = [summarise(results) for results in every]
    pages += [render_home(summaries, context), *render_parts(summaries, context), render_cautions(context)]
    pages += render_methods(context, read_validation())
    pages += [render_builds(BUILDS, context), render_notfound(context), render_feed(summaries, context)]
    pages.append(render_changes("0001-0a1b2c3d", "2026-09-18", None, {"made_with": (), "comparisons": ()}, context))
    pages += [render_versions(page.path, "Page", VERSIONS, context) for page in pages if is_frozen(page.path)]
    sitemap = render_sitemap([page.path for page in pages if is_frozen(page.path)], context)
    sheet = Page("bench-sheet.html", render_bench_sheet(every[2], context).text)
    return [*pages, sheet, *([sitemap] if sitemap else [])], files


def is_frozen(path: str) -> bool:
    """Whether a page keeps frozen copies, and so has versions: all but home, builds and single files."""
    return path not in ("", "builds") and "." not in path.rsplit("/", 1)[-1]


def write_site(folder: Path, address: str | None = None) -> list[Page]:
    """Write the small site as the archive would, marks replaced; returns its pages."""
    context, assets = make_context(address)
    pages, files = make_pages(context)
    files |= {asset.address: asset.content for asset in assets.values()}
    files |= {find_page_file(page.path): fill(page) for page in pages}
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return pages


def fill(page: Page) -> bytes:
    """A page's text with its marks replaced, for where it stands."""
    root = "../" * find_page_file(page.path).count("/") or "./"
    return page.text.replace(ROOT, root).replace(VERSION, "0123456789ab").replace(PUBLISHED, "2026-09-18").encode()
