"""The contract of comparison.yaml and site.yaml as data: every key with its shape; hardware keys stand next door."""

from __future__ import annotations

import dataclasses

from generator.readers.schema_hardware import CANDIDATE, COMMON, SHARE_OF_ONE, not_negative, positive
from generator.readers.shapes import (
    ADDRESS,
    IDENTIFIER_TEXT,
    LANGUAGE,
    Amount,
    Block,
    ByWord,
    Date,
    Each,
    Either,
    File,
    Level,
    Many,
    Quantity,
    Shape,
    Switch,
    Text,
    Whole,
    Word,
)

AXES = ("x", "y", "z")
STOPPED = ("stroke", "supply", "heat", "operator")
SECTIONS = ("trials", "sound", "vibration", "surfaces", "panel")
"""Keys that hold items, which share one set of ids."""
FIGURES = {
    "sound": ("level",),
    "vibration": ("rms", "peak_frequency", "damping"),
    "surfaces": ("fastest_clean_band",),
}
"""Figures of an item that may enter the verdict, by section."""


DIRECTION = Either(
    sequence=Many(Quantity("number"), 1, 3), mapping=Each(Quantity("number"), "axis"), fix="write it like {x: 1}"
)
_LADDERS = {"acceleration": ("10 m/s²", "1 m/s²"), "speed": ("500 mm/s", "50 mm/s")}
"""Start and rung of a ladder that many machines can climb, by what it measures."""


def _listed_or_table(role: str, entry: Block, keys: str) -> Either:
    """A list of entries with these keys, or the name of a table."""
    one = f"{{{keys}}}"
    fix = f"write a list: - {one} on a line for each, or [{one}, {one}] on one line; or name a CSV file"
    return Either(scalar=File(role), sequence=Many(entry), fix=fix)


def _trial(measures: str, other: dict[str, Shape], required: tuple[str, ...]) -> Block:
    figure = positive(measures)
    start, rung = (dataclasses.replace(figure, example=example) for example in _LADDERS[measures])
    run = Block(
        {
            "held": figure,
            "lost": figure,
            "stopped": Word(STOPPED),
            "order": Whole(1),
            "time": Text(),
            "note": Text(),
        }
    )
    attempt = Block({"at": figure, "held": Whole(), "lost": Whole()}, ("at", "held", "lost"))
    return Block(
        {
            "id": IDENTIFIER_TEXT,
            "measures": Word(("acceleration", "speed")),
            "direction": DIRECTION,
            **other,
            "stroke": positive("length"),
            "hold_time": not_negative("time"),
            "ladder": Block({"start": start, "rung": rung, "stop": figure}, ("start", "rung")),
            "runs": Each(_listed_or_table("runs", run, "held: …, lost: …"), "candidate"),
            "attempts": Each(_listed_or_table("attempts", attempt, "at: …, held: 5, lost: 0"), "candidate"),
            "note": Text(one_line=False),
        },
        ("id", "measures", "direction", *required),
    )


TRIAL = ByWord(
    "measures",
    {
        "acceleration": _trial("acceleration", {"speed": positive("speed")}, ("speed",)),
        "speed": _trial("speed", {"acceleration": positive("acceleration")}, ()),
    },
)


def _files(role: str) -> Each:
    one = File(role)
    return Each(
        Either(scalar=one, sequence=Many(Either(scalar=one, mapping=Block({"file": one}, ("file",))), 1)), "candidate"
    )


_FROM_TO: dict[str, Shape] = {
    "file": File("sound"),
    "from": not_negative("time"),
    "to": positive("time"),
    "segment": Many(not_negative("time"), 2, 2),
    "channel": Whole(1, 64),
    "speed": positive("speed"),
}
RECORDING = Either(scalar=File("sound"), mapping=Block(_FROM_TO, ("file",)))
SOUND = Block(
    {
        "id": IDENTIFIER_TEXT,
        "direction": DIRECTION,
        "speed": positive("speed"),
        "microphone": Block(
            {
                "distance": positive("length"),
                "instrument": Text(),
                "calibration": Block({"file": File("sound"), "level": Level(), "full_scale": Level()}),
                "placed_anew": Switch(),
            }
        ),
        "background": RECORDING,
        "recordings": Each(Either(scalar=File("sound"), sequence=Many(RECORDING, 1)), "candidate"),
        "levels": Each(Many(Level(), 1), "candidate"),
        "background_level": Level(),
        "spectra": _files("spectrum"),
    },
    ("id",),
)
VIBRATION = Block(
    {
        "id": IDENTIFIER_TEXT,
        "axis": Word(AXES),
        "excitation": Word(("run", "stop", "tap", "sweep", "broadband")),
        "current": not_negative("current"),
        "speed": positive("speed"),
        "columns": Block({"time": Text(), "acceleration": Text(), "frequency": Text(), "density": Text()}),
        "traces": _files("trace"),
        "spectra": _files("spectrum"),
    },
    ("id", "axis", "excitation"),
)
SCALE = Block({"pixels": positive("number"), "length": positive("length")}, ("pixels", "length"))
PHOTO = Block(
    {
        "file": File("photo"),
        "origin": Block({"x": not_negative("number"), "y": not_negative("number")}, ("x", "y")),
        "scale": SCALE,
    },
    ("file",),
)
SURFACE = Block(
    {
        "id": IDENTIFIER_TEXT,
        "direction": DIRECTION,
        "scale": SCALE,
        "bands": Block(
            {
                "first_speed": positive("speed"),
                "speed_step": Quantity("speed"),
                "height": positive("length"),
                "count": Whole(1, 200),
                "first": Word(("bottom", "top", "left", "right")),
            },
            ("first_speed", "speed_step", "height", "count"),
        ),
        "along": Word(("horizontal", "vertical")),
        "photos": Each(Either(scalar=File("photo"), mapping=PHOTO), "candidate"),
        "alt": Each(Text(), "candidate"),
    },
    ("id", "bands", "along", "photos"),
)
PANEL = Block(
    {
        "id": IDENTIFIER_TEXT,
        "surface": Text(),
        "pairs": Either(
            scalar=File("votes"),
            sequence=Many(
                Block(
                    {"between": Many(Text(), 2, 2), "votes": Many(Whole(), 2, 2), "no_preference": Whole()},
                    ("between", "votes"),
                )
            ),
        ),
    },
    ("id", "pairs"),
)
DECIDES = Block(
    {
        "figure": Word(tuple(word for words in FIGURES.values() for word in words)),
        "better": Word(("lower", "higher")),
        "band": Many(positive("frequency"), 2, 2),
        "ripple_limit": positive("number"),
    }
)
BENCH = Block(
    {
        "operator": Text(),
        "authorised_by": Text(),
        "laboratory": Text(),
        "address": Text(),
        "place": Text(),
        "customer": Text(),
        "report_number": Text(),
        "received_on": Date(),
        "date_from": Date(),
        "date_to": Date(),
        "warm_up": not_negative("time"),
        "humidity": SHARE_OF_ONE,
        "pressure": positive("pressure"),
        "lost_when": positive("length"),
        "moves_per_rung": Whole(1),
        "method": Text(one_line=False),
        "method_of_detection": Text(one_line=False),
        "sampling": Text(one_line=False),
        "position": Text(),
        "deviations": Text(one_line=False),
        "external_providers": Text(one_line=False),
    }
)
"""What a test report says of the bench (ISO/IEC 17025:2017, 7.8.2 and 7.8.3; list from memory)."""
INSTRUMENT = Block(
    {"id": IDENTIFIER_TEXT, "what": Text(), "serial": Text(), "checked_on": Date(), "uncertainty": Text()}, ("id",)
)
MATTERS = Block(
    {
        "kinds": Block(
            {
                "acceleration": Amount("acceleration"),
                "speed": Amount("speed"),
                "sound": Amount("level"),
                "vibration": Amount("acceleration"),
                "surface": Amount("speed"),
            }
        ),
        "items": Each(Text(), "item"),
    }
)
CALIBRATED = ("torque derating", "moving mass", "current")
"""What one measured trial may be used to fit."""
COMPARISON = Block(
    {
        "schema": Word(("1",)),
        "title": Text(),
        "question": Text(),
        "date": Date(),
        "author": Text(),
        "language": LANGUAGE,
        "data": Word(("measured", "invented")),
        "write_up": File("prose"),
        "interests": Text(one_line=False),
        "corrections": Many(Block({"date": Date(), "text": Text(one_line=False)}, ("date", "text"))),
        "publish": Block({"sources": Switch(), "audio": Switch(), "photos": Switch()}),
        "stall_map": Switch(),
        "bench": BENCH,
        "instruments": Many(INSTRUMENT),
        "common": COMMON,
        "candidates": Many(CANDIDATE, 2),
        "trials": Many(TRIAL),
        "sound": Many(SOUND),
        "vibration": Many(VIBRATION),
        "surfaces": Many(SURFACE),
        "panel": Many(PANEL),
        "decides": Each(DECIDES, "item"),
        "matters": MATTERS,
        "weights": Each(not_negative("number"), "item"),
        "calibrate": Block({"unknown": Word(CALIBRATED), "trial": Text()}),
    },
    ("schema", "title", "date", "data", "candidates"),
)
SITE = Block(
    {
        "name": Text(),
        "about": Text(one_line=False),
        "owner": Text(),
        "contact": Text(),
        "address": ADDRESS,
        "language": LANGUAGE,
        "licence": Text(),
        "data_licence": Text(),
    }
)
