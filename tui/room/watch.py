"""The watch over a placed tube on the room's screen: all of it where there is room, else what is most urgent."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from types import MappingProxyType

from rich.table import Table
from rich.text import Text
from textual.widgets import Static

from log.basics.visible import visible
from log.facts.record import Record
from log.rules.course import Course
from log.watch.item import When
from tui.room.panels import Drawn
from tui.room.trend import pressures
from tui.views.watch import OFFER, Attending, Told, attending, is_placed, key, news

STYLE: Mapping[When, str] = MappingProxyType({"overdue": "bold reverse", "due": "bold", "next": ""})

COMING = 2
"""Items further ahead than this are left out; `tamponade watch` shows all."""

WORD, AWAY, AT = 7, 5, 5
"""Columns of the word, of the hours and minutes for which it has been so or will be, and of the time of day."""

LEAD = 12
"""Columns of what a line about a balloon begins with."""


BESIDE = 9
"""Columns after a curve, for the hours that it shows."""


LOOK_EVERY = timedelta(seconds=5)
"""Between two looks at what is due."""


class Watching:
    """Whether the watch is shown, what it shows, and what of that is new."""

    def __init__(self, on: bool = False) -> None:
        self.on = self._seen = on
        self._now: Attending | None = None
        self._looked: tuple[Course | None, datetime] = (None, datetime.min)
        """At which course it was looked, and when."""
        self._told: frozenset[Told] | None = None

    def change(self) -> None:
        """Shows it, or no longer; from now on nobody needs the hint that it is there."""
        self.on, self._seen = not self.on, True

    def look(self, course: Course, record: Record, at: datetime) -> Attending | None:
        """The due items, looked at again when the log has grown and every few seconds; None where it is not shown."""
        if not self.on:
            return None
        looked, when = self._looked
        if self._now is None or looked is not course or abs(at - when) >= LOOK_EVERY:
            self._now, self._looked = attending(course, at, record), (course, at)
        return self._now

    def rings(self, now: Attending, at: datetime) -> bool:
        """Whether something has become due since the last time; the first time nothing is new."""
        new = self._told is not None and bool(news(self._told, now, at))
        self._told = frozenset(key(one) for one in now.due if one.when != "next")
        return new

    def offer(self, course: Course) -> str:
        """One line that offers the watch where it could be, until somebody has seen it once."""
        return OFFER if not self.on and not self._seen and is_placed(course) else ""


class WatchPanel(Static):
    """Overdue, due and next items; hours up, step-down and leaks."""

    def show(self, now: Attending | None, course: Course, time: datetime) -> None:
        """Lays it out anew."""
        if now is None:
            return
        if not now.placed:
            self.update(Text("No tube is in according to the log: nothing to watch.", "dim"))
            return
        whole = Table.grid(padding=(0, 1, 0, 0), expand=True)
        whole.add_column(width=WORD + AWAY + AT + 2, no_wrap=True)
        whole.add_column(ratio=1)
        coming = 0
        for one in now.due:
            coming += one.when == "next"
            if coming > COMING:
                continue
            hours = one.away.removeprefix("in ").removesuffix(" ago")
            lead = Text()
            lead.append(f"{one.word if one.when != 'next' else 'in':<{WORD}}", STYLE[one.when])
            lead.append(f" {hours:>{AWAY}}", "bold" if one.when != "next" else "")
            lead.append(f" {one.at[-AT:]}")
            whole.add_row(lead, Text(f"{one.sign} {visible(one.title)}", "bold" if one.when != "next" else ""))
        if coming > COMING:
            whole.add_row("", Text(f"and {coming - COMING} later", "dim"))
        below = Table.grid(padding=(0, 1, 0, 0), expand=True)
        below.add_column(width=LEAD, no_wrap=True)
        below.add_column(ratio=1)
        curves = dict(pressures(course, time, max(self.size.width - LEAD - BESIDE, 8)))
        for what, how in now.state:
            below.add_row(Text(visible(what), "bold"), Text(visible(how), "dim" if what == "note" else ""))
            if what in curves:
                below.add_row("", Text(curves[what], "bold"))
        both = Table.grid(expand=True)
        both.add_row(whole)
        both.add_row(below)
        self.update(both)


class DueLine(Drawn):
    """The most urgent item, in one line; or the offer of the watch."""

    def show(self, now: Attending | None, offer: str) -> None:
        """Lays it out anew. Nothing of it is there without a watch and an offer."""
        text = Text(no_wrap=True, overflow="ellipsis")
        if now is not None:
            first = now.most_urgent
            text.append("WATCH: ", "bold")
            text.append(visible(now.first_line), STYLE[first.when] if first is not None else "dim")
        else:
            text.append(offer, "bold")
        self.set_class(now is None and not offer, "-empty")
        self.set_class(now is not None, "-due")
        self.draw(text)
