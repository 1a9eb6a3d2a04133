"""Where templates come from, what a link is, and what a fault in an owner's template says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from generator.errors import FileProblems
from generator.pages.context import Context, Head, render_page
from generator.pages.templates import environment, json_island, link, read_template, render_template, template_dirs
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
        ("<p>\n{{ title + 1 }}</p>", "template-failed", 2),
        ("<p>\n\n{{ 1 / 0 }}</p>", "template-failed", 3),
        ("{% for k in number %}{% endfor %}", "template-failed", 1),
        ("\n{{ title|round }}", "template-failed", 2),
        ("\n{{ number.__class__|tojson }}", "template-failed", 2),
        ("{{ [1]|map|list }}", "template-failed", 1),
        ("<p>\nfür Übung</p>".encode("latin-1"), "template-syntax", 2),
    ],
)
def test_a_fault_in_a_template_names_file_and_line(tmp_path: Path, text: str | bytes, code: str, line: int) -> None:
    (tmp_path / "page.html").write_bytes(text if isinstance(text, bytes) else text.encode())
    made = environment([tmp_path])

    with pytest.raises(FileProblems) as caught:
        render_template(made, "page.html", {"title": "Bench", "number": 3})

    (problem,) = caught.value.problems
    assert (problem.code, problem.line) == (code, line)
    assert problem.file.endswith("page.html")
    assert problem.message
    assert problem.fix


def test_the_message_is_pythons_own(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("{{ title + 1 }}")

    with pytest.raises(FileProblems, match=r'page\.html:1:1: TypeError: can only concatenate str \(not "int"\) to str'):
        render_template(environment([tmp_path]), "page.html", {"title": "Bench"})


def test_a_file_that_is_no_text_is_named_where_it_stands(tmp_path: Path) -> None:
    (tmp_path / "styles").mkdir()
    (tmp_path / "styles/base.css").write_bytes(b"p {}\n\n/* \xfc */")
    (tmp_path / "page.html").write_text("{% include 'styles/base.css' %}")
    made = environment(template_dirs(tmp_path))
    for read in (lambda: read_template(made, "styles/base.css"), lambda: render_template(made, "page.html", {})):
        with pytest.raises(FileProblems) as caught:
            read()

        (problem,) = caught.value.problems
        assert (problem.file, problem.line) == (str(tmp_path / "styles/base.css"), 3)
        assert problem.message == "it is no UTF-8 text"


def test_a_fault_of_ours_keeps_its_traceback(tmp_path: Path) -> None:
    """In code that a template calls, and in a template of the project with no owner's around it."""
    (tmp_path / "page.html").write_text("{{ link(3) }}")
    (tmp_path / "around.html").write_text("<p>\n{% include 'feed.xml' %}")
    made = environment(template_dirs(tmp_path))
    view = {"site": Site("Bench"), "id": "i", "updated": "u", "own": "o", "home": "h", "author": "a", "entries": 3}

    with pytest.raises(AttributeError, match="partition"):
        render_template(made, "page.html", {})
    with pytest.raises(TypeError, match="not iterable"):
        render_template(made, "feed.xml", view)
    with pytest.raises(FileProblems, match=r"around\.html:2:1: TypeError: 'int' object is not iterable"):
        render_template(made, "around.html", view)


def test_what_is_printed_is_escaped(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("<p>{{ text }}</p>")

    assert render_template(environment([tmp_path]), "page.html", {"text": "<b>&"}) == "<p>&lt;b&gt;&amp;</p>"
