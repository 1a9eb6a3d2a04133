"""What a comparison's page shows beside its figures: charts, photos, excerpts and downloads, each named by content."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from generator.charts.cast import cast_of
from generator.charts.preview import draw_preview
from generator.evaluation.excerpts import EXTENSION, MEDIA_TYPE, make_excerpts
from generator.evaluation.numbers import canonical_bytes
from generator.evaluation.recall import Recall
from generator.evaluation.tables import write_tables
from generator.pages.assets import name_asset
from generator.pages.context import Download, Excerpt, Media, Picture
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.photos import WIDTHS, make_sizes
from generator.records.comparison import Comparison, Site
from generator.records.presentation import Asset, Chart
from generator.records.recordings import Sound


def place_charts(charts: Sequence[Chart]) -> tuple[dict[str, tuple[str, str]], list[Asset]]:
    """Addresses of each chart's wide and narrow drawing, and the assets themselves."""
    placed, assets = {}, []
    for chart in charts:
        wide, narrow = name_asset(chart.wide.svg, "svg"), name_asset(chart.narrow.svg, "svg")
        placed[chart.id] = (wide.address, narrow.address)
        assets += [wide, narrow]
    return placed, assets


def place_downloads(results: Mapping[str, Any]) -> tuple[list[Download], list[Asset], dict[str, bytes]]:
    """results.json and the tables: as downloads of this version, as assets, and as live files by name."""
    files = {"results.json": canonical_bytes(results) + b"\n", **write_tables(results)}
    downloads, assets = [], []
    for name, content in files.items():
        asset = name_asset(content, name.rsplit(".", 1)[-1])
        assets.append(asset)
        downloads.append(Download(name, asset.address, len(content)))
    return downloads, assets, files


def place_preview(results: Mapping[str, Any], site: Site, recall: Recall) -> Asset | None:
    """The picture that other sites show beside a link to the page; None where the site has no public address."""
    if not site.address:
        return None
    title, answer = results["question"] or results["title"], results["answer"]
    invented = results["data"] == "invented"
    names = [[candidate["id"], candidate["name"]] for candidate in results["candidates"]]
    needs = [title, answer, names, site.name, invented]
    picture = recall.bytes(
        "preview picture", needs, lambda: draw_preview(title, answer, cast_of(results), site.name, invented=invented)
    )
    return name_asset(picture, "png")


def place_media(
    comparison: Comparison, files: Mapping[str, bytes], recall: Recall, limits: Limits = DEFAULT_LIMITS
) -> tuple[Media, dict[str, list[Asset]]]:
    """Photos in sizes for small and large screens and short listening excerpts, where ``publish`` allows them.

    The assets by the file that they show.
    """
    pictures, excerpts = {}, {}
    shown: dict[str, list[Asset]] = {}
    for surface in comparison.surfaces if comparison.publish.photos else ():
        for candidate, photo in surface.photos.items():
            picture, sizes = _place_photo(photo.file, files[photo.file], recall, limits)
            pictures[surface.id, candidate] = picture
            shown.setdefault(photo.file, []).extend(sizes)
    order = tuple(candidate.id for candidate in comparison.candidates)
    for sound in comparison.sound if comparison.publish.audio else ():
        for candidate, own in _place_excerpts(sound, order, files, recall, limits).items():
            excerpts[sound.id, candidate] = tuple(Excerpt(a.address, MEDIA_TYPE, matched) for a, matched in own)
            shown.setdefault(sound.recordings[candidate][0].file, []).extend(asset for asset, _ in own)
    return Media(pictures, excerpts), shown


def _place_excerpts(
    sound: Sound, order: Sequence[str], files: Mapping[str, bytes], recall: Recall, limits: Limits
) -> dict[str, list[tuple[Asset, bool]]]:
    """Every excerpt of one item as an asset, with whether its loudness was matched, by candidate."""
    used = {recordings[0].file for recordings in sound.recordings.values()}
    needs = [sound, order, {file: hashlib.sha256(files[file]).hexdigest() for file in used}]
    found: dict[str, list[tuple[Asset, bool]]] = {}
    for excerpt in recall.json("excerpts", needs, lambda: _encode_excerpts(sound, order, files, limits)):
        asset = name_asset(base64.b64decode(excerpt["content"]), EXTENSION)
        found.setdefault(excerpt["candidate"], []).append((asset, excerpt["matched"]))
    return found


def _encode_excerpts(
    sound: Sound, order: Sequence[str], files: Mapping[str, bytes], limits: Limits
) -> list[dict[str, Any]]:
    made = make_excerpts(sound, order, files, limits)
    return [vars(excerpt) | {"content": base64.b64encode(excerpt.content).decode()} for excerpt in made]


def _place_photo(name: str, content: bytes, recall: Recall, limits: Limits) -> tuple[Picture, list[Asset]]:
    """Every size of one photo as an asset, and where they stand by media type."""
    key = hashlib.sha256(content).hexdigest()
    sizes = recall.json("photo sizes", key, lambda: _encode_sizes(name, content, limits))
    sources: dict[str, list[tuple[str, int]]] = {}
    assets = []
    for size in sizes:
        asset = name_asset(base64.b64decode(size["content"]), size["format"])
        assets.append(asset)
        sources.setdefault(f"image/{size['format']}", []).append((asset.address, size["width"]))
    largest = sizes[-1]
    return Picture({kind: tuple(rows) for kind, rows in sources.items()}, largest["width"], largest["height"]), assets


def _encode_sizes(name: str, content: bytes, limits: Limits) -> list[dict[str, Any]]:
    made = make_sizes(content, name, WIDTHS, limits)
    return [vars(size) | {"content": base64.b64encode(size.content).decode()} for size in made]
