"""Panel: the share of persons who preferred a candidate, with its exact interval, one row a pair.

Reads results ``panel``, entries {id, pairs [{between [first, second], votes [a, b], no_preference, share, low, high,
probability}]}; share, low and high [1] are the first candidate's, of those with a preference.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from generator.charts.cast import Cast, cast_of
from generator.charts.labels import SMALLEST, shorten
from generator.charts.layout import Layout, make_chart
from generator.charts.palette import MUTED, NEUTRAL
from generator.charts.scale import linear_scale
from generator.charts.sheet import Frame, Sheet
from generator.phrases import listed
from generator.records.presentation import Chart, Table
from generator.units import NOTHING, format_number, format_share

CAPTION = (
    "Share of those with a preference who chose the candidate at the right, with its 95 % Clopper–Pearson interval. "
    "An interval that holds 50 % shows no common preference; it does not show that nobody sees a difference."
)
Entry = Mapping[str, Any]


def draw_panels(results: Mapping[str, Any]) -> tuple[Chart, ...]:
    """One chart per panel with a pair: ``panel-<id>``."""
    cast = cast_of(results)
    return tuple(_chart(item, cast) for item in results.get("panel") or () if item.get("pairs"))


def _chart(item: Entry, cast: Cast) -> Chart:
    pairs = item["pairs"]
    verdicts = [_verdict(pair, cast) for pair in pairs]
    title = f"{listed(verdicts[:3])}{' and others' if len(verdicts) > 3 else ''}: {cast.item(item['id'])}"
    alt = f"{title}. {'; '.join(_words(pair, cast) for pair in pairs)}."
    columns = (
        "first",
        "second",
        "for the first",
        "for the second",
        "no preference",
        "share of the first [%]",
        "95 % interval [%]",
        "p",
    )
    rows = tuple(
        (
            *map(cast.name, pair["between"]),
            *(str(count) for count in pair["votes"]),
            str(pair.get("no_preference") or 0),
            format_share(pair.get("share"), bare=True),
            _interval(pair, bare=True),
            format_number(pair.get("probability"), 2),
        )
        for pair in pairs
    )
    return make_chart(
        f"panel-{item['id']}",
        title,
        CAPTION,
        alt,
        Table(f"Panel, {cast.item(item['id'])}", columns, rows),
        lambda layout: _draw(pairs, cast, layout),
    )


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def _verdict(pair: Entry, cast: Cast) -> str:
    first, second = map(cast.name, pair["between"])
    low, high = pair.get("low"), pair.get("high")
    if low is None or high is None:
        return f"nobody preferred {first} or {second}"
    if low > 0.5:
        return f"The panel preferred {first} to {second}"
    if high < 0.5:
        return f"The panel preferred {second} to {first}"
    return f"The panel shows no common preference between {first} and {second}"


def _words(pair: Entry, cast: Cast) -> str:
    first, second = map(cast.name, pair["between"])
    votes = pair["votes"]
    interval = _interval(pair)
    doubt = "" if interval == NOTHING else f", share of the first {format_share(pair.get('share'))} ({interval})"
    return f"{votes[0]} chose {first}, {votes[1]} {second}, {pair.get('no_preference') or 0} neither{doubt}"


def _interval(pair: Entry, *, bare: bool = False) -> str:
    low, high = (pair.get(end) for end in ("low", "high"))
    return NOTHING if low is None or high is None else " to ".join(format_share(end, bare=bare) for end in (low, high))


def _draw(pairs: Sequence[Entry], cast: Cast, layout: Layout) -> Sheet:
    height = 46.0
    sheet = Sheet(layout.width, round(height * len(pairs) + 46))
    frame = Frame(sheet, (18, 42, layout.width - 18, sheet.height - 4), linear_scale(0, 100, 5), linear_scale(0, 1, 1))
    frame.draw_x_axis("share of those with a preference [%]", grid=True)
    for index, pair in enumerate(pairs):
        _draw_pair(frame, pair, cast, sheet.height - 4 - index * height)
    return sheet


def _draw_pair(frame: Frame, pair: Entry, cast: Cast, top: float) -> None:
    sheet, (left, _, right, _) = frame.sheet, frame.box
    first, second = pair["between"]
    room = (right - left) / 2 - 60
    for candidate, votes, x, anchor in (
        (second, pair["votes"][1], left, "start"),
        (first, pair["votes"][0], right, "end"),
    ):
        text = shorten(f"{cast.short(candidate)}: {votes}", room)
        sheet.text(x, top - 14, text, anchor=anchor, color=cast.style(candidate).color, halo=True)
    neither = pair.get("no_preference") or 0
    if neither:
        sheet.text(
            (left + right) / 2,
            top - 14,
            f"no preference: {neither}",
            SMALLEST,
            anchor="middle",
            color=MUTED.light,
            halo=True,
        )
    low, high, share = (_percent(pair.get(key)) for key in ("low", "high", "share"))
    level, middle = top - 29, frame.point(50, 0)[0]
    sheet.stroke([np.array([[middle, level - 15], [middle, level + 9]])], NEUTRAL.light, 1.2, (4, 3))
    style = cast.style(first if (low or 0) > 50 else second if (high if high is not None else 100) < 50 else "")
    if low is not None and high is not None:
        ends = frame.points([low, high], [0.0, 0.0])[:, 0]
        sheet.stroke([np.array([[ends[0], level], [ends[1], level]])], style.color, 3.0)
        sheet.stroke([np.array([[end, level - 5], [end, level + 5]]) for end in ends], style.color, 1.6)
    if share is not None:
        marker = style.marker if style.marker != "bar" else "circle"
        sheet.mark(frame.point(share, 0)[0], level, marker, style.color, 5.0)
