"""What models and analysis find, in SI: the records in which they meet. Never computes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Spread:
    """A predicted figure: nominal, and the 2.5, 50 and 97.5 % points of its draws; None where there is none."""

    nominal: float | None
    low: float | None = None
    median: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Prediction:
    """A predicted limit of one trial and candidate [unit]: the three lines and what bounds it (torque, stroke).

    ramp_swings: how many swings of the rotor a ramp at the nominal static limit lasts [1]; None where it is open.
    """

    trial: str
    candidate: str
    quantity: str
    unit: str
    static: Spread
    start: Spread
    any_timing: Spread
    bound_by: str
    ramp_swings: float | None = None


@dataclass(frozen=True)
class Measurement:
    """A measured limit or figure of one item and candidate [unit].

    kind: bracketed, attempts, lower bound, upper bound (trials), or recorded. low and high bound the 95 % interval,
    or the bracket of a single run (basis says which, in words). at_least and at_most serve bounds; bound_count runs
    or tries stand behind a bound. method is ``runs``, ``attempts`` or ``recorded``; rung, scatter are a single run's.
    """

    item: str
    candidate: str
    quantity: str
    unit: str
    kind: str
    count: int
    estimate: float | None = None
    standard_uncertainty: float | None = None
    degrees_of_freedom: float | None = None
    low: float | None = None
    high: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    bound_count: int = 0
    rung: float | None = None
    scatter: float | None = None
    basis: str = ""
    reason: str = ""
    method: str = "runs"


@dataclass(frozen=True)
class Agreement:
    """Measurement beside prediction: ratio to the nominal static limit, and place in the corridor with its reason."""

    trial: str
    candidate: str
    ratio: float | None
    place: str
    reason: str = ""


@dataclass(frozen=True)
class Contrast:
    """Difference first minus second of one item [unit], its 95 % interval, what matters there, and the call.

    ahead is the candidate that the call puts ahead, None for every other call. runs_to_decide counts runs (tries
    where attempts were counted) per candidate that would decide if estimates and scatter stayed as they are.
    drift_removed says that a common trend over the order of the runs was taken out of the difference; drift_allowed is
    what each side of the interval holds for a drift that the runs cannot show [unit].
    """

    item: str
    kind: str
    quantity: str
    unit: str
    between: tuple[str, str]
    difference: float | None
    low: float | None
    high: float | None
    matters: float | None
    call: str
    reason: str
    runs_to_decide: int | None = None
    ahead: str | None = None
    standard_uncertainty: float | None = None
    degrees_of_freedom: float | None = None
    drift_removed: bool = False
    drift_allowed: float | None = None


@dataclass(frozen=True)
class Drift:
    """Rank correlation of a candidate's runs with their order: tested or not, ρ [1], two-sided p [1], and words."""

    item: str
    candidate: str
    count: int
    correlation: float | None
    probability: float | None
    found: bool | None
    statement: str


@dataclass(frozen=True)
class Turn:
    """How far the weight of one item can go [its own unit] before the leader changes; None where it never does."""

    item: str
    weight: float
    below: float | None
    above: float | None
    leader_below: str | None
    leader_above: str | None


@dataclass(frozen=True)
class ItemCall:
    """The call of one item in the verdict: weight [1], and who is ahead of everyone, or why nobody is.

    outcome is ``won``, ``tie``, ``undecided`` or ``not measured``; winner is set for ``won`` only. behind holds the
    candidates that another is ahead of where nobody is ahead of everyone.
    """

    item: str
    weight: float
    outcome: str
    winner: str | None
    reason: str
    behind: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeasuredPeak:
    """A resonance as measured [Hz], its standard uncertainty [Hz], the current then [A, peak], None: the drive's."""

    frequency: float
    uncertainty: float = 0.0
    current: float | None = None


@dataclass(frozen=True)
class Verdict:
    """The answer: sentence, call per item, shares of the stated weight [1], and how far each weight could move.

    could_turn: whether what is undecided or not measured weighs enough to put somebody else in the lead.
    """

    sentence: str
    items: tuple[ItemCall, ...]
    won: Mapping[str, float]
    ties: float
    undecided: float
    not_measured: float
    leader: str | None
    could_turn: bool
    calls: int
    turns_when: tuple[Turn, ...]


@dataclass(frozen=True)
class Influence:
    """How much one input matters for a predicted figure of one trial and candidate.

    share: of the figure's variance that goes when this input is known [1]. change_low, change_high: relative change
    of the nominal figure with the input at the lower and upper end of its tolerance [1]; None where undefined.
    """

    candidate: str
    trial: str
    path: str
    share: float
    change_low: float | None
    change_high: float | None


@dataclass(frozen=True)
class Caution:
    """A figure that a bench should heed [unit], the limit it stands against (None where there is none).

    value is None where an input is missing; assumes then says which, and else under what assumption it holds. at holds
    the figures of that assumption by name: speed [m/s], path [m], deceleration [m/s²], jerk [m/s³],
    winding_temperature [K], current_share [1], mass [kg]. axis names the one that a figure is about, if it is one.
    """

    candidate: str
    kind: str
    value: float | None
    unit: str
    limit: float | None
    assumes: str
    at: Mapping[str, float] = field(default_factory=dict)
    axis: str | None = None
