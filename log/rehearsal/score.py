"""Counts of what the team logged and was expected to log, with the reason beside each line.

Counts of one run, no grade and no percentage: of a dozen things, one more or less is chance. Lines count as they stand
at the end; what was asked and never confirmed, or struck, does not count. Everything follows from the scenario and the
facts of the case, so that it can be worked out again, and argued with.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from log.basics.entry import Entry
from log.basics.patterns import Pattern
from log.facts.findings import RaisedFinding
from log.facts.line import Line
from log.facts.record import Record
from log.rehearsal.scenario import Never, Scenario, Wanted
from log.rehearsal.timeline import first_played, matching, over
from log.rules.course import Course
from log.state.tube import matches
from log.words.wording import elapsed, sentence, shown


@dataclass(frozen=True, slots=True)
class Judged:
    """One expectation."""

    about: str
    kept: bool | None
    """None: it did not come up."""
    why: str


@dataclass(frozen=True, slots=True)
class Section:
    """One kind of expectation."""

    id: str
    title: str
    lines: tuple[Judged, ...]

    @property
    def kept(self) -> int:
        """The number that were kept."""
        return sum(line.kept is True for line in self.lines)

    @property
    def of(self) -> int:
        """The number that came up."""
        return sum(line.kept is not None for line in self.lines)

    @property
    def count(self) -> str:
        """ "3 of 4", or that nothing came up."""
        left = len(self.lines) - self.of
        return f"{self.kept} of {self.of}{f' ({left} did not come up)' if left else ''}"


@dataclass(frozen=True, slots=True)
class Score:
    """A whole run."""

    sections: tuple[Section, ...]
    ended: bool
    """Whether it was played to its end."""


def score(scenario: Scenario, course: Course, record: Record) -> Score:
    """The score of a case that was kept by this scenario. `course` is that of `record`."""
    run = _Run(scenario, course, record)
    return Score(
        (
            Section("logged", "wanted entries logged", tuple(map(run.logged, run.wanted))),
            Section("order", "order kept", tuple(run.order())),
            Section("values", "values as they were shown", tuple(run.values())),
            Section("times", "within the scenario's own times", tuple(run.times())),
            Section("never", "kept from happening", tuple(map(run.never, scenario.never))),
            Section("findings", "findings answered", tuple(map(run.finding, record.findings))),
        ),
        over(scenario, record),
    )


class _Run:
    """A case beside its scenario."""

    def __init__(self, scenario: Scenario, course: Course, record: Record) -> None:
        assert record.opened is not None
        self.scenario, self.course, self.record = scenario, course, record
        self.began = record.opened.logged_at
        self.wanted = [w for w in scenario.wanted if w.only_if is None or self._when(w.only_if) is not None]
        self.found: dict[str, Line | None] = {}
        for wanted in self.wanted:
            self.found[wanted.id] = self._line(wanted)

    def logged(self, wanted: Wanted) -> Judged:
        """Whether it is in the log."""
        line = self.found[wanted.id]
        if line is not None:
            entry = sentence(self.course.procedure, line.entry)
            return Judged(wanted.title, True, f"line {line.number}, {self._clock(line.said_at)}: {entry}")
        return Judged(wanted.title, False, f'{self._why_not(wanted)}; say: "{wanted.say}"')

    def order(self) -> Iterator[Judged]:
        """Whether one came before the other; the second alone means that it came too early."""
        for pair in self.scenario.in_order:
            first, then = self.found.get(pair.first), self.found.get(pair.then)
            about = f"{self._title(pair.first)} before {self._title(pair.then)}"
            if then is None:
                yield Judged(about, None, "the second is not in the log")
            elif first is None:
                yield Judged(about, False, f"line {then.number} came without the first ({pair.why})")
            else:
                kept = _place(first) < _place(then)
                lines = f"line {first.number} {'before' if kept else 'after'} line {then.number}"
                yield Judged(about, kept, lines if kept else f"{lines} ({pair.why})")

    def values(self) -> Iterator[Judged]:
        """Whether the number is the one that was shown last before it was logged."""
        for wanted in self.wanted:
            if wanted.shown is None:
                continue
            line = self.found[wanted.id]
            if line is None:
                yield Judged(wanted.title, None, "it is not in the log")
                continue
            entry = self._shown_to(wanted, line)
            if entry is None:
                yield Judged(wanted.title, False, f"line {line.number} was logged before anything was shown")
            else:
                corrected = ", as corrected" if any(change.what == "amended" for change in line.holding) else ""
                kept = entry.value == line.entry.value
                yield Judged(wanted.title, kept, f"shown {shown(entry)}, logged {shown(line.entry)}{corrected}")

    def times(self) -> Iterator[Judged]:
        """Whether it was said in the time that the scenario gives for it."""
        for wanted in self.wanted:
            if wanted.within is None:
                continue
            since = self.began if wanted.since is None else self._when(wanted.since)
            line = self.found[wanted.id]
            if since is None or line is None:
                yield Judged(wanted.title, None, "it is not in the log" if since else "what it answers was not played")
                continue
            took = elapsed(since, line.said_at)
            target = elapsed(since, since + timedelta(seconds=wanted.within))
            kept = line.said_at - since <= timedelta(seconds=wanted.within)
            yield Judged(wanted.title, kept, f"after {took}; the scenario gives {target}")

    def never(self, never: Never) -> Judged:
        """Whether it did not happen."""
        since = self.began if never.since is None else self._when(never.since)
        until = None if never.until is None else self._when(never.until)
        if since is None:
            return Judged(never.why, None, "what it is about was not played")
        what = next(self._happened(never, since, until), None)
        return Judged(never.why, what is None, "it did not happen" if what is None else what)

    def _happened(self, never: Never, since: datetime, until: datetime | None) -> Iterator[str]:
        for found in self.record.findings:
            if found.raised.rule == never.rule and _between(since, found.raised.logged_at, until):
                yield f"{self._clock(found.raised.logged_at)}: {found.raised.message.partition('. ')[0]}"
        for step in matching(self.course, (never.entry,) if never.entry else (), since):
            if _between(since, step.line.said_at, until):
                entry = sentence(self.course.procedure, step.entry)
                yield f"line {step.line.number}, {self._clock(step.line.said_at)}: {entry}"

    def finding(self, found: RaisedFinding) -> Judged:
        """Whether it was settled, acknowledged, or answered by an entry that the scenario names."""
        raised = found.raised
        line = "" if raised.number is None else f"line {raised.number}: "
        about = f"{raised.level}, {line}{raised.message.partition('. ')[0]}"
        seen = self.record.acknowledged(raised)
        if found.settled is not None:
            after = elapsed(raised.logged_at, found.settled.logged_at)
            return Judged(about, True, f"settled after {after}: {found.settled.how}")
        for answer in self.scenario.answer:
            wanted = self.scenario.wanted_named(answer.by)
            if answer.rule == raised.rule and wanted is not None:
                steps = matching(self.course, wanted.entry, raised.logged_at)
                step = next((step for step in steps if step.line.number != raised.number), None)
                if step is not None:
                    after = elapsed(raised.logged_at, step.line.said_at)
                    return Judged(about, True, f"answered after {after} by line {step.line.number}: {wanted.title}")
        if seen is not None:
            return Judged(about, True, f"acknowledged by {seen.author}: {seen.reason}")
        return Judged(about, False, "still open, and nobody said why it may stand")

    # ---- looking things up --------------------------------------------------------------------------------------

    def _line(self, wanted: Wanted) -> Line | None:
        """The line that is wanted: the first that has the number that was shown, else the first at all."""
        since = None if wanted.since is None else self._when(wanted.since)
        if wanted.since is not None and since is None:
            return None
        until = None if wanted.until is None else self._when(wanted.until)
        before = None if wanted.follows is None else self.found.get(wanted.follows)
        if wanted.follows is not None and before is None:
            return None
        lines = [
            step.line
            for step in matching(self.course, wanted.entry, since)
            if (until is None or step.line.said_at < until) and (before is None or _place(step.line) > _place(before))
        ]
        if wanted.shown is not None:
            for line in lines:
                entry = self._shown_to(wanted, line)
                if entry is not None and entry.value == line.entry.value:
                    return line
        return lines[0] if lines else None

    def _shown_to(self, wanted: Wanted, line: Line) -> Entry | None:
        """The last value shown by the event of this wanted entry before the line was said."""
        entries = [
            entry
            for played in self.record.played
            if played.event == wanted.shown and played.said_at <= line.said_at
            for entry in played.shows
            if any(_about(pattern, entry) for pattern in wanted.entry)
        ]
        return entries[-1] if entries else None

    def _why_not(self, wanted: Wanted) -> str:
        if wanted.since is not None and self._when(wanted.since) is None:
            return "not logged: what it answers was never played"
        if wanted.follows is not None and self.found.get(wanted.follows) is None:
            return f"not logged, nor was what it follows: {self._title(wanted.follows)}"
        for line in self.record.lines:
            entries = line.candidates or (line.entry,)
            if line.status == "asked" and any(matches(p, e) for p in wanted.entry for e in entries):
                return f"line {line.number} was asked and never confirmed"
            if line.status == "struck" and any(matches(p, line.entry) for p in wanted.entry):
                return f"line {line.number} was struck"
        elsewhere = next(matching(self.course, wanted.entry), None)
        if elsewhere is not None and elsewhere.line not in self.found.values():
            return f"not logged when it was due: line {elsewhere.line.number} was said at another time"
        return "not logged"

    def _when(self, event: str) -> datetime | None:
        return first_played(self.record, event)

    def _title(self, name: str) -> str:
        wanted = self.scenario.wanted_named(name)
        return wanted.title if wanted is not None else name

    def _clock(self, at: datetime) -> str:
        return elapsed(self.began, at)


def _place(line: Line) -> tuple[datetime, int]:
    return line.said_at, line.number


def _about(pattern: Pattern, entry: Entry) -> bool:
    return pattern.kind == entry.kind and pattern.site in (None, entry.site)


def _between(since: datetime, at: datetime, until: datetime | None) -> bool:
    return since <= at and (until is None or at < until)


SIGNS = {True: "yes", False: "NO", None: "-"}


def told_in_lines(found: Score) -> Iterator[str]:
    """The score for people: each count, and under it every line with its reason."""
    if not found.ended:
        yield "The rehearsal was left before its end: what was not reached counts as not done."
    for section in found.sections:
        yield f"{section.title}: {section.count}" if section.lines else f"{section.title}: none"
        for line in section.lines:
            yield f"  {SIGNS[line.kept]:<4}{line.about}: {line.why}"


def plain(found: Score) -> dict[str, Any]:
    """The same for other programs; `kept` is null where something did not come up."""
    return {
        "played_to_its_end": found.ended,
        "sections": [
            {
                "id": section.id,
                "title": section.title,
                "kept": section.kept,
                "of": section.of,
                "lines": [{"about": line.about, "kept": line.kept, "why": line.why} for line in section.lines],
            }
            for section in found.sections
        ],
    }
