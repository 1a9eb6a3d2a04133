"""Terms that a reader may not know, explained where they stand. One sentence or two each, no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

TERMS: Mapping[str, str] = {
    "corridor": "The range between the any-timing line and the static limit. Where in it a machine loses steps "
    "depends on damping and on when the move changes.",
    "static limit": "The acceleration at which the motor's pull-out torque is used up if it is asked for gently. "
    "A machine that is accelerated suddenly loses steps below it.",
    "start line": "The limit for an acceleration that begins suddenly from rest, without damping: 0.7246 of the "
    "pull-out torque.",
    "any-timing line": "The limit that holds whatever the timing of the move, without damping: braking may begin just "
    "when the rotor's swing is at its worst. 0.4223 of the pull-out torque. It holds below the corner speed, where the "
    "torque starts to fall; beyond it steps may be lost under the line too.",
    "pull-out torque": "The largest torque that a motor can give at a speed before it falls out of step.",
    "holding torque": "The torque that turns the shaft of a motor at rest away from its step, with both phases at "
    "rated current.",
    "detent torque": "The torque that a motor resists with when no current flows.",
    "back-EMF": "The voltage that a turning motor makes by itself, against the supply.",
    "ladder": "A series of moves, each a rung harder than the last, climbed until steps are lost.",
    "rung": "One step of the ladder. The limit is known no finer than one rung.",
    "bracket": "The last rung held and the first rung lost. The limit of that run lies between them.",
    "95 % interval": "A range made so that, over many such measurements, it holds the true value 95 times in 100. "
    "Calls are made on a wider one, of 99 %.",
    "what matters": "The smallest difference that the author would act on. It is stated in the comparison's file.",
    "undecided": "The runs allow both a difference that matters and none.",
    "lower bound": "Steps were never lost, so the limit is at least this; how much more is unknown.",
    "peak of the sine": "The largest current in a phase while the motor turns in fine steps; 1.41 times its RMS value.",
    "fundamental": "The slowest sine in a periodic voltage. That of a square wave is 4/π, 1.27 times its height.",
    "one third octave": "A band of sound about a quarter of its own pitch wide; ten bands make a decade.",
    "prominent tone": "A tone that stands out from the noise around it, by the rule of ECMA-418-1.",
    "damping ratio": "How fast a ringing dies away; 1 is just no ringing, 0.01 rings for some thirty swings.",
    "ripple": "A pattern that repeats along the travel, seen as bright and dark stripes.",
    "contrast of a ripple": "Amplitude of the brightness pattern over its mean, in linear light.",
    "blind": "Chosen without knowing which candidate is which.",
}


@dataclass
class Glossary:
    """Hands out terms to one page and remembers which were used, so that the page carries only those."""

    used: dict[str, str] = field(default_factory=dict)

    def use(self, term: str) -> str:
        """Note a term and return the id of its explanation; KeyError for a term that is not explained."""
        self.used[term] = TERMS[term]
        return identify(term)

    def entries(self) -> list[tuple[str, str, str]]:
        """(id, term, explanation) of the terms used so far."""
        return [(identify(term), term, text) for term, text in self.used.items()]


def identify(term: str) -> str:
    """The id under which a term is explained."""
    kept = "".join(character if character.isalnum() else "-" for character in term.lower())
    return "term-" + "-".join(part for part in kept.split("-") if part)
