"""Home, parts, methods, builds, changes, versions, not found, feed, sitemap, structured data, bench sheet."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from datetime import datetime
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import feedparser
import pytest
from small_site import BUILDS, VERSIONS

from generator.pages.bench_sheet import render_bench_sheet
from generator.pages.builds import render_builds
from generator.pages.changes import render_changes
from generator.pages.context import Context
from generator.pages.feed import render_feed
from generator.pages.home import newest_first, render_home
from generator.pages.methods import METHODS, render_methods
from generator.pages.notfound import render_notfound
from generator.pages.parts import gather_parts, render_parts
from generator.pages.sitemap import render_sitemap
from generator.pages.structured import describe_comparison
from generator.pages.summary import part_slug, summarise
from generator.pages.validation import view_validation
from generator.pages.versions import render_versions
from generator.records.presentation import ROOT, VERSION
from generator.validation.table import read_validation

ATOM = "{http://www.w3.org/2005/Atom}"


@pytest.fixture
def summaries(results: dict[str, Any], three: dict[str, Any], unmeasured: dict[str, Any]) -> list[dict[str, Any]]:
    """The three comparisons in brief."""
    return [summarise(each) for each in (results, three, unmeasured)]


# --- summary, home, parts -------------------------------------------------------------------------------------------


def test_a_summary_is_dated_by_its_newest_correction(results: dict[str, Any]) -> None:
    summary = summarise(results)

    assert (summary["date"], summary["updated"]) == ("2026-09-18", "2026-10-02")
    assert summary["candidates"][0] == {
        "id": "series",
        "name": "Alder 42-8, series",
        "differs": "6 mH, 3 Ω, 1.4 A peak",
    }
    assert summary["parts"][1]["results"][0]["calls"] == ["Alder 42-8, parallel ahead by 29.5 ± 1.6 m/s²"]


def test_home_lists_the_newest_first(summaries: list[dict[str, Any]], context: Context) -> None:
    text = render_home(summaries, context).text

    assert [each["slug"] for each in newest_first(summaries)] == [
        "tile-engraver", "herbarium-gantry", "braille-plate-plotter",
    ]  # fmt: skip
    links = re.findall(rf'<h3><a href="{ROOT}(comparisons/[\w-]+)/index.html">', text)
    assert links == ["comparisons/tile-engraver", "comparisons/herbarium-gantry", "comparisons/braille-plate-plotter"]
    assert "bench sheet, not measured yet" in text
    assert VERSION not in text  # home keeps no frozen copies


def test_home_without_comparisons_says_so(context: Context) -> None:
    assert "Nothing is published yet." in render_home([], context).text


def test_a_part_gathers_its_figures_over_comparisons(results: dict[str, Any], three: dict[str, Any]) -> None:
    three["inputs"] = [row | {"value": 0.007} if row["path"] == "motor.inductance" else row for row in three["inputs"]]
    parts = {part["slug"]: part for part in gather_parts([summarise(results), summarise(three)])}

    part = parts["alder-42-8-series"]
    inductance = next(row for row in part["figures"] if row["label"] == "Phase inductance")
    torque = next(row for row in part["figures"] if row["label"].startswith("Holding"))
    assert [value["figure"]["value"] for value in inductance["values"]] == ["7 mH", "6 mH"]
    assert [len(value["summaries"]) for value in torque["values"]] == [2]
    assert part["invented"]


def test_one_motor_in_several_candidates_is_one_part(three: dict[str, Any], context: Context) -> None:
    for candidate in three["candidates"]:
        candidate["motor_name"] = "Rowan 57-6"
    index, page = render_parts([summarise(three)], context)

    assert page.path == "parts/rowan-57-6"
    assert page.text.count("<h4>") == 3
    assert f'href="{ROOT}parts/rowan-57-6/index.html"' in index.text


def test_a_parts_folder_is_plain() -> None:
    assert part_slug("Alder 42-8") == part_slug("ALDER  42 8") == "alder-42-8"
    assert re.fullmatch(r"part-[0-9a-f]{8}", part_slug("電動機"))
    assert re.fullmatch(r"alder-42-8-[0-9a-f]{8}", part_slug("Älder 42/8"))
    assert len(part_slug("x" * 200)) <= 70


def test_parts_of_different_names_have_different_folders() -> None:
    names = ["Alder 42-8", "Alder 42/8", "Alder 42.8", "Älder 42-8", "電動機", "電動", "…", "x" * 70, "x" * 71]
    assert len({part_slug(name) for name in names}) == len(names)


# --- methods --------------------------------------------------------------------------------------------------------


def test_every_method_says_what_it_assumes_and_how_it_is_checked(context: Context) -> None:
    _, *pages = render_methods(context)

    assert len(pages) == len(METHODS) >= 18
    for page in pages:
        assert "How it is checked</h2>" in page.text, page.path
        assert "Assumptions</h2>" in page.text, page.path
        assert "Where it holds</h2>" in page.text, page.path


def test_statistics_pages_show_how_often_they_are_right(context: Context) -> None:
    pages = {page.path: page.text for page in render_methods(context, read_validation())}

    assert [path for path, text in pages.items() if "How often it is right" in text] == [
        "methods/limits", "methods/attempts", "methods/contrast", "methods/drift",
    ]  # fmt: skip
    assert "Attempts on every rung" not in pages["methods/limits"]
    assert "Limits drift over the session" in pages["methods/drift"]


def test_the_simulated_figures_are_told_with_their_misses() -> None:
    row = {
        "group": "attempts on every rung", "runs": [3, 5], "rung": 0.5, "scatter_ratio": 2.0, "drift": 1.0,
        "headroom": 0.0, "third": 3, "others": 2, "comparisons": 7500, "each": 1500, "matters": 4.0,
        "wrong_half": 0.001, "overstated": 0.2, "limit_coverage": 0.9474, "difference_coverage": None,
        "wrong_equal": 0.002,
        "wrong_equal_unstated": 0.006, "wrong_edge": 0.0047, "right_equal": 0.0173, "right_different": 0.1107,
    }  # fmt: skip
    miss = {"group": row["group"], "figure": "limit_coverage", "words": "covers too little", "value": 0.91}
    wrong = {"group": row["group"], "figure": "wrong_half", "words": "too many wrong calls", "value": 0.03}
    table = {
        "version": "1.0", "date": "2026-11-25", "rows": [row],
        "targets": {"coverage_least": 0.94, "coverage_most": 0.97, "wrong_most": 0.02},
        "misses": [miss, miss | {"value": 0.9}, wrong],
    }  # fmt: skip
    view = view_validation(table, "attempts")

    assert view is not None
    title = (
        "Attempts on every rung (1500 comparisons for each true difference, so a rate of 2 % is uncertain by ± 0.7 %)"
    )
    assert view["groups"] == [(title, [(
        "3 and 5",
        "rung 0.5, one scatters 2 times as much, drift 1, stroke ends 0 above the limit, "
        "a third candidate with 3 runs, 2 more candidates",
        "94.7 %", "–", "4", "0.6 %", "0.5 %", "20.0 %", "1.7 %", "11.1 %",
    )])]  # fmt: skip
    assert view["misses"] == [
        "Attempts on every rung: a limit’s interval covers too little, 90.0 % at worst",
        "Attempts on every rung: too many wrong calls, 3.0 % at worst",
    ]
    assert view_validation(table, "limits") is None
    assert view_validation(None, "attempts") is None


def test_factors_of_the_envelope_stand_as_the_models_have_them(context: Context) -> None:
    from generator.models.transient_limits import ANY_TIMING, START

    text = next(page.text for page in render_methods(context) if page.path == "methods/envelope")

    assert f"<mn>{START:.4f}</mn>" in text
    assert f"<mn>{ANY_TIMING:.4f}</mn>" in text


# --- builds, changes, versions, not found ---------------------------------------------------------------------------


def test_builds_are_listed_with_their_manifests(context: Context) -> None:
    text = render_builds(BUILDS, context).text

    assert f'href="{ROOT}archive/builds/0001-0a1b2c3d.json"' in text
    assert f'href="{ROOT}archive/builds/0001-0a1b2c3d.html"' in text
    assert "added: braille-plate-plotter" in text


def test_changes_name_figures_and_causes(context: Context) -> None:
    figure = SimpleNamespace(section="measurements", item="diagonal-500, series", figure="estimate", unit="m/s^2",
                             before=37.5, after=38.0, cause="data")  # fmt: skip
    comparison = SimpleNamespace(
        slug="a", state="changed", causes=("data",), inputs=(SimpleNamespace(path="runs.csv", state="changed"),),
        figures=(figure,) * 201, note="",
    )  # fmt: skip
    difference = {"made_with": (("numpy", "2.3", "2.4"),), "comparisons": (comparison,)}
    text = render_changes("0002-x", "2026-10-02", "0001-y", difference, context).text

    assert "<td>37.50\u00a0m/s²</td><td>38.00\u00a0m/s²</td><td>data</td>" in text
    assert "And 1 more" in text
    assert "runs.csv changed" in text and "<td>2.3</td><td>2.4</td>" in text


def test_versions_link_to_their_copies(context: Context) -> None:
    page = render_versions("comparisons/a", "A", VERSIONS, context)

    assert page.path == "comparisons/a/versions.html"
    assert f'<a href="{ROOT}index.html"><code>ba9876543210</code></a>' in page.text
    assert "this is the page as it stands" in page.text and "the copy was dropped" in page.text
    assert VERSION not in page.text


def test_the_page_for_nowhere_needs_nothing_else(context: Context, public: Context) -> None:
    bare, linked = render_notfound(context).text, render_notfound(public).text

    assert ROOT not in bare and "href=" not in bare
    assert 'href="https://bench.example/site/"' in linked
    style = re.search(r"<style>(.*?)</style>", bare, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in bare


# --- feed, sitemap, structured data ---------------------------------------------------------------------------------


def test_the_feed_follows_rfc_4287(summaries: list[dict[str, Any]], context: Context, public: Context) -> None:
    """RFC 4287: 4.1.1 and 4.1.2 name the elements wanted, 3.3 the dates, 4.2.6 the ids, 4.2.7 the links."""
    for site in (context, public):
        root = ElementTree.fromstring(render_feed(summaries, site).text)
        entries = root.findall(f"{ATOM}entry")
        assert root.tag == f"{ATOM}feed" and len(entries) == 4  # three comparisons and one correction
        ids = [element.text or "" for element in root.iter(f"{ATOM}id")]
        assert len(set(ids)) == len(ids) and all(text.startswith("urn:uuid:") for text in ids)
        for element in (root, *entries):
            assert len(element.findall(f"{ATOM}title")) == 1
            assert len(element.findall(f"{ATOM}updated")) == 1
            assert [link for link in element.findall(f"{ATOM}link") if link.get("rel") == "alternate"]
        for date in (*root.iter(f"{ATOM}updated"), *root.iter(f"{ATOM}published")):
            assert datetime.fromisoformat(date.text or "").tzinfo is not None
        assert root.find(f"{ATOM}author/{ATOM}name") is not None
        stamps = [entry.findtext(f"{ATOM}updated") or "" for entry in entries]
        assert stamps == sorted(stamps, reverse=True)
        assert root.findtext(f"{ATOM}updated") == stamps[0]


def test_ids_of_the_feed_outlive_the_address(
    summaries: list[dict[str, Any]], context: Context, public: Context
) -> None:
    ids = [
        [entry.id for entry in feedparser.parse(render_feed(summaries, site).text).entries]
        for site in (context, public)
    ]

    assert ids[0] == ids[1]


def test_links_of_the_feed_are_absolute_where_there_is_an_address(
    summaries: list[dict[str, Any]], context: Context, public: Context
) -> None:
    newest = "comparisons/tile-engraver/"

    assert f'href="{newest}index.html"' in render_feed(summaries, context).text
    assert f'href="https://bench.example/site/{newest}"' in render_feed(summaries, public).text


def test_a_feed_without_entries_is_still_one(context: Context) -> None:
    assert feedparser.parse(render_feed([], context).text).feed.updated == "2005-12-01T00:00:00Z"


def test_the_sitemap_needs_an_address(context: Context, public: Context) -> None:
    """sitemaps.org protocol 0.9: urlset of url with loc and an optional W3C date."""
    page = render_sitemap(["", "comparisons/a"], public, {"comparisons/a": "2026-09-18"})

    assert render_sitemap([""], context) is None
    assert page is not None
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    urls = ElementTree.fromstring(page.text).findall(f"{space}url")
    assert [url.findtext(f"{space}loc") for url in urls] == [
        "https://bench.example/site/", "https://bench.example/site/comparisons/a/",
    ]  # fmt: skip
    assert urls[1].findtext(f"{space}lastmod") == "2026-09-18"


def test_structured_data_has_addresses_only_where_the_site_has_one(
    results: dict[str, Any], context: Context, public: Context
) -> None:
    summary = summarise(results)
    _, bare = describe_comparison(summary, context)
    article, data = describe_comparison(summary, public)

    assert "url" not in bare and "distribution" not in bare
    assert article["url"] == "https://bench.example/site/comparisons/braille-plate-plotter/"
    assert data["distribution"][0]["contentUrl"].endswith("/results.json")
    assert article["dateModified"] == "2026-10-02"
    assert data["description"].startswith("Invented data")


def test_previews_need_an_address(results: dict[str, Any], context: Context, public: Context) -> None:
    with_picture = replace(public, social_image="archive/assets/a.png")
    texts = [render_home([summarise(results)], site).text for site in (context, public, with_picture)]

    assert "og:" not in texts[0] and 'rel="canonical"' not in texts[0]
    assert '<link rel="canonical" href="https://bench.example/site/">' in texts[1]
    assert '<meta property="og:image" content="https://bench.example/site/archive/assets/a.png">' in texts[2]


# --- bench sheet ----------------------------------------------------------------------------------------------------


def test_the_sheet_for_print_stands_alone(unmeasured: dict[str, Any], context: Context) -> None:
    page = render_bench_sheet(unmeasured, context)

    assert page.path == "bench-sheet-tile-engraver.html"
    assert not {ROOT, VERSION} & set(page.text)
    assert "href=" not in page.text and "src=" not in page.text
    assert page.text.count("<h2>") == 3
    assert "Invented data" in page.text


def test_a_sheet_says_what_earlier_comparisons_taught_it(unmeasured: dict[str, Any], context: Context) -> None:
    unmeasured["derating"] = {"factor": 0.8123, "comparisons": ("first", "second"), "trials": 3}
    text = render_bench_sheet(unmeasured, context).text

    assert "taken as 0.81 of the stated one, as earlier comparisons of this machine showed (first and second)" in text


def test_a_sheet_without_trials_says_so(unmeasured: dict[str, Any], context: Context) -> None:
    unmeasured["bench_sheet"] = []

    assert "nothing to plan" in render_bench_sheet(unmeasured, context).text
