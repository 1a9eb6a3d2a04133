"""Sound, vibration, surfaces and panel as the page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from generator.pages.context import Media
from generator.pages.figures import (
    MINUS,
    NOTHING,
    format_quantity,
    format_share,
    format_span,
    format_stated,
    format_with_interval,
    number,
)
from generator.pages.labels import candidate_names, counted, item_titles, listed
from generator.pages.measured import basis_text
from generator.pages.trials import view_call
from generator.phrases import measured_text, wavelength_text

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
        "facts": "",
        "notes": [str(note) for key in ("notes", "warnings") for note in item.get(key) or ()],
    }


def _row(index: int, name: str, row: Row) -> dict[str, Any]:
    return {
        "index": index,
        "name": name,
        "quantity": _quantity(row),
        "measured": measured_text(row),
        "basis": basis_text(row),
    }


def _quantity(row: Row) -> str:
    """What was measured, in words."""
    if row.get("unit") == "dB(A)":
        return "A-weighted level"
    name = str(row.get("quantity") or "")
    return _QUANTITIES.get(name, name.replace("_", " "))


_QUANTITIES = {
    "level": "sound level",
    "rms": "RMS acceleration",
    "peak_frequency": "frequency of the peak",
    "damping": "damping ratio",
    "fastest_clean_band": "fastest band without ripple",
}


# --- sound ----------------------------------------------------------------------------------------------------------


def _sound(results: Row, item: Row, media: Media) -> dict[str, Any]:
    names = candidate_names(results)
    unit = item.get("unit") or "dB(A)"
    background = item.get("background") or {}
    return {
        "tones": [_tone(tone, names, unit) for tone in item.get("tones") or ()],
        "minor": [_tone(tone, names, unit) for tone in item.get("minor_tones") or ()],
        "facts": _sound_facts(item, background, unit),
        "recordings": [_sound_recording(row, names, unit) for row in item.get("recordings") or ()],
        "samples": [
            {"index": index, "candidate": candidate, "name": names[candidate], "excerpt": excerpt}
            for matched in (False, True)
            for index, candidate in enumerate(names)
            for excerpt in media.excerpts.get((item["id"], candidate), ())
            if excerpt.matched is matched
        ],
    }


def _tone(tone: Row, names: Row, unit: str) -> tuple[str, ...]:
    return (
        names.get(tone["candidate"], tone["candidate"]),
        format_quantity(tone["frequency"], "Hz"),
        format_quantity(tone.get("level"), unit),
        _over(tone, "tone_to_noise"),
        _over(tone, "prominence"),
        str(tone.get("cause") or "no predicted tone fits"),
    )


def _over(tone: Row, measure: str) -> str:
    """A prominence measure beside the limit above which a tone is prominent."""
    value, limit = tone.get(measure), tone.get(f"{measure}_limit")
    return NOTHING if value is None or limit is None else f"{value:.1f} dB (limit {limit:.1f} dB)".replace("-", MINUS)


def _sound_facts(item: Row, background: Row, unit: str) -> str:
    """Distance, calibration and background in one line."""
    calibration = item.get("calibration") or {}
    parts = []
    if item.get("distance") is not None:
        parts.append(f"microphone at {format_stated(item['distance'], 'm')}")
    if calibration.get("how") == "calibrator":
        parts.append(f"calibrated with {format_stated(calibration['level'], 'dB')}")
    elif item.get("calibrated") is False:
        parts.append("not calibrated, so only differences count")
    if background.get("level") is not None:
        parts.append(f"background {format_quantity(background['level'], unit)}")
    return ", ".join(parts)


def _sound_recording(row: Row, names: Row, unit: str) -> tuple[str, ...]:
    return (
        str(row.get("file") or NOTHING).rsplit("/", 1)[-1],
        names.get(row["candidate"], row["candidate"]),
        format_quantity(row.get("measured"), unit),
        format_quantity(row.get("excess"), "dB"),
        format_quantity(row.get("level"), unit),
        str(row.get("grade") or NOTHING),
        format_quantity(row.get("duration"), "s"),
    )


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
            format_with_interval(fit.get("damping_ratio"), fit.get("damping_low"), fit.get("damping_high"), "1"),
            listed(predicted.get(fit["candidate"], [])) or NOTHING,
        )
        for fit in item.get("fits") or ()
    ]
    excitation = str(item.get("excitation") or "")
    return {
        "fits": rows,
        "peak": "Operating peak" if excitation == "run" else "Peak",
        "facts": f"axis {item['axis']}, excited by {_EXCITATIONS.get(excitation, excitation)}"
        if item.get("axis")
        else "",
        "recordings": [_trace(row, names) for row in item.get("recordings") or ()],
    }


_EXCITATIONS = {
    "run": "a move at one speed", "stop": "a stop", "tap": "a tap", "sweep": "a sweep of speeds",
    "broadband": "broadband noise",
}  # fmt: skip


def _trace(row: Row, names: Row) -> tuple[str, ...]:
    half = row.get("half_power") or {}
    width = NOTHING if half.get("damping_ratio") is None else number(half["damping_ratio"], 2)
    other = (row.get("displacement_form") or {}).get("peak_frequency")
    return (
        str(row.get("file") or NOTHING).rsplit("/", 1)[-1],
        names.get(row["candidate"], row["candidate"]),
        format_with_interval(row.get("peak_frequency"), row.get("peak_low"), row.get("peak_high"), "Hz"),
        NOTHING if row.get("damping_ratio") is None else number(row["damping_ratio"], 2),
        f"at most {width}" if half.get("at_most") else width,
        format_quantity(other, "Hz"),
        format_quantity(row.get("rms"), "m/s^2"),
        format_quantity(row.get("resolution"), "Hz"),
        NOTHING if row.get("averages") is None else number(row["averages"], 2),
    )


# --- surfaces -------------------------------------------------------------------------------------------------------


def _surface(results: Row, item: Row, media: Media) -> dict[str, Any]:
    names = candidate_names(results)
    order = list(names)
    ripples = sorted(item.get("ripples") or (), key=lambda row: (row["speed"], order.index(row["candidate"])))
    rows = [
        (
            format_stated(row["speed"], "m/s"),
            names.get(row["candidate"], row["candidate"]),
            wavelength_text(row),
            NOTHING if row.get("contrast") is None else f"{number(100 * row['contrast'], 2)} %",
            NOTHING if row.get("ratio") is None else number(row["ratio"], 2),
            listed([str(cause) for cause in row.get("causes") or ()]) or "no predicted cause fits",
        )
        for row in ripples
    ]
    return {"ripples": rows, "clean": _clean(item, names), "photos": _photos(item, names, media)}


def _clean(item: Row, names: Row) -> list[str]:
    """Which bands of each candidate are clean, in words."""
    return [_clean_words(row, names) for row in item.get("clean") or ()]


def _clean_words(row: Row, names: Row) -> str:
    name = names.get(row["candidate"], row["candidate"])
    if row.get("all_clean"):
        return f"{name}: every band is clean, up to {format_stated(row.get('fastest'), 'm/s')}."
    if row.get("fastest_clean_band") is None:
        return f"{name}: no band is clean."
    clean, rippled = (
        listed([format_stated(speed, "m/s") for speed in row.get(key) or ()]) for key in ("speeds", "rippled_below")
    )
    return f"{name}: clean at {clean}" + (f", though there is a ripple at {rippled}." if rippled else ".")


def _photos(item: Row, names: Row, media: Media) -> View:
    alt, measured = item.get("alt") or {}, {row["candidate"]: row for row in item.get("photos") or ()}
    found = []
    for index, candidate in enumerate(names):
        picture = media.pictures.get((item["id"], candidate))
        if picture is not None:
            words = alt.get(candidate) or _photo_words(item, candidate, names[candidate])
            photo = {"index": index, "candidate": candidate, "name": names[candidate], "picture": picture, "alt": words}
            found.append(photo | {"overlay": _overlay(item, measured.get(candidate), candidate)})
    return found


def _photo_words(item: Row, candidate: str, name: str) -> str:
    """What a photo shows, from its figures."""
    count = sum(row["candidate"] == candidate for row in item.get("ripples") or ())
    return f"Sample made with {name}, in bands of one speed each; {counted(count, 'ripple')} found, listed below."


def _overlay(item: Row, photo: Row | None, candidate: str) -> dict[str, Any] | None:
    """Where each band lies on the photo, with its speed and the wavelengths found in it; None where unknown."""
    if photo is None or not photo.get("bands"):
        return None
    upright = item.get("along") != "vertical"
    size = photo["width"] / 27
    marks = [_mark(item, band, candidate, upright, size) for band in photo["bands"]]
    return {"width": photo["width"], "height": photo["height"], "size": round(size, 1), "marks": marks}


def _mark(item: Row, band: Row, candidate: str, upright: bool, size: float) -> dict[str, Any]:
    near, far = (band["left"], band["top"]), (band["right"], band["bottom"])
    (x, y), (right, bottom) = (near, far) if upright else (near[::-1], far[::-1])
    lengths = [
        row["wavelength"]
        for row in item.get("ripples") or ()
        if row["candidate"] == candidate and abs(row["speed"] - band["speed"]) < 1e-9 and row.get("wavelength")
    ]
    words = ", ".join(f"{1000 * length:.2g}" for length in sorted(lengths))
    text = format_stated(band["speed"], "m/s") + (f": {words} mm" if words else ": clean" if band.get("clean") else "")
    return {
        "x": round(x, 1), "y": round(y, 1), "width": round(right - x, 1), "height": round(bottom - y, 1), "text": text,
        "label_width": round(0.62 * size * len(text) + size, 1),
    }  # fmt: skip


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


STATES = {
    "without upper limit": "never lost, so without an upper limit",
    "without lower limit": "never won, so without a lower limit",
    "not connected": "not compared with the others, directly or by way of a third",
}


def _strengths(found: Any, names: Row) -> list[tuple[str, str]]:
    """Bradley–Terry strengths where there are more than two candidates."""
    if not isinstance(found, Mapping) or not found.get("candidates"):
        return []
    logs, doubts = found.get("logs") or (), found.get("uncertainties") or ()
    rows = []
    for candidate, log, doubt, state in zip(found["candidates"], logs, doubts, found["state"], strict=True):
        text = STATES[state] if log is None else _log(log, doubt)
        rows.append((names.get(candidate, candidate), text))
    return rows


def _log(log: float, doubt: float | None) -> str:
    return number(log, 3) if doubt is None else format_span(log - 1.96 * doubt, log + 1.96 * doubt, "1")
