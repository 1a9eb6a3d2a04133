"""The author's Markdown: references, cleaning, headings, and every fault with its place."""

from __future__ import annotations

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from generator.errors import FileProblems, Problem
from generator.pages.prose import Part, Writer
from generator.records.presentation import ROOT

VALUES = {"parallel diagonal-500 measured": "67.0 ± 1.2 m/s²", "answer": "Yes <b>."}
FIGURES = ("corridor", "torque")
SECTIONS = {"trials": "trials", "why": "why"}


def draw(identifier: str) -> Markup:
    """A stand-in for a chart."""
    return Markup(f'<figure id="{identifier}"></figure>')


def parts_of(text: str) -> list[Part]:
    """Parts of one write-up."""
    return Writer(VALUES, FIGURES, draw, SECTIONS).parts({"write-up.md": text})


def problems_of(text: str) -> tuple[Problem, ...]:
    """Faults of one write-up."""
    with pytest.raises(FileProblems) as caught:
        parts_of(text)
    return caught.value.problems


def test_a_value_is_printed_with_its_current_text() -> None:
    (part,) = parts_of("It held {value: parallel   diagonal-500 measured}, see?")

    assert part.text == '<p>It held <span class="value">67.0\u00a0±\u00a01.2\u00a0m/s²</span>, see?</p>'


def test_a_values_text_is_escaped() -> None:
    (part,) = parts_of("{value: answer}")

    assert part.text == '<p><span class="value">Yes &lt;b&gt;.</span></p>'


def test_a_figure_stands_where_it_was_put() -> None:
    (part,) = parts_of("Before.\n{figure: torque}\nAfter.")

    assert part.text == '<p>Before.</p>\n<figure id="torque"></figure>\n<p>After.</p>'
    assert part.figures == ("torque",)


def test_an_escaped_bracket_and_code_stay_as_written() -> None:
    (part,) = parts_of("\\{value: x} and `{figure: y}`\n\n```\n{value: z}\n```")

    assert "<p>{value: x} and <code>{figure: y}</code></p>" in part.text
    assert "{value: z}" in part.text


@pytest.mark.parametrize(
    ("text", "code", "line", "column", "hint"),
    [
        ("a\n\n{value: parallel diagonal-50 measured}", "value-unknown", 3, 1, "parallel diagonal-500 measured"),
        ("see {figure: torqe}", "figure-unknown", 1, 5, "torque"),
        ("see {figure: torque}", "figure-not-alone", 1, 5, "line of its own"),
        ("- {figure: torque}", "figure-not-alone", 1, 3, "line of its own"),
        ("x\n<script>alert(1)</script>", "prose-unsafe", 2, 1, "remove it"),
        ("<p onclick='x()'>", "prose-unsafe", 1, 1, "remove it"),
        ("[x](javascript:alert(1))", "prose-unsafe", 1, 3, "remove it"),
        ('<a href="JaVaScRiPt:x">', "prose-unsafe", 1, 4, "remove it"),
        ("<iframe src=x>", "prose-unsafe", 1, 1, "remove it"),
        ("![x](x.png)", "prose-picture", 1, 1, "{figure:"),
        ("[x](../other/)", "prose-link", 1, 1, "start it with /"),
        ("[x]: other.html", "prose-link", 1, 1, "start it with /"),
    ],
)
def test_each_fault_names_its_place_and_its_fix(text: str, code: str, line: int, column: int, hint: str) -> None:
    (problem,) = problems_of(text)

    assert (problem.file, problem.code, problem.line, problem.column) == ("write-up.md", code, line, column)
    assert hint in problem.fix


def test_all_faults_of_all_files_are_told_at_once() -> None:
    writer = Writer(VALUES, FIGURES, draw, SECTIONS)

    with pytest.raises(FileProblems) as caught:
        writer.parts({"b.md": "{figure: a}\n\n<script>", "a.md": "{value: b}"})

    assert [problem.file for problem in caught.value.problems] == ["a.md", "b.md", "b.md"]


def test_harmless_html_is_cleaned_and_kept() -> None:
    (part,) = parts_of('H<sub>2</sub>O <span style="color:red">red</span> <u>u</u>')

    assert part.text == "<p>H<sub>2</sub>O red u</p>"


def test_links_from_the_root_go_through_the_mark() -> None:
    (part,) = parts_of("[m](/methods/motor/#sources) [e](https://example.org/a?b=1&c=2) [s](#trials)")

    assert f'href="{ROOT}methods/motor/index.html#sources"' in part.text
    assert 'href="https://example.org/a?b=1&amp;c=2"' in part.text
    assert 'href="#trials"' in part.text


def test_headings_start_sections_or_make_their_own() -> None:
    opening, trials, own, why = parts_of("Lead.\n# Trials\nT.\n## My *bench*\nB.\n\n##### deep\n# WHY\nW.")

    assert (opening.key, opening.text) == ("", "<p>Lead.</p>")
    assert (trials.key, trials.own) == ("trials", False)
    assert (own.key, own.heading, own.own, own.after) == ("text-my-bench", "My bench", True, "trials")
    assert "<h3>deep</h3>" in own.text
    assert why.key == "why"


def test_a_character_reference_in_a_heading_is_the_character() -> None:
    parts = parts_of("# Belts &amp; pulleys \\{x} &#xF0000;&#x202e;<b>\n\nText.\n")
    assert [part.heading for part in parts] == ["Belts & pulleys {x} <b>"]


def test_headings_never_skip_a_level_on_the_way_down() -> None:
    (part,) = parts_of("### a\n\n###### b\n\n#### c\n\n##### d")

    assert [tag for tag in ("h3", "h4", "h5", "h6") if f"<{tag}>" in part.text] == ["h3", "h4", "h5"]


def test_a_heading_in_a_code_block_starts_nothing() -> None:
    (part,) = parts_of("```\n# Trials\n```")

    assert part.key == ""
    assert "# Trials" in part.text


def test_the_marks_of_the_archive_cannot_be_written() -> None:
    (part,) = parts_of("a\ue000b\ue001c\U000f0000d")

    assert part.text == "<p>abcd</p>"


def test_tables_scroll_in_a_region_that_can_have_the_focus() -> None:
    (part,) = parts_of("| a | b |\n|---|---|\n| 1 | 2 |")

    assert part.text.startswith('<section class="scroll" aria-label="Table" tabindex="0"><table>')


ALLOWED = {"html", "head", "body", "p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "dl", "dt", "dd", "em", "strong",
           "code", "pre", "blockquote", "hr", "br", "sup", "sub", "abbr", "a", "table", "thead", "tbody", "tr", "th",
           "td", "kbd", "del", "ins", "cite", "q", "section", "span", "figure"}  # fmt: skip


@given(st.text(st.sampled_from("<>/\"'=&;:#*_`[]() \nabonscriptjavheflmgu{}|-\\!"), max_size=80))
def test_whatever_is_written_only_harmless_elements_come_out(text: str) -> None:
    try:
        parts = parts_of(text)
    except FileProblems as caught:
        assert all(problem.line > 0 for problem in caught.problems)
        return
    for part in parts:
        tree = html5lib.parse(str(part.text), namespaceHTMLElements=False)
        for node in tree.iter():
            assert node.tag in ALLOWED
            assert not any(name.startswith("on") or name == "style" for name in node.attrib)
            assert not node.get("href", "").lower().strip().startswith(("javascript:", "data:"))
