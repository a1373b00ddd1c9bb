"""The read-back in a terminal: what was logged, large in words and digits, with the total it leads to, and every
finding in words beside it. Colour only repeats what the words say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from log.basics.entry import Entry
from log.basics.patterns import Level
from log.basics.visible import visible
from log.facts.events import (
    AcknowledgementUndone,
    CaptureGap,
    ChangeUndone,
    DifferenceHeard,
    DifferenceReviewed,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    FindingRaised,
    FindingSettled,
    ListeningChanged,
    NotUnderstoodHeard,
    QuestionAnswered,
    ReviewUndone,
    SavedLate,
    SimulationPlayed,
    SpokenNoteKept,
    SpokenNoteWritten,
    moment,
)
from log.facts.note_taking import BEGINS_WITHIN
from log.facts.simulation import in_words, marked
from log.scribe.session import Session
from log.words.second_hearing import heard_now, log_says
from log.words.totals import filling, led_to
from log.words.wording import citation, cited, elapsed, saved_late, sentence, shown, way
from tui.views.bedside import next_step, sums
from tui.views.emergency import WAITS, EmergencyAtAGlance, emergency
from tui.views.last_entry import answers, digits
from tui.views.spoken_notes import no_note
from voice.meaning.verdict import Hearing

STYLE: dict[Level, str] = {"high": "bold red", "medium": "yellow", "low": "cyan", "information": "dim"}

PLAYED = ">> PLAYED:"
"""Before what happens in a rehearsal."""

WIDE = 110
"""Columns from which the running total has room beside the entry."""


def unverified(doubt: str) -> str:
    """The warning before a case is gone on with that is not as it was written."""
    return f"!! THIS CASE DOES NOT VERIFY: {visible(doubt, 200)}"


class ReadBack:
    """Prints each utterance when it is on disk."""

    def __init__(self, session: Session, console: Console | None = None) -> None:
        self.session = session
        self.console = console or Console(highlight=False, soft_wrap=False)
        self._began = session.began
        self.emergency: EmergencyAtAGlance | None = None
        """The one that is up."""

    def start(self, title: str) -> None:
        """The first screen: what this is, and the cautions."""
        cautions = Text("\n".join(map(visible, self.session.procedure.cautions)))
        self._mark()
        self.console.print(Panel(cautions, title=_plain(title), title_align="left", style="bold", padding=(1, 2)))
        self._doubts()

    def caution(self) -> None:
        """The first line where there is no first screen."""
        self._mark()
        self.console.print(_plain(" ".join(self.session.procedure.cautions[:2]), style="dim"))
        self._doubts()

    def _doubts(self) -> None:
        for doubt in self.session.doubts:
            self.console.print(_plain(unverified(doubt), style="bold reverse"))

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it."""
        self.notify(facts)

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Facts, one line or more each. What to do in an emergency comes before them."""
        self._tell_emergency()
        for fact in facts:
            for line in self._lines(fact):
                self.console.print(line)

    def _tell_emergency(self) -> None:
        """The steps, once for each call; and when it is over, what still waits for an answer."""
        record, before = self.session.record, self.emergency
        newest = next(record.newest_first, None)
        if newest is None:
            return
        now = self.emergency = emergency(self.session.course, record, newest.said_at)
        if now is not None and (before is None or (now.call, now.line) != (before.call, before.line)):
            for line in (*now.lines, 'say "emergency over", or "tube out"'):
                self.console.print(_plain(f"!! {line}", style="bold"))
        elif now is None and before is not None:
            self.console.print(_plain(f"-- the emergency is over after {elapsed(before.since, newest.said_at)}"))
            if (question := record.open_question) is not None:
                what = f"line {question.number} still waits: {sentence(self.session.procedure, question.entry)}?"
                self.console.print(_plain(f"-- {what} Say {', '.join(answers(question))}."))

    def end(self) -> None:
        """Where things stand: balloons, clocks, what is open."""
        self._mark()
        table = Table(title="As it stands", title_justify="left", show_header=False, box=None, padding=(0, 2, 0, 0))
        for name, value in self._standing():
            table.add_row(_plain(name, style="bold"), _plain(value))
        self.console.print()
        self.console.print(table)
        procedure, findings = self.session.procedure, self.session.record.findings
        sources = sorted({key for found in findings for key in cited(procedure, found.raised.source)})
        if sources:
            self.console.print("\n", _plain("Sources of the findings", style="bold"), sep="")
        for key in sources:
            self.console.print(
                Padding(_plain(f"{key}: {self.session.procedure.sources[key]}", style="dim"), (0, 0, 0, 2))
            )

    def _mark(self) -> None:
        mark = marked(self.session.record.opened)
        if mark:
            self.console.print(_plain(mark, style="bold reverse"))

    def _lines(self, fact: Fact) -> Iterator[RenderableType]:
        match fact:
            case EntryLogged(entry=entry, number=number):
                yield self._entry_line(fact, "logged", number, entry, "bold green")
                yield from self._note_begins(number)
            case SpokenNoteKept(number=number, origin=origin):
                seconds = origin.sound.seconds if origin.sound else 0
                told = f"note of line {number}: {seconds:.0f} s kept, to be transcribed; it ends when nobody speaks"
                yield _plain(f"{self._clock(fact)}  {told}", style="bold")
            case SpokenNoteWritten(number=number, text=text):
                yield _plain(f'{self._clock(fact)}  note of line {number} transcribed: "{text}"')
            case DifferenceHeard(difference=difference, differs=differs):
                now = heard_now(self.session.procedure, fact)
                then = log_says(self.session.procedure, self.session.record, fact)
                yield _plain(
                    f"{self._clock(fact)}  {difference:>3}  {differs}: {then}; heard again: {now}", style="bold"
                )
            case DifferenceReviewed(difference=difference, taken=taken, text=text):
                yield _plain(f"difference {difference} {'taken' if taken else 'left'}{f': {text}' if text else ''}")
            case ReviewUndone(difference=difference):
                yield _plain(f"difference {difference} waits to be reviewed again", style="bold blue")
            case EntryAsked(candidates=candidates, number=number, reason=reason):
                yield self._entry_line(fact, "ASKED", number, candidates[0], "bold magenta", total=False)
                told = f"Say {', '.join(answers(self.session.record.line(number)))}"
                yield _indented(f"{reason}. {WAITS.capitalize() if self.emergency else told}.", "magenta")
            case QuestionAnswered(entry=entry, number=number):
                yield self._entry_line(fact, "answered", number, entry, "bold green")
                yield from self._note_begins(number)
            case EntryAmended(entry=entry, number=number):
                yield self._entry_line(fact, "AMENDED", number, entry, "bold blue")
            case EntryStruck(number=number):
                struck = self.session.record.line(number).entry
                yield self._entry_line(fact, "STRUCK", number, struck, "bold blue", total=False, value_style="strike")
            case EntryRestored(number=number):
                restored = self.session.record.line(number).entry
                yield self._entry_line(fact, "PUT BACK", number, restored, "bold blue")
            case ChangeUndone(number=number):
                undone = self.session.record.line(number)
                style = "strike" if undone.status == "struck" else ""
                yield self._entry_line(fact, "UNDONE", number, undone.entry, "bold blue", not style, style)
            case AcknowledgementUndone(message=message):
                yield _indented(f"to be acknowledged again: {message}", "bold blue")
            case NotUnderstoodHeard(origin=origin, nearest=nearest, reason=reason):
                yield _plain(f'{self._clock(fact)}  not understood: "{origin.heard}" ({reason})', style="dim")
                if nearest:
                    yield _indented("can be said: " + " | ".join(map(_spoken_slots, nearest)), "dim")
            case FindingRaised(level=level, message=message, source=source):
                yield _indented(f"{level.upper()}: {message} {citation(self.session.procedure, source)}", STYLE[level])
            case FindingSettled(rule=rule, how=how):
                yield _indented(f"settled: {rule.replace('_', ' ')} ({how})", "green")
            case CaptureGap(seconds=seconds, reason=reason):
                yield _plain(f"{self._clock(fact)}  NOTHING HEARD for {seconds:.1f} s: {reason}", style="bold red")

            case SavedLate():
                yield _plain(f"{self._clock(fact)}  {saved_late(fact)}: {fact.reason}", style="bold")
            case SimulationPlayed(hidden=False):
                words = in_words(fact.speed) if fact.speed is not None else ""
                faster = f" [from here on {words}]" if words and words not in fact.told else ""
                line = Table.grid(padding=(0, 2, 0, 0))
                line.add_column(width=6)
                line.add_column()
                line.add_row(_plain(self._clock(fact)), _plain(f"{PLAYED} {fact.told}{faster}", style="bold reverse"))
                yield line
            case ListeningChanged():
                yield _plain(f"{self._clock(fact)}  listening: {way(fact)}", style="bold")

    def _entry_line(
        self, fact: Fact, what: str, number: int, entry: Entry, style: str, total: bool = True, value_style: str = ""
    ) -> RenderableType:
        cells = [
            _plain(self._clock(fact)),
            _plain(what, style=style),
            _plain(f"{number:>3}"),
            _plain(self._named(entry)),
            _plain(read_back(entry), style=value_style or style),
        ]
        leads = _plain(self._leads_to(number) if total else "")
        wide = self.console.width >= WIDE
        line = Table.grid(padding=(0, 2, 0, 0))
        for width in (6, 8, max(3, len(str(number))), 36 if wide else 26, 26):
            line.add_column(width=width)
        if wide:
            line.add_row(*cells, leads)
            return line
        line.add_row(*cells)
        return Group(line, _indented(leads.plain, "")) if leads else line

    def _note_begins(self, number: int) -> Iterator[RenderableType]:
        record = self.session.record
        if record.taking is not None and record.taking.number == number:
            within = f"{BEGINS_WITHIN.total_seconds():.0f} s"
            yield _indented(f"TAKING A NOTE: speak within {within}. Nothing said now becomes an entry.", "bold")
        elif told := no_note(record):
            yield _indented(told, "bold")

    def _leads_to(self, number: int) -> str:
        """The running total after a line."""
        line = self.session.record.line(number)
        return led_to(self.session.procedure, self.session.course.stage(line).step) if line.status == "stands" else ""

    def _named(self, entry: Entry) -> str:
        title = self.session.procedure.title_of(entry.kind)
        place = f" ({entry.site})" if entry.site else ""
        return f"{title}{place}{': ' + entry.detail if entry.detail else ''}"

    def _clock(self, fact: Fact) -> str:
        seconds = max(0, int((moment(fact) - self._began).total_seconds()))
        return f"{seconds // 60:>3}:{seconds % 60:02}"

    def _standing(self) -> Iterator[tuple[str, str]]:
        record, procedure = self.session.record, self.session.procedure
        situation = self.session.course.end.situation
        for site in procedure.tube.balloons:
            balloon = situation.balloon(site)
            pressure = f", {balloon.pressure:g} mmHg" if balloon.pressure is not None else ""
            yield f"{site} balloon", f"{filling(balloon)}{pressure}"
        yield "depth", read_back(situation.depth) if situation.depth else "not logged"
        yield "mark after traction", read_back(situation.mark) if situation.mark else "not logged"
        yield "traction", read_back(situation.traction) if situation.traction else "off"
        yield "X-ray", (situation.xray or "not logged").replace("_", " ")
        yield from sums(self.session.course, self.session.record.breath.said_at or self.session.began)
        for running in self.session.course.end.running:
            yield running.title, f"since {running.since.strftime('%H:%M:%S')}"
        asked = [line for line in record.lines if line.status == "asked"]
        coming = next_step(self.session.course)
        if coming is not None and coming.what:
            yield "next", f'{coming.what}; say: "{coming.say}"'
        if coming is not None and coming.passed_over:
            yield "not logged", ", ".join(coming.passed_over)
        yield "not confirmed", ", ".join(f"line {line.number}" for line in asked) or "nothing"
        still_open = record.open_findings
        counts = {level: sum(f.level == level for f in still_open) for level in STYLE}
        yield "open findings", ", ".join(f"{n} {level}" for level, n in counts.items() if n) or "none"


def read_back(entry: Entry) -> str:
    """A value as number and digits: "50 mL · five-zero", "90/60 mmHg · nine-zero over six-zero"."""
    return " · ".join(part for part in (shown(entry).replace("_", " "), digits(entry)) if part)


def _spoken_slots(pattern: str) -> str:
    return re.sub(r"\{(\w+)\}", lambda slot: slot[1].upper(), pattern)


def _indented(text: str, style: str) -> RenderableType:
    return Padding(_plain(text, style=style), (0, 0, 0, 16))


def _plain(text: str, style: str = "") -> Text:
    """Text that may have come from outside, in one line."""
    return Text(visible(text), style=style)
