"""The room's page: what matters now for everybody, how the tube stands, a table of the log for the scribe."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.geometry import Size
from textual.screen import Screen

from log.definition.procedure import Procedure
from log.definition.record_only import mark_of
from log.facts.record import Record
from log.rules.course import Course
from tui.room.balloons import Balloons
from tui.room.hero import Banner, HeroPanel
from tui.room.keys import Foot, Key
from tui.room.panels import Caution, CheckLine, Ear, Findings, Glance, NextStep, Simulation, SpokenNotes, Urgent
from tui.room.showing import Showing
from tui.room.table import LogTable
from tui.room.watch import DueLine, WatchPanel
from tui.views.balloons import tube_at_a_glance
from tui.views.bedside import Bedside, NextAtAGlance
from tui.views.hero import Due, Hero
from tui.views.one_screen import in_short
from tui.views.simulation import banner, latest, newest
from tui.views.watch import Attending

SMALL = 110
"""Columns below which there is only room for the scribe's table."""

TALL = 34
"""Lines from which there is room for a bar for each balloon."""

TALLEST = 54
"""Lines from which more of the log is shown."""


class RoomPage(Screen[None]):
    """Shows what it is handed."""

    def __init__(self, procedure: Procedure, keys: Sequence[Key]) -> None:
        super().__init__()
        self._procedure, self._keys = procedure, keys
        self._check = ""
        self._now: Bedside | None = None

    def compose(self) -> ComposeResult:
        """State and balloons on top, what matters now and the glance in the middle, the log below."""
        yield Simulation(id="simulation")
        yield Ear(id="ear")
        yield Caution(id="caution")
        yield Balloons(id="balloons")
        yield Banner(id="banner")
        with Horizontal(id="above"):
            with Vertical(id="left"):
                yield HeroPanel(id="read-back")
                with VerticalScroll(id="watch-box", can_focus=False):
                    yield WatchPanel(id="watch")
            with Vertical(id="right"):
                yield Glance(id="glance")
                with VerticalScroll(id="findings-box", can_focus=False):
                    yield Findings(id="findings")
        yield CheckLine(id="check")
        yield DueLine(id="due", classes="-empty")
        yield SpokenNotes(id="spoken-notes")
        yield NextStep(id="next")
        yield Urgent(id="urgent")
        yield LogTable(self._procedure)
        yield Foot(self._keys)

    @property
    def table(self) -> LogTable:
        """The log."""
        return self.query_one(LogTable)

    @property
    def small(self) -> bool:
        """Whether there is only room for the scribe's table."""
        return self.has_class("-small")

    @property
    def checked_shown(self) -> bool:
        """Whether a line on the sound is shown."""
        return self.query_one(CheckLine).display

    def fit(self, size: Size, record: Record) -> None:
        """A narrow terminal is the scribe's alone."""
        self.set_class(size.width < SMALL, "-small")
        self.set_class(size.height < TALL, "-low")
        self.set_class(size.height >= TALLEST, "-tall")
        self.set_class(bool(self._banner(record)), "-played")

    def show(self, now: Bedside, record: Record, course: Course, time: datetime, watching: bool) -> None:
        """How things stand at the bedside, by this record and its course."""
        played = newest(record) if self.small else tuple(latest(record, 3))
        self.query_one(Simulation).show(self._banner(record), played)
        cautions = self._procedure.cautions
        self.query_one(Caution).show(in_short(cautions[:1] if self.small and record.lines else cautions))
        self.query_one(CheckLine).show(self._check)
        self.query_one(Glance).show(now)
        self.query_one(Findings).show(now)
        self._now = now
        self.query_one(NextStep).show(self._next(now, watching))
        self.query_one(SpokenNotes).show(now.notes)
        bars = not (self.small or self.has_class("-low"))
        self.query_one(Balloons).show(tube_at_a_glance(course, record, time), bars)

    def _banner(self, record: Record) -> str:
        """Says of a case that it has no patient, or that its numbers are compared with no limits."""
        return "  ".join(mark for mark in (banner(record), mark_of(self._procedure)) if mark)

    def _next(self, now: Bedside, watching: bool) -> NextAtAGlance | None:
        """The next step of the protocol; the watch takes its line where there is room for one only."""
        nothing = now.next is None or not (now.next.what or now.next.passed_over)
        return None if watching and (nothing or self.small) else now.next

    def show_hero(self, hero: Hero, partial: str) -> None:
        """The thing that matters now, with words that are being said, and the keys that go with it."""
        self.query_one(HeroPanel).show(hero, partial)
        banner = self.query_one(Banner)
        banner.show(hero)
        self.set_class(isinstance(hero, Due), "-duty")
        urgent = self.query_one(Urgent)
        urgent.display = self.small
        if self._now is not None and self.small:
            urgent.show(self._now, hero)
        self.query_one(Foot).show(hero)

    def show_ear(self, now: Showing, how: str, time: datetime) -> None:
        """The state of the ear. `how`: how one has to speak."""
        at = time.strftime("%H:%M:%S")
        self.query_one(Ear).show(now.ear, now.why, how, now.db, now.clipped, at, bool(now.unsaved))

    def show_watch(self, now: Attending | None, offer: str, course: Course, time: datetime) -> None:
        """The watch where it is wanted, else the line that offers it."""
        self.set_class(now is not None, "-watch")
        self.query_one(WatchPanel).show(now, course, time)
        self.query_one(DueLine).show(now, offer)

    def show_check(self, line: str) -> None:
        """A line on how well the room can be heard, or "" for none."""
        self._check = line
        self.query_one(CheckLine).show(line)
