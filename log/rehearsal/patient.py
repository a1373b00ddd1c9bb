"""The invented patient at a moment: three values that follow from what the team has logged and what was played.

    pressure   of the oesophageal balloon: so many mmHg a millilitre that is in it, less what has leaked since
    mark       at the lips: what the scenario says, until an event sets another
    bleeding   stops while the pressure, or traction, holds it, and begins again when it does not

That is all there is. It is made up so that a number that was shown can be checked against the one that was logged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from log.facts.events import SimulationPlayed
from log.rehearsal.scenario import Scenario, Sets
from log.rules.course import Course
from log.state.tube import Step

WORDS = ("pressure", "mark", "bleeding")
"""Names that may stand in braces."""


@dataclass(frozen=True, slots=True)
class Condition:
    """The visible state of the patient."""

    pressure: int
    """Pressure of the oesophageal balloon, mmHg, as a manometer shows it."""
    mark: float
    """At the lips, cm."""
    bleeding: bool

    def told(self, text: str) -> str:
        """The text with the patient's values in it."""
        words = "fresh blood is still coming" if self.bleeding else "no fresh blood any more"
        for name, value in zip(WORDS, (str(self.pressure), f"{self.mark:g}", words), strict=True):
            text = text.replace(f"{{{name}}}", value)
        return text

    def value(self, given: float | str) -> float | str:
        """The value that an entry would hold: the number or the word itself."""
        values = {"{pressure}": self.pressure, "{mark}": self.mark}
        if given == "{bleeding}":
            return "continuing" if self.bleeding else "stopped"
        return values.get(given, given) if isinstance(given, str) else given


@dataclass(frozen=True, slots=True)
class _State:
    mmhg: float
    mark: float
    leak: float
    traction: bool
    up: bool
    at: datetime


def condition(scenario: Scenario, course: Course, played: Iterable[SimulationPlayed], now: datetime) -> Condition:
    """The patient at this moment."""
    patient, pressed = scenario.patient, course.procedure.tube.oesophagus
    happened: list[tuple[datetime, int, Step | Sets]] = [
        (step.line.said_at, 0, step) for step in course.steps if step.line.said_at <= now
    ]
    for fact in played:
        event = scenario.event_named(fact.event)
        if event is not None and event.sets is not None and fact.said_at <= now:
            happened.append((fact.said_at, 1, event.sets))
    happened.sort(key=lambda one: one[:2])
    state = _State(0.0, patient.mark_cm, 0.0, False, False, happened[0][0] if happened else now)
    for at, _, what in happened:
        state = _leaked(state, at)
        state = _set(state, what) if isinstance(what, Sets) else _moved(state, what, pressed, patient.mmhg_per_ml)
    pressure = round(_leaked(state, now).mmhg)
    held = (patient.held_by_traction and state.traction) or (
        patient.held_from_mmhg is not None and pressure >= patient.held_from_mmhg
    )
    return Condition(pressure, state.mark, not held)


def _leaked(state: _State, at: datetime) -> _State:
    hours = (at - state.at).total_seconds() / 3600
    lost = state.leak * hours if state.up else 0.0
    return replace(state, mmhg=max(0.0, state.mmhg - lost), at=at)


def _set(state: _State, sets: Sets) -> _State:
    mark = state.mark if sets.mark_cm is None else sets.mark_cm
    return replace(state, mark=mark, leak=state.leak if sets.leak_mmhg_per_h is None else sets.leak_mmhg_per_h)


def _moved(state: _State, step: Step, pressed: str | None, mmhg_per_ml: float) -> _State:
    before, after = step.before.balloon(pressed), step.after.balloon(pressed)
    mmhg = state.mmhg + (after.volume - before.volume) * mmhg_per_ml
    if not after.up:
        mmhg = 0.0
    elif after.volume == 0 and after.pressure is not None and not before.up:
        mmhg = float(after.pressure)  # pumped up by the manometer alone: it holds what the team says
    return replace(state, mmhg=max(0.0, mmhg), up=after.up, traction=step.after.traction is not None)
