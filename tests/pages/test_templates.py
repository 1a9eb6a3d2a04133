"""Where templates come from, what a link is, and what a fault in an owner's template says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from generator.errors import FileProblems
from generator.pages.context import Context, Head, render_page
from generator.pages.templates import environment, json_island, link, render_template, template_dirs
from generator.records.comparison import Site
from generator.records.presentation import ROOT


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("", "index.html"),
        ("parts", "parts/index.html"),
        ("comparisons/x/", "comparisons/x/index.html"),
        ("comparisons/x/index.html#trials", "comparisons/x/index.html#trials"),
        ("methods/motor#sources", "methods/motor/index.html#sources"),
        ("feed.xml", "feed.xml"),
        ("archive/assets/0123456789abcdef.css", "archive/assets/0123456789abcdef.css"),
    ],
)
def test_a_link_names_a_file_from_the_root(path: str, expected: str) -> None:
    assert link(path) == ROOT + expected


def test_a_data_block_cannot_be_ended_from_inside() -> None:
    data = {"text": '</script><!-- & \u2028 "'}

    island = str(json_island(data))

    assert not set("<>&") & set(island)
    assert json.loads(island) == data


def test_single_templates_are_overridden_and_the_rest_falls_back(tmp_path: Path) -> None:
    (tmp_path / "cautions.html").write_text('{% extends "base.html" %}{% block main %}<h1>Our own</h1>{% endblock %}')
    made = environment(template_dirs(tmp_path))
    assets = {"style": "s.css", "icon": "i.svg"}
    context = Context(Site("Bench"), made, assets)

    page = render_page(context, "cautions.html", "cautions", Head("Cautions", "Ours."))

    assert "<h1>Our own</h1>" in page.text
    assert 'class="site-header"' in page.text


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("<p>\n{% if %}\n</p>", "template-syntax", 2),
        ("<p>\n\n{{ nobody.name }}</p>", "template-undefined", 3),
        ("<p>{{ math('frac{1}') }}</p>", "template-equation", 1),
        ('{% include "gone.html" %}', "template-missing", 0),
    ],
)
def test_a_fault_in_a_template_names_file_and_line(tmp_path: Path, text: str, code: str, line: int) -> None:
    (tmp_path / "page.html").write_text(text)
    made = environment([tmp_path])

    with pytest.raises(FileProblems) as caught:
        render_template(made, "page.html", {})

    (problem,) = caught.value.problems
    assert (problem.code, problem.line) == (code, line)
    assert problem.file.endswith("page.html")
    assert problem.fix


def test_what_is_printed_is_escaped(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("<p>{{ text }}</p>")

    assert render_template(environment([tmp_path]), "page.html", {"text": "<b>&"}) == "<p>&lt;b&gt;&amp;</p>"
