"""A figure and its unit stay on one line: which spaces are bound and which are left."""

from __future__ import annotations

import pytest
from markupsafe import Markup

from generator.pages.binding import bind_markup, bind_printed, bind_units, keep_whole


# SI Brochure, 9th edition, 5.4.3 (from memory): a space between number and unit; that it holds the line together is
# common practice, no source
@pytest.mark.parametrize(
    ("text", "bound"),
    [
        ("by 7.88 ± 0.73 m/s².", "by 7.88~±~0.73~m/s²."),
        ("24 V supply, 0.08 Ω source, 4700 µF", "24~V supply, 0.08~Ω source, 4700~µF"),
        ("± 30 %, assumed", "±~30~%, assumed"),
        ("0.025 N·m and 260 g·cm²", "0.025~N·m and 260~g·cm²"),
        ("41.6 dB(A) at 417 Hz", "41.6~dB(A) at 417~Hz"),
        ("21 °C for 15 min", "21~°C for 15~min"),
        ("0.02 (m/s²)²/Hz", "0.02 (m/s²)²/Hz"),
    ],
)
def test_spaces_before_units_and_about_plus_minus_are_bound(text: str, bound: str) -> None:
    assert bind_units(text).replace("\u00a0", "~") == bound


@pytest.mark.parametrize("text", ["3 of 5 items", "5 runs each", "2 Alder motors", "4 mixed pairs", "6 October 2026"])
def test_words_are_no_units(text: str) -> None:
    assert bind_units(text) == text


def test_tags_and_code_are_left_alone() -> None:
    made = bind_markup('<p title="3 mm">At 48 V <code>3 mm</code><pre class="x">a <b>5 V</b></pre> and 5 V</p>')

    assert made.replace("\u00a0", "~") == (
        '<p title="3 mm">At 48~V <code>3 mm</code><pre class="x">a <b>5 V</b></pre> and 5~V</p>'
    )


def test_only_plain_text_is_bound_where_templates_print() -> None:
    assert bind_printed("5 V") == "5\u00a0V"
    assert bind_printed(Markup("5 V")) == "5 V"
    assert bind_printed(5) == 5 and bind_printed(None) is None


def test_short_hyphened_words_stay_whole_and_long_ones_may_break() -> None:
    assert keep_whole("Alder 42-8, <b> 5 V") == 'Alder <span class="nowrap">42-8,</span> &lt;b&gt; 5\u00a0V'
    assert keep_whole("a-very-long-hyphened-name") == "a-very-long-hyphened-name"
    assert keep_whole("5 - 3") == "5 - 3"
    assert keep_whole(Markup("<b>42-8</b>")) == "<b>42-8</b>"
    assert keep_whole(5) == 5
