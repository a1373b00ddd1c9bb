"""The panels of the room's screen. Words and signs carry the meaning; colour only repeats it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from rich.text import Text
from textual.widgets import Static

from log.basics.patterns import Level
from log.basics.visible import visible
from tui.live.view import Mode, State
from tui.room.theme import Look, look_of
from tui.views.bedside import Bedside, FindingAtAGlance, NextAtAGlance
from tui.views.hero import Hero, NewHigh, OpenQuestion
from tui.views.spoken_notes import NotesAtAGlance

EAR: Mapping[State, str] = MappingProxyType(
    {
        "starting": "… starting",
        "listening": "● LISTENING",
        "hearing": "◉ HEARING",
        "muted": "○ MUTED",
        "paused": "○ PAUSED",
        "lost": "✘ NO SOUND",
        "waiting for the key": "○ PRESS TO TALK",
        "stopped": "■ STOPPED",
    }
)
"""A sign and words for what the ear is doing."""

EAR_LEVEL: Mapping[State, Level] = MappingProxyType(
    {"lost": "high", "stopped": "high", "muted": "medium", "paused": "medium"}
)
"""How urgent a state is; all others are information."""

SILENT: tuple[State, ...] = ("lost", "stopped", "muted", "paused")
"""Whatever is said now is not heard."""

SUMS_FROM, ALL_SUMS_FROM = 38, 46
"""Lines of the screen from which there is room for what came out and what was given; for vital signs as well."""

MARGINS = 2
"""Columns beside the text of a panel that fills the width."""

TWO = 2
"""Rows of what is too important to be cut after one: the most urgent finding, what is wrong with the sound."""

METER_FROM_DB, METER_TO_DB, METER_WIDTH = -60.0, 0.0, 12


class Drawn(Static):
    """Drawn anew only when its text has changed: from second to second most of what the room shows stays as it is."""

    _text: Text | None = None

    @property
    def look(self) -> Look:
        """The styles of the room as it is shown now."""
        return look_of(self.app.theme, self.app.no_color)

    def draw(self, text: Text) -> None:
        """Shows this text."""
        if self._text is None or (text, text.style) != (self._text, self._text.style):
            self._text = text
            self.update(text)

    def draw_in_rows(self, text: Text, rows: int) -> None:
        """Shows as much of it as these rows take; what is cut ends in an ellipsis."""
        width = self.app.size.width - MARGINS
        lines = list(text.wrap(self.app.console, width))
        if len(lines) > rows:
            lines[rows - 1] = Text(" ").join(lines[rows - 1 :])
            lines[rows - 1].truncate(width, overflow="ellipsis")
        self.draw(Text("\n").join(lines[:rows]))


class Ear(Drawn):
    """The top line: whether anything is heard, how loud it is, and how one has to speak."""

    def show(
        self, state: State, why: str, how: str, db: float, clipped: bool, time: str, unsaved: bool = False
    ) -> None:
        """Lays it out anew. `unsaved`: the disk takes nothing, which stands here whatever else fills the screen."""
        text = Text(no_wrap=True, overflow="ellipsis")
        alarm = state in SILENT
        text.append(f" {EAR[state]} ", style=self.look.bar[EAR_LEVEL.get(state, "information")])
        text.append(f" {time} ")
        if unsaved:
            text.append(" ✘ NOT SAVING ", style=self.look.bar["high"])
        if why:
            text.append(f" {visible(why)} ", style="bold")
        if not alarm:
            text.append(f" {meter(db)}{' TOO LOUD' if clipped else ''} ")
            text.append(f" {how}")
        self.set_class(state in ("lost", "stopped"), "-alarm")
        self.draw(text)


def spoken_how(mode: Mode, lead_word: str, coming: Mode | None = None) -> str:
    """How an entry has to be said so that it is one, and how it will have to be soon."""
    ways = {"lead word": f'say "{lead_word}" first', "push to talk": "hold SPACE and speak", "open": "just speak"}
    return ways[mode] + (f" ... changing to {coming}" if coming not in (None, mode) else "")


def meter(db: float) -> str:
    """A level as a bar: [######      ]."""
    share = (db - METER_FROM_DB) / (METER_TO_DB - METER_FROM_DB)
    full = round(max(0.0, min(1.0, share)) * METER_WIDTH)
    return f"[{'#' * full}{' ' * (METER_WIDTH - full)}]"


class Caution(Drawn):
    """The words that always stand on the screen: who decides."""

    def show(self, words: str) -> None:
        """Lays it out anew."""
        self.draw(Text(visible(words), self.look.soft))


class CheckLine(Drawn):
    """How well the room can be heard, or what is wrong with the case, until somebody takes it away."""

    def show(self, words: str) -> None:
        """Lays it out anew; nothing of it is there without words."""
        self.display = bool(words)
        self.draw_in_rows(Text(words, "bold"), TWO)


class Glance(Drawn):
    """Tube, clocks, what is open and the sums."""

    def show(self, now: Bedside) -> None:
        """Lays it out anew."""
        text = Text()
        tube = dict(now.tube)
        for left, right in (("tube", "traction"), ("position", "depth")):
            _item(text, left, f"{visible(tube[left])[:11]:<12}")
            _item(text, right, tube[right], 9)
            text.append("\n")
        for clock in now.clocks:
            title = visible(clock.title.removeprefix("since ").removeprefix("the "))
            text.append(f"{title:<25} {clock.elapsed:>8} ")
            text.append(clock.due, self.look.bar["medium"] if clock.overdue else "")
            text.append("\n")
        numbers = ", ".join(map(str, now.not_confirmed))
        _item(text, "unconfirmed", f"line {numbers}" if numbers else "nothing")
        text.append("\n")
        _item(text, "not heard", now.gaps)
        for what, how in now.sums[: _sums_shown(self.app.size.height)]:
            text.append("\n")
            _item(text, what, how)
        self.draw(text)


def _sums_shown(rows: int) -> int | None:
    """How many of the sums there is room for; findings come first."""
    return None if rows >= ALL_SUMS_FROM else 2 if rows >= SUMS_FROM else 0


def _item(text: Text, label: str, value: str, width: int = 12) -> None:
    text.append(f"{label:<{width}}")
    text.append(visible(value), style="bold")


class Simulation(Drawn):
    """The mark of a rehearsal, and the events played to the team: the newest in full, the third in a line."""

    def show(self, banner: str, played: tuple[str, ...]) -> None:
        """Lays it out anew; a case with a patient has nothing of it."""
        self.display = bool(banner)
        width = max(self.size.width, 40)
        text = Text()
        text.append(f" {visible(banner)} ".ljust(width), style="bold reverse")
        for number, event in enumerate(played):
            text.append("\n")
            line = f">> PLAYED {event}" if number == 0 else f"   before {event}"
            cut = number > 1 and len(line) > width
            text.append(f"{line[: width - 4]} ..." if cut else line, style="" if number else "bold")
        self.draw(text)


class NextStep(Drawn):
    """The next step of the protocol and how it is said, in one line; then the earlier steps that are not logged, some
    and the number of the others where there is no room for all, nothing where there is none for that.
    """

    def show(self, coming: NextAtAGlance | None) -> None:
        """Lays it out anew."""
        self.display = coming is not None
        if coming is None:
            return
        text = Text()
        text.append("NEXT: ", style="bold")
        if coming.what:
            text.append(visible(coming.what), style="bold")
            self._append(text, [f'  say: "{visible(coming.say)}"'])
        else:
            text.append("nothing more by the protocol: watch clocks and pressures", style=self.look.soft)
        if coming.passed_over:
            self._append(text, (f"   {words}" for words in _not_logged(coming.passed_over)), self.look.soft)
        self.draw_in_rows(text, 1)

    def _append(self, text: Text, wordings: Iterable[str], style: str = "") -> None:
        """The first of the wordings for which there is room."""
        left = self.app.size.width - MARGINS - text.cell_len
        text.append(next((words for words in wordings if len(words) <= left), ""), style)


def _not_logged(steps: Sequence[str]) -> Iterator[str]:
    """All of them by name, then fewer and fewer of them, then only how many."""
    yield f"not logged: {visible(', '.join(steps))}"
    for named in range(len(steps) - 1, 0, -1):
        yield f"not logged: {visible(', '.join(steps[:named]))} and {len(steps) - named} more"
    yield f"{len(steps)} not logged"


class SpokenNotes(Drawn):
    """Whether a spoken note is being taken, in one line that cannot be overlooked; what waits to be transcribed."""

    def show(self, notes: NotesAtAGlance | None) -> None:
        """Lays it out anew."""
        self.display = notes is not None
        if notes is not None:
            style = self.look.bar["medium"] if notes.now else ""
            self.draw(Text(f" {visible(notes.text)} ", style, no_wrap=True, overflow="ellipsis"))


class Findings(Drawn):
    """Findings: the most urgent first, acknowledged ones below them, and in one line those that are over."""

    def show(self, now: Bedside) -> None:
        """Lays it out anew."""
        text = Text()
        for found in now.findings:
            append_finding(text, found, self.look)
            text.append("\n")
        if not now.findings:
            text.append("No open findings.\n", style=self.look.soft)
        if now.back_in_range:
            text.append(f"✔ back in range: {visible('; '.join(now.back_in_range))}\n", style=self.look.soft)
        text.right_crop(1)
        self.draw(text)


class Urgent(Drawn):
    """Lines that nobody has confirmed and the most urgent finding, where there is no room for all."""

    def show(self, now: Bedside, hero: Hero) -> None:
        """Lays it out anew, without what stands in the banner or is the question of the moment."""
        asked = hero.last.number if isinstance(hero, OpenQuestion) else None
        lines = [str(number) for number in now.not_confirmed if number != asked]
        waiting = [found for found in now.findings if not found.acknowledged]
        text = Text()
        if lines:
            text.append(f" ? NOT CONFIRMED: line {', '.join(lines)} ", self.look.bar["medium"])
            text.append("  ")
        if waiting and not isinstance(hero, NewHigh):
            text.append(f"{len(waiting)} open " if len(waiting) > 1 else "")
            append_finding(text, waiting[0], self.look)
        elif not waiting:
            text.append("No open findings.", style=self.look.soft)
        self.display = bool(text)
        self.draw_in_rows(text, TWO)


def append_finding(text: Text, found: FindingAtAGlance, look: Look) -> None:
    """Sign, word and message; one that was acknowledged is less prominent."""
    where = f"line {found.line}: " if found.line is not None else ""
    if found.acknowledged:
        text.append(f"✔ {found.level} ({visible(found.acknowledged)}) {where}{visible(found.message)}", look.soft)
        return
    text.append(f" {found.sign} {found.level.upper()} ", style=look.bar[found.level])
    text.append(f" {where}{visible(found.message)}")
