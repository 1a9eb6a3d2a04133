"""Sound, vibration, surfaces and panel as the page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Excerpt, Media
from generator.pages.figures import NOTHING, format_quantity, format_share, format_span, format_with_interval, number
from generator.pages.labels import candidate_names, item_titles, listed
from generator.pages.measured import basis_text, measured_text
from generator.pages.trials import view_call

Row = Mapping[str, Any]
View = list[dict[str, Any]]


def view_sound(results: Row, media: Media) -> View | None:
    """The sound items: levels, calls, tones, excerpts."""
    return [_item(results, item) | _sound(results, item, media) for item in results.get("sound") or ()] or None


def view_vibration(results: Row, media: Media) -> View | None:
    """The vibration items: figures, calls, fitted peaks."""
    return [_item(results, item) | _vibration(results, item) for item in results.get("vibration") or ()] or None


def view_surfaces(results: Row, media: Media) -> View | None:
    """The surface items: calls, photos, ripples."""
    return [_item(results, item) | _surface(results, item, media) for item in results.get("surfaces") or ()] or None


def view_panel(results: Row, media: Media) -> View | None:
    """The panels: pairs with their counts."""
    return [_item(results, item) | _panel(results, item) for item in results.get("panel") or ()] or None


def _item(results: Row, item: Row) -> dict[str, Any]:
    """What all items have: title, rows of measured figures, calls, notes."""
    name, names = item["id"], candidate_names(results)
    measured = {row["candidate"]: row for row in results.get("measurements") or () if row["item"] == name}
    return {
        "id": name,
        "title": item_titles(results).get(name, name),
        "rows": [_row(index, names[c], measured[c]) for index, c in enumerate(names) if c in measured],
        "calls": [view_call(row, names) for row in results.get("contrasts") or () if row["item"] == name],
        "notes": [str(note) for key in ("notes", "warnings") for note in item.get(key) or ()],
    }


def _row(index: int, name: str, row: Row) -> dict[str, Any]:
    return {
        "index": index,
        "name": name,
        "quantity": _QUANTITIES.get(str(row.get("quantity")), str(row.get("quantity") or "").replace("_", " ")),
        "measured": measured_text(row),
        "basis": basis_text(row),
    }


_QUANTITIES = {
    "level": "sound pressure level",
    "rms": "RMS acceleration",
    "peak_frequency": "frequency of the peak",
    "damping": "damping ratio",
    "fastest_clean_band": "fastest band without ripple",
}


# --- sound ----------------------------------------------------------------------------------------------------------


def _sound(results: Row, item: Row, media: Media) -> dict[str, Any]:
    names = candidate_names(results)
    unit = item.get("unit") or "dB"
    rows = [
        (
            names.get(tone["candidate"], tone["candidate"]),
            format_quantity(tone["frequency"], "Hz"),
            format_quantity(tone.get("level"), unit),
            str(tone.get("cause") or "no predicted tone fits"),
        )
        for tone in item.get("tones") or ()
    ]
    return {"tones": rows, "samples": _excerpts(item["id"], names, media)}


def _excerpts(item: str, names: Row, media: Media) -> View:
    """Excerpts to listen to, with what was done to their loudness."""
    found = []
    for index, candidate in enumerate(names):
        for excerpt in media.excerpts.get((item, candidate), ()):
            found.append(_excerpt(index, candidate, names[candidate], excerpt))
    return found


def _excerpt(index: int, candidate: str, name: str, excerpt: Excerpt) -> dict[str, Any]:
    return {"index": index, "candidate": candidate, "name": name, "excerpt": excerpt}


# --- vibration ------------------------------------------------------------------------------------------------------


def _vibration(results: Row, item: Row) -> dict[str, Any]:
    names = candidate_names(results)
    predicted: dict[str, list[str]] = {}
    for entry in item.get("predicted") or ():
        predicted.setdefault(entry["candidate"], []).append(format_quantity(entry["frequency"], "Hz"))
    rows = [
        (
            names.get(fit["candidate"], fit["candidate"]),
            format_with_interval(fit.get("peak_frequency"), fit.get("peak_low"), fit.get("peak_high"), "Hz"),
            NOTHING if fit.get("damping_ratio") is None else number(fit["damping_ratio"], 2),
            listed(predicted.get(fit["candidate"], [])) or NOTHING,
        )
        for fit in item.get("fits") or ()
    ]
    return {"fits": rows}


# --- surfaces -------------------------------------------------------------------------------------------------------


def _surface(results: Row, item: Row, media: Media) -> dict[str, Any]:
    names = candidate_names(results)
    order = list(names)
    ripples = sorted(item.get("ripples") or (), key=lambda row: (row["speed"], order.index(row["candidate"])))
    rows = [
        (
            format_quantity(row["speed"], "m/s"),
            names.get(row["candidate"], row["candidate"]),
            format_quantity(row.get("wavelength"), "m"),
            NOTHING if row.get("contrast") is None else f"{number(100 * row['contrast'], 2)} %",
            NOTHING if row.get("ratio") is None else number(row["ratio"], 2),
            listed([str(cause) for cause in row.get("causes") or ()]) or "no predicted cause fits",
        )
        for row in ripples
    ]
    return {"ripples": rows, "photos": _photos(item, names, media)}


def _photos(item: Row, names: Row, media: Media) -> View:
    alt = item.get("alt") or {}
    found = []
    for index, candidate in enumerate(names):
        picture = media.pictures.get((item["id"], candidate))
        if picture is not None:
            words = (
                alt.get(candidate) or f"Photo of the sample made with {names[candidate]}, in bands of one speed each."
            )
            found.append(
                {"index": index, "candidate": candidate, "name": names[candidate], "picture": picture, "alt": words}
            )
    return found


# --- panel ----------------------------------------------------------------------------------------------------------


def _panel(results: Row, item: Row) -> dict[str, Any]:
    names = candidate_names(results)
    return {
        "surface": item.get("surface"),
        "pairs": [_pair(pair, names) for pair in item.get("pairs") or ()],
        "strengths": _strengths(item.get("strengths"), names),
    }


def _pair(pair: Row, names: Row) -> tuple[str, ...]:
    first, second = (names.get(candidate, candidate) for candidate in pair["between"])
    votes: Sequence[int] = pair["votes"]
    low, high = pair.get("low"), pair.get("high")
    interval = NOTHING if low is None or high is None else f"{format_share(low)} to {format_share(high)}"
    chance = pair.get("probability", pair.get("chance"))
    return (
        f"{first} against {second}",
        f"{votes[0]} to {votes[1]}",
        str(pair.get("no_preference") or 0),
        format_share(pair.get("share")),
        interval,
        NOTHING if chance is None else number(chance, 2),
        "" if pair.get("needed") is None else str(pair["needed"]),
    )


def _strengths(found: Any, names: Row) -> list[tuple[str, str]]:
    """Bradley–Terry strengths where there are more than two candidates."""
    if not isinstance(found, Mapping) or not found.get("candidates"):
        return []
    logs, doubts = found.get("logs") or (), found.get("uncertainties") or ()
    rows = []
    for candidate, log, doubt in zip(found["candidates"], logs, doubts, strict=False):
        text = "never lost, so without an upper end" if log is None else _log(log, doubt)
        rows.append((names.get(candidate, candidate), text))
    return rows


def _log(log: float, doubt: float | None) -> str:
    return number(log, 3) if doubt is None else format_span(log - 1.96 * doubt, log + 1.96 * doubt, "1")
