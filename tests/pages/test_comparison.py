"""The page of one comparison as a whole: order, charts, prose, banner, policy, marks."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from small_site import CHARTS, make_comparison, make_media

from generator.errors import FileProblems
from generator.pages.comparison import render_comparison
from generator.pages.context import Context
from generator.records.presentation import PUBLISHED, ROOT, VERSION


def render(results: dict[str, Any], context: Context, full: bool = False) -> str:
    """Text of a comparison's page with the small site's charts."""
    return make_comparison(results, context, {}, CHARTS if full else ("corridor",), full).text


def section_ids(text: str) -> list[str]:
    """Ids of the page's sections, in order."""
    return re.findall(r'<section id="([\w-]+)" aria-labelledby', text)


def test_sections_stand_in_reading_order(results: dict[str, Any], context: Context) -> None:
    assert section_ids(render(results, context, full=True)) == [
        "corridor", "trials", "text-where-it-was-tested", "why", "sound", "vibration", "surfaces", "panel", "verdict",
        "specification", "report", "cautions", "method", "files",
    ]  # fmt: skip


def test_the_section_list_names_every_section(results: dict[str, Any], context: Context) -> None:
    text = render(results, context, full=True)
    listing = text[text.index('<nav class="section-list"') :]

    assert re.findall(r'<a href="#([\w-]+)">', listing[: listing.index("</nav>")]) == section_ids(text)


def test_question_answer_and_corrections_come_first(results: dict[str, Any], context: Context) -> None:
    text = render(results, context)

    places = [text.index(part) for part in (
        "18 September 2026", "<h1>Which wiring", "Corrected <time", 'class="answer"', 'class="candidates"',
        'id="corridor"',
    )]  # fmt: skip
    assert places == sorted(places)
    assert "crossed belts · 36\u00a0V · Plate workshop bench" in text


def test_without_a_question_the_title_heads_the_page(three: dict[str, Any], context: Context) -> None:
    assert "<h1>24, 36 or 48\u00a0V for the herbarium camera gantry</h1>" in render(three, context)


def test_every_chart_stands_exactly_once(results: dict[str, Any], context: Context) -> None:
    text = render(results, context, full=True)

    assert sorted(re.findall(r'<figure class="chart" id="figure-([\w-]+)"', text)) == sorted(CHARTS)


def test_charts_stand_with_what_they_show(results: dict[str, Any], context: Context) -> None:
    text = render(results, context, full=True)
    starts = {name: text.index(f'id="figure-{name}"') for name in CHARTS}

    def between(name: str, start: str, end: str) -> bool:
        return text.index(start) < starts[name] < text.index(end)

    assert starts["torque"] < text.index('id="corridor"')  # the author's prose put it into the opening
    assert between("trial-diagonal-500", 'id="trial-diagonal-500"', 'id="trial-diagonal-900"')
    assert between("sound-traverse-100-spectrum", 'id="item-traverse-100"', 'id="vibration"')
    assert between("stranger", 'id="why"', 'id="sound"')
    assert between("stall-series-x", " more chart", 'id="sound"')


def test_generated_sentences_give_way_to_the_authors(results: dict[str, Any], context: Context) -> None:
    with_prose = render(results, context, full=True)
    without = render(results, context)

    assert "Parallel held" in with_prose and "pairs were compared" not in with_prose
    assert "3 pairs were compared" in without


def test_sections_without_content_are_left_out(unmeasured: dict[str, Any], context: Context) -> None:
    text = render(unmeasured, context)

    assert section_ids(text)[:3] == ["corridor", "bench", "trials"]
    assert not {"sound", "vibration", "surfaces", "panel"} & set(section_ids(text))
    assert "Not measured yet; this is the prediction." in text


def test_invented_data_is_bannered_and_measured_data_is_not(
    results: dict[str, Any], three: dict[str, Any], context: Context
) -> None:
    assert '<p class="banner" role="note"><strong>Invented data.</strong>' in render(results, context)
    assert 'class="banner"' not in render(three, context)


def test_no_script_or_style_stands_in_the_page_itself(results: dict[str, Any], context: Context) -> None:
    text = render(results, context, full=True)

    assert not re.search(r"<style|\sstyle=|\son\w+=", text)
    for attributes in re.findall(r"<script([^>]*)>", text):
        assert 'src="' in attributes or 'type="application/' in attributes
    assert "default-src 'none'; script-src 'self'; style-src 'self'" in text
    for script in ("weights", "blind-viewer"):
        assert f'src="{ROOT}{context.assets[script]}"' in text


def test_every_own_address_goes_through_the_mark(results: dict[str, Any], context: Context) -> None:
    text = render(results, context, full=True)

    for address in re.findall(r'(?:href|src|srcset)="([^"]*)"', text):
        assert address.startswith((ROOT, "#", "mailto:")), address
    assert VERSION in text and PUBLISHED in text


def test_marks_in_a_comparisons_own_text_are_harmless(results: dict[str, Any], context: Context) -> None:
    results["title"] = f"a{ROOT}b{VERSION}c"
    results["candidates"][0]["name"] = f"x{PUBLISHED}y"
    text = render(results, context)

    assert "abc" in text and "xy" in text
    assert f"a{ROOT}b" not in text


def test_what_a_comparison_says_is_escaped(results: dict[str, Any], context: Context) -> None:
    results["question"] = "<img src=x onerror=alert(1)>"
    results["candidates"][0]["name"] = '"><script>'
    results["interests"] = "</dd><b>"
    text = render(results, context, full=True)

    assert "<img src=x" not in text and '"><script>' not in text and "</dd><b>" not in text


def test_data_blocks_are_json(results: dict[str, Any], context: Context) -> None:
    text = render(results, context)
    blocks = re.findall(r'<script type="application/(?:ld\+)?json"[^>]*>(.*?)</script>', text, re.DOTALL)

    article, data, verdict = (json.loads(block) for block in blocks)
    assert (article["@type"], data["@type"]) == ("TechArticle", "Dataset")
    assert verdict["candidates"][1] == {"id": "parallel", "name": "Alder 42-8, parallel"}


def test_terms_used_are_explained_and_only_those(results: dict[str, Any], context: Context) -> None:
    text = render(results, context)
    asked = set(re.findall(r'popovertarget="([\w-]+)"', text))

    assert asked == set(re.findall(r'<div class="explanation" id="([\w-]+)" popover>', text))
    assert "term-static-limit" in asked


def test_faults_of_prose_stop_the_page(results: dict[str, Any], context: Context) -> None:
    with pytest.raises(FileProblems) as caught:
        render_comparison(results, (), {}, {"write-up.md": "{figure: corridor}"}, context)

    assert caught.value.problems[0].code == "figure-unknown"


def test_the_same_input_gives_the_same_text(results: dict[str, Any], context: Context) -> None:
    assert render(results, context, full=True) == render(results, context, full=True)


def test_downloads_are_those_of_this_version(results: dict[str, Any], context: Context) -> None:
    files: dict[str, bytes] = {}
    download = make_media(files).downloads[0]
    text = render(results, context, full=True)

    assert f'href="{ROOT}{download.address}" download="measurements.csv"' in text
