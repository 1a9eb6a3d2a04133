"""The contract's hardware keys as data: what stands under common and under a candidate, with tolerances and sources."""

from __future__ import annotations

from collections.abc import Callable

from generator.readers.shapes import (
    IDENTIFIER_TEXT,
    Amount,
    Block,
    Date,
    Each,
    Either,
    Many,
    Quantity,
    Shape,
    Text,
    Whole,
    Word,
)


def positive(kind: str) -> Quantity:
    """A quantity above zero."""
    return Quantity(kind, above=0.0)


def exact(kind: str) -> Quantity:
    """A quantity above zero that the models take without a spread."""
    return Quantity(kind, above=0.0, exact=True)


def not_negative(kind: str) -> Quantity:
    """A quantity of zero or more."""
    return Quantity(kind, least=0.0)


def _mirror(shape: Shape, leaf: Callable[[Shape], Shape | None]) -> Shape | None:
    """The same blocks and keys with another shape at every value."""
    if isinstance(shape, Block):
        mirrored = {key: _mirror(value, leaf) for key, value in shape.keys.items() if key not in SIDE_KEYS}
        return Block({key: value for key, value in mirrored.items() if value is not None})
    if isinstance(shape, Each):
        inner = _mirror(shape.shape, leaf)
        return None if inner is None else Each(inner, shape.what)
    return leaf(shape)


def _tolerance_of(shape: Shape) -> Shape | None:
    if not isinstance(shape, Quantity):
        return None
    amount = Amount("temperature difference" if shape.kind == "temperature" else shape.kind)
    return Either(scalar=amount, mapping=Block({"standard": amount}, ("standard",)))


def _source_of(shape: Shape) -> Shape | None:
    return Text() if isinstance(shape, Quantity | Whole | Word | Text) else None


SIDE_KEYS = ("tolerance", "sources")


def _hardware(keys: dict[str, Shape], required: tuple[str, ...] = ()) -> Block:
    """A block whose values may carry tolerances and sources, under keys that mirror its own."""
    plain = Block(keys)
    sides = {"tolerance": _mirror(plain, _tolerance_of), "sources": _mirror(plain, _source_of)}
    return Block({**keys, **{key: side for key, side in sides.items() if side is not None}}, required)


def _hardware_each(shape: Shape, what: str) -> Each:
    plain = Each(shape, what)
    sides = {"tolerance": _mirror(plain, _tolerance_of), "sources": _mirror(plain, _source_of)}
    return Each(shape, what, {key: side for key, side in sides.items() if side is not None})


EFFICIENCY = Quantity("ratio", above=0.0, most=1.0)
SHARE_OF_ONE = Quantity("ratio", least=0.0, most=1.0)

MOTOR = _hardware(
    {
        "step_angle": exact("angle"),
        "holding_torque": positive("torque"),
        "rated_current": positive("current"),
        "resistance": positive("resistance"),
        "inductance": positive("inductance"),
        "rotor_inertia": positive("inertia"),
        "detent_torque": not_negative("torque"),
        "iron_drag": not_negative("rotary drag"),
        "name": Text(),
        "mass": positive("mass"),
        "winding_temperature": positive("temperature"),
        "wiring": Text(),
    }
)
TRANSMISSION = _hardware(
    {
        "name": Text(),
        "belt_pitch": positive("length"),
        "pulley_teeth": Quantity("number", least=1.0, most=1000.0, exact=True),
        "screw_lead": positive("travel"),
        "travel_per_turn": positive("travel"),
        "ratio": exact("number"),
        "efficiency": EFFICIENCY,
        "friction_coefficient": positive("number"),
        "lead_angle": positive("angle"),
        "shaft_inertia": not_negative("inertia"),
        "drag_torque": not_negative("torque"),
        "belt_stiffness": positive("stiffness"),
    }
)
AXIS = _hardware(
    {
        "moving_mass": positive("mass"),
        "travel": exact("length"),
        "friction": not_negative("force"),
        "viscous": not_negative("viscous friction"),
        "steady_force": Quantity("force"),
    }
)
ONE_MOTOR = _hardware({"count": Whole(1, 16), "transmission": TRANSMISSION, "motor": MOTOR})
MACHINE = _hardware(
    {
        "motor_map": Either(
            scalar=Word(("straight", "crossed-belts")),
            mapping=Block({"matrix": Many(Many(Quantity("number"), 1, 3), 1, 3)}, ("matrix",)),
        ),
        "axes": _hardware_each(AXIS, "axis"),
        "transmission": TRANSMISSION,
        "motors": _hardware_each(ONE_MOTOR, "motor"),
        "belt_tension": _hardware({"frequency": positive("frequency"), "span": positive("length")}),
    }
)
HARDWARE: dict[str, Shape] = {
    "ambient": positive("temperature"),
    "machine": MACHINE,
    "supply": _hardware(
        {
            "name": Text(),
            "voltage": positive("voltage"),
            "source_resistance": not_negative("resistance"),
            "capacitance": positive("capacitance"),
        }
    ),
    "drive": _hardware(
        {
            "name": Text(),
            "peak_current": positive("current"),
            "rms_current": positive("current"),
            "voltage_drop": not_negative("voltage"),
            "voltage_limit": exact("voltage"),
            "step_division": Whole(1, 100_000),
            "standstill_current": Quantity("ratio", least=0.0, most=1.0, exact=True),
        }
    ),
    "move": _hardware({"profile": Word(("trapezoid", "s-curve")), "jerk": exact("jerk")}),
    "motor": MOTOR,
}
ITEM = Block(
    {
        "obtained": Text(),
        "price": not_negative("number"),
        "currency": Text(),
        "price_date": Date(),
        "units_tested": Whole(1),
        "hours_run": not_negative("number"),
        "condition": Text(),
    }
)
COMMON = _hardware(HARDWARE)
CANDIDATE = Block(
    {"id": IDENTIFIER_TEXT, "name": Text(), "item": ITEM, **COMMON.keys},
    ("id", "name"),
)
