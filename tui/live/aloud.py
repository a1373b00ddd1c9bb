"""The read-back, aloud as well: whoever shows the room goes on showing it, and what was logged is spoken."""

from __future__ import annotations

from log.basics.errors import TamponadeError
from log.facts.events import AboutALine, Fact, FindingRaised, SimulationPlayed
from log.facts.line import Line
from log.rules.course import Course
from log.rules.emergency import emergency_is_up
from log.scribe.session import Session
from tui.live.view import View
from voice.english.spoken import spoken_finding, spoken_question, spoken_short, spoken_strike, spoken_words
from voice.meaning.matcher import asked_of_the_log
from voice.meaning.verdict import Hearing
from voice.speak.speaker import Speaker


class Aloud:
    """A view that speaks beside another."""

    def __init__(self, view: View, session: Session, speaker: Speaker) -> None:
        self._view, self._session, self._speaker = view, session, speaker
        self.state, self.level, self.partial, self.checked = view.state, view.level, view.partial, view.checked

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """Shows it, then says it; in an emergency nothing is said, because the log would be muted meanwhile."""
        self._view.heard(hearing, facts)
        if self._hushed():
            return
        again = "repeat" in asked_of_the_log(hearing.meaning) and bool(self._session.record.lines)
        number = len(self._session.record.lines) if again else _touched(facts)
        said = [read_aloud(self._session.course, self._session.record.line(number))] if number is not None else []
        found = [finding_aloud(self._session.course, fact) for fact in facts if isinstance(fact, FindingRaised)]
        if said or any(found):
            self._speaker.say(". ".join((*said, *filter(None, found))))

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Typed entries are not spoken: the scribe reads. Events of a rehearsal are."""
        self._view.notify(facts)
        self._hushed()
        told = [fact.told for fact in facts if isinstance(fact, SimulationPlayed) and not fact.hidden]
        if told:
            self._speaker.say(spoken_words(self._session.procedure, " ".join(told)))

    def failed(self, error: TamponadeError) -> None:
        """Shows it."""
        self._view.failed(error)

    def _hushed(self) -> bool:
        if not emergency_is_up(self._session.course, self._session.record):
            return False
        self._speaker.hush()
        return True


def read_aloud(course: Course, line: Line) -> str:
    """A line as it is spoken: short, with the volume that it leads to."""
    procedure = course.procedure
    if line.status == "asked":
        return spoken_question(procedure, line.candidates)
    if line.status == "struck":
        return spoken_strike(procedure, line.entry)
    balloon = course.stage(line).step.after.balloon(line.entry.site)
    return spoken_short(procedure, line.entry, None if balloon.may_hold else balloon.volume)


def finding_aloud(course: Course, found: FindingRaised) -> str:
    """A finding of high or medium priority in a few words; "" for any other."""
    if found.level not in ("high", "medium"):
        return ""
    held = next((of for name, _, of in course.procedure.held if name == found.rule), None)
    if held is None:
        return spoken_finding(found.level, found.rule)
    what = course.procedure.title_of(held.kind).lower().removesuffix(" in")
    return spoken_finding(found.level, f"{held.site or ''} {what} out of range")


def _touched(facts: tuple[Fact, ...]) -> int | None:
    """The line that was touched last."""
    numbers = [fact.number for fact in facts if isinstance(fact, AboutALine)]
    return numbers[-1] if numbers else None
