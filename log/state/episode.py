"""The tubes of a case, each from what was made ready for it to its coming out. Every summary asks the tube for what
belonged to it (film, depth, mark, traction, volumes) and never the whole case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from log.facts.line import Line
from log.state.tube import Step, TubeState


@dataclass(frozen=True, slots=True)
class Episode:
    """One tube."""

    number: int
    """From 1, in the order in which things happened."""
    steps: tuple[Step, ...]
    """The standing lines of its time, those about the patient included."""

    @property
    def inserted(self) -> Line | None:
        """When it went in first; None while nobody said so."""
        return next((line for line in self.said("tube") if line.entry.value == "in"), None)

    @property
    def removed(self) -> Line | None:
        """When it came out; None while it is in."""
        return next((line for line in self.said("tube") if line.entry.value == "out"), None)

    @property
    def situation(self) -> TubeState:
        """Its last position: before it came out, or now."""
        out = next((step for step in self.steps if step.after.withdrawn and not step.before.withdrawn), None)
        if out is not None:
            return out.before
        return self.steps[-1].after if self.steps else TubeState()

    def last(self, kind: str) -> Line | None:
        """The last line of a kind in its time."""
        return next((step.line for step in reversed(self.steps) if step.entry.kind == kind), None)

    def said(self, kind: str, *sites: str | None) -> tuple[Line, ...]:
        """Its lines of a kind, of these sites if any are given."""
        own = (step.line for step in self.steps if step.entry.kind == kind)
        return tuple(line for line in own if not sites or line.entry.site in sites)

    @property
    def film(self) -> Line | None:
        """The last word on the X-ray. A film that nobody has read does not hide what the one before showed."""
        lines = [step.line for step in self.steps if step.entry.kind == "xray"]
        word = self.situation.film.word if self.situation.film is not None else None
        telling = [line for line in lines if line.entry.value == word]
        return next(iter(reversed(telling or lines)), None)

    @property
    def mark(self) -> Line | None:
        """The line of the mark that movement is measured from; None while there is none."""
        if self.situation.mark is None:
            return None
        begun = max(
            place
            for place, step in enumerate(self.steps)
            if step.after.mark and step.after.mark is not step.before.mark
        )  # by the reading itself, or by a film that confirms where the tube was read last
        return next(step.line for step in reversed(self.steps[: begun + 1]) if step.entry.kind == "depth")

    @property
    def traction_since(self) -> datetime | None:
        """Since when something pulls on it."""
        since: datetime | None = None
        for step in self.steps:
            if (step.after.traction is None) != (step.before.traction is None):
                since = step.line.said_at if step.after.traction is not None else None
        return since

    def up_for(self, site: str, now: datetime) -> timedelta:
        """For how long a balloon was up in the patient, trial deflations taken off; up to now while it is."""
        states = [(step.line.said_at, step.after) for step in self.steps]
        ends = [*(at for at, _ in states[1:]), now][: len(states)]
        up = (state.tube_in and state.balloon(site).up for _, state in states)
        return sum((end - at for (at, _), end, is_up in zip(states, ends, up, strict=True) if is_up), timedelta(0))

    def most_in(self, site: str) -> float:
        """The most that was in a balloon according to the log, mL, since the tube was in, or at all if nobody said."""
        inside = [step.after for step in self.steps if step.after.tube_in or self.inserted is None]
        return max((state.balloon(site).volume for state in inside), default=0)


def episodes(steps: Sequence[Step]) -> tuple[Episode, ...]:
    """The tubes of these standing lines, in order; the first is there even where there is no line."""
    by_number = groupby(steps, key=lambda step: step.after.number)
    return tuple(Episode(number, tuple(own)) for number, own in by_number) or (Episode(1, ()),)
