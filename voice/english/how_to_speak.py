"""How to speak to the log, in ten lines, as a card beside the bed shows it. These are examples, not a list to learn:
people speak as they like, and what is unclear is asked.
"""

from __future__ import annotations

from dataclasses import dataclass

from log.definition.procedure import Procedure


@dataclass(frozen=True, slots=True)
class Way:
    """One line of the card."""

    about: str
    kinds: tuple[str, ...]
    """The kinds that its examples are logged or answered as, one an example."""
    examples: tuple[str, ...]
    """Words as they are said, without the lead word. "{first}" and "{last}" are the balloons of the tube."""


WAYS = (
    Way(
        "air in, out, now in",
        ("volume_in", "volume_out", "volume_total"),
        ("{first} in fifty, five zero", "took two zero out of the {last}", "{first}'s holding two five zero"),
    ),
    Way("pressure", ("pressure", "pressure"), ("{last}'s reading three five", "{last} pressure three five")),
    Way("tube and mark", ("depth", "depth"), ("tube's at five two at the lips", "mark's at four eight now")),
    Way("X-ray", ("xray", "xray"), ("film's done", "film's back, {first} balloon's below the diaphragm")),
    Way("traction, clamps", ("traction", "clamp"), ("one kilo of traction on", "{first} port's clamped")),
    Way("bleeding", ("bleeding", "aspirate"), ("still bleeding", "four zero zero of blood from the {first} port")),
    Way(
        "given, measured",
        ("drug", "blood_product", "vital"),
        ("two milligrams of terlipressin given", "two units of red cells in", "bp nine zero over six zero"),
    ),
    Way("put right", ("undo", "correct"), ("scratch that", "no, make that six zero")),
    Way("ask the log", ("next", "how_long", "repeat"), ("what's next", "how long has it been up", "say again")),
    Way("emergency", ("emergency", "emergency"), ("airway emergency", "cut the tube")),
)


def ways(procedure: Procedure) -> tuple[Way, ...]:
    """The lines for this tube, its balloons named; without what the definition has no kind of entry for."""
    known = (_known(procedure, way) for way in WAYS)
    return tuple(way for way in known if way.examples)


def advice(procedure: Procedure) -> tuple[str, ...]:
    """Advice beside the examples, a sentence or two each."""
    return (
        "Speak as you like: say what was done or read, not what should be. There is no list to learn.",
        f'With an open microphone say "{procedure.lead_word}" first. With the talk key or in an emergency, just speak.',
        'Say each number twice, as a number and as digits: "fifty, five zero".',
        'What is unclear is asked: say "confirm", or the digits. NOT LOGGED on the screen: say it again.',
        "Orders, questions, plans, other tubes and other patients are not logged.",
    )


def _known(procedure: Procedure, way: Way) -> Way:
    balloons = procedure.tube.balloons
    kept = [
        (kind, example.format(first=balloons[0], last=balloons[-1]))
        for kind, example in zip(way.kinds, way.examples, strict=True)
        if procedure.kind_named(kind) is not None
    ]
    return Way(way.about, tuple(kind for kind, _ in kept), tuple(example for _, example in kept))
