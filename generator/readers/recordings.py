"""Sound, vibration, surfaces and panel as records, with the files they name; what is in the files others read."""

from __future__ import annotations

from typing import Any

from generator.readers.context import Context
from generator.readers.shapes import Entry
from generator.records.recordings import (
    Bands,
    Calibration,
    Microphone,
    Photo,
    Scale,
    Sound,
    SoundRecording,
    Surface,
    Vibration,
)

_BAND_KEYS = ("first_speed", "speed_step", "height", "count")


def read_sound_item(entry: Entry, context: Context) -> Sound:
    """One entry of ``sound``."""
    direction = context.direction(entry.get("direction"))
    background = entry.get("background")
    levels, weighted = _levels(entry, context)
    recordings = {name: _recordings(found, context) for name, found in context.per_candidate(entry.get("recordings"))}
    spectra = {name: context.files(found) for name, found in context.per_candidate(entry.get("spectra"))}
    if not recordings and not levels and not spectra and entry.node.get("recordings") is None:
        _note_empty(entry, "recordings, levels or spectra", context)
    background_level = entry.plain("background_level")
    return Sound(
        id=str(entry.plain("id", "?")),
        direction=None if direction is None else direction[0],
        speed=entry.plain("speed"),
        microphone=_microphone(entry.get("microphone"), context),
        background=None if background is None else _recording(background, context),
        recordings=recordings,
        levels=levels,
        levels_weighted=weighted,
        background_level=None if background_level is None else background_level[0],
        spectra=spectra,
    )


def _note_empty(entry: Entry, wanted: str, context: Context) -> None:
    message = f"nothing is recorded here: no {wanted}"
    context.report.warn("item-empty", entry.node, entry.path, message, "add them when they are measured")


def _levels(entry: Entry, context: Context) -> tuple[dict[str, tuple[float, ...]], bool]:
    """Levels by candidate [dB], and whether they are A-weighted; all of one item must agree in that."""
    placed = [(name, level) for name, found in context.per_candidate(entry.get("levels")) for level in found.value]
    background = entry.get("background_level")
    first = placed[0][1].value[1] if placed else True
    for level in [level for _, level in placed] + ([background] if background and placed else []):
        if level.value[1] != first:
            message = "dB and dB(A) stand side by side"
            context.report.add(
                "levels-mixed", level.node, level.path, message, "give all levels of one item the same way"
            )
            break
    levels: dict[str, tuple[float, ...]] = {}
    for name, level in placed:
        levels[name] = (*levels.get(name, ()), level.value[0])
    return levels, first


def _microphone(entry: Entry | None, context: Context) -> Microphone:
    if entry is None:
        return Microphone()
    found = entry.get("calibration")
    return Microphone(
        distance=entry.plain("distance"),
        instrument=entry.plain("instrument"),
        calibration=None if found is None else _calibration(found, context),
        placed_anew=entry.plain("placed_anew"),
    )


def _calibration(entry: Entry, context: Context) -> Calibration:
    file, level, full_scale = (entry.get(key) for key in ("file", "level", "full_scale"))
    written = {key for key in ("file", "level", "full_scale") if entry.node.get(key) is not None}
    if written not in ({"file", "level"}, {"full_scale"}):
        message = "a calibration is a recording with its level, or the level of digital full scale"
        fix = "write {file: cal.wav, level: 94 dB} or {full_scale: 118 dB}"
        context.report.add("calibration-form", entry.node, entry.path, message, fix)
    return Calibration(
        file=None if file is None else context.file(file),
        level=None if level is None else level.value[0],
        full_scale=None if full_scale is None else full_scale.value[0],
    )


def _recordings(entry: Entry, context: Context) -> tuple[SoundRecording, ...]:
    entries = entry.value if isinstance(entry.value, list) else [entry]
    return tuple(_recording(found, context) for found in entries)


def _recording(entry: Entry, context: Context) -> SoundRecording:
    if isinstance(entry.value, str):
        return SoundRecording(context.file(entry), line=entry.node.line)
    file = entry.get("file")
    start, stop, segment = entry.plain("from"), entry.plain("to"), entry.get("segment")
    if segment is not None:
        if start is not None or stop is not None:
            message = "segment says which part to use, so from and to say nothing more"
            context.report.add("group-doubled", segment.node, segment.path, message, "remove from and to, or segment")
        start, stop = (segment.value[k].value if k < len(segment.value) else None for k in (0, 1))
    if start is not None and stop is not None and start >= stop:
        context.report.add("part-order", entry.node, entry.path, "the part ends before it begins", "give from below to")
    return SoundRecording(
        file="" if file is None else context.file(file),
        start=start,
        stop=stop,
        channel=entry.plain("channel"),
        speed=entry.plain("speed"),
        constant_speed=segment is not None,
        line=entry.node.line,
    )


def read_vibration(entry: Entry, context: Context) -> Vibration:
    """One entry of ``vibration``."""
    axis = entry.get("axis")
    if axis is not None and context.axes is not None and axis.value not in context.axes:
        context.report.add_unknown("unknown-axis", axis.node, axis.path, "axis", axis.value, context.axes)
    columns = entry.get("columns")
    traces = {name: context.files(found) for name, found in context.per_candidate(entry.get("traces"))}
    spectra = {name: context.files(found) for name, found in context.per_candidate(entry.get("spectra"))}
    names = {} if columns is None else {key: str(found.value) for key, found in columns.items() if found.value}
    wanted = [("time", "acceleration")] * bool(traces) + [("frequency", "density")] * bool(spectra)
    for pair in wanted:
        if any(name not in names for name in pair) and (
            columns is None or all(columns.node.get(n) is None for n in pair)
        ):
            message = f"columns does not say which columns hold {pair[0]} and {pair[1]}"
            fix = 'write columns: {time: "t [s]", acceleration: "a [m/s²]"} with the names in the files\' headers'
            context.report.add("columns-missing", entry.node, entry.path, message, fix)
    if not wanted and entry.node.get("traces") is None and entry.node.get("spectra") is None:
        _note_empty(entry, "traces or spectra", context)
    return Vibration(
        id=str(entry.plain("id", "?")),
        axis=str(entry.plain("axis", "?")),
        excitation=str(entry.plain("excitation", "?")),
        current=entry.plain("current"),
        speed=entry.plain("speed"),
        columns=names,
        traces=traces,
        spectra=spectra,
    )


def read_surface(entry: Entry, context: Context) -> Surface | None:
    """One entry of ``surfaces``; None where its bands cannot be understood."""
    direction = context.direction(entry.get("direction"))
    scale = _scale(entry.get("scale"))
    photos = {name: _photo(found, context) for name, found in context.per_candidate(entry.get("photos"))}
    unscaled = [name for name, photo in photos.items() if photo.scale is None]
    if unscaled and entry.node.get("scale") is None:
        message = f"no scale for the photo of {', '.join(unscaled)}"
        context.report.add("scale-missing", entry.node, entry.path, message, "add scale: {pixels: 930, length: 20 mm}")
    alt = {name: str(found.value) for name, found in context.per_candidate(entry.get("alt")) if found.value}
    bands = _bands(entry, context)
    if bands is None:
        return None
    along = str(entry.plain("along", "horizontal"))
    return Surface(str(entry.plain("id", "?")), direction[0] if direction else None, scale, bands, along, photos, alt)


def _scale(entry: Entry | None) -> Scale | None:
    if entry is None or entry.get("pixels") is None or entry.get("length") is None:
        return None
    return Scale(entry.plain("pixels"), entry.plain("length"))


def _photo(entry: Entry, context: Context) -> Photo:
    if isinstance(entry.value, str):
        return Photo(context.file(entry))
    file, origin = entry.get("file"), entry.get("origin")
    corner: Any = None if origin is None else tuple(origin.plain(key, 0.0) for key in ("x", "y"))
    return Photo("" if file is None else context.file(file), corner, _scale(entry.get("scale")))


def _bands(entry: Entry, context: Context) -> Bands | None:
    found = entry.get("bands")
    if found is None or any(found.get(key) is None for key in _BAND_KEYS):
        return None
    sides = ("left", "right") if entry.plain("along") == "vertical" else ("bottom", "top")
    first = found.plain("first", sides[0])
    if first not in sides:
        place = found.get("first") or found
        message = f"bands along the {entry.plain('along')} are counted from {sides[0]} or {sides[1]}, not {first}"
        context.report.add("bands-form", place.node, place.path, message, f"write first: {sides[0]}")
    first_speed, speed_step, height, count = (found.plain(key) for key in _BAND_KEYS)
    bands = Bands(first_speed, speed_step, height, count, first)
    if bands.count > 1 and (bands.speed_step == 0 or min(bands.speeds()) <= 0):
        message = "the speeds of the bands must differ and stay above zero"
        context.report.add("bands-form", found.node, found.path, message, "check first_speed, speed_step and count")
    return bands
