"""The thing that matters now, as large as there is room for it: figures in blocks, those of a question hollow; words as
words, unless they are the alarm.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from rich.text import Text

from log.basics.patterns import Level
from log.basics.visible import visible
from log.words.wording import SIGNS
from tui.room.big import as_large, hollow, large_words
from tui.room.panels import Drawn, append_finding
from tui.views.hero import (
    Due,
    Emergency,
    Hero,
    NewHigh,
    Nothing,
    NotUnderstood,
    OpenQuestion,
    Paused,
    Pressures,
    Reading,
    Trouble,
)
from tui.views.last_entry import LastEntry, Standing

STANDING: Mapping[Standing, str] = MappingProxyType(
    {
        "STANDS": "✔ STANDS",
        "ANSWERED": "✔ CONFIRMED",
        "AMENDED": "✎ AMENDED",
        "ASKED": "? ASKED: in no total yet",
        "STRUCK": "✘ STRUCK",
    }
)

BESIDE = 4
"""Rows around the figures: what is being said, the name, the digits, the standing."""

ANSWERS = 2
"""Rows for the words that answer a question, where it is narrow."""

WIDE = 110
"""Columns from which the banner names its key; the foot of the screen does as well."""

ALARM_ROWS = 21
"""Rows that the words of an alarm may take."""


class HeroPanel(Drawn):
    """The thing that matters now."""

    def show(self, hero: Hero, partial: str) -> None:
        """Lays it out anew. `partial`: words that are being said."""
        text = Text()
        said = f"… {visible(partial)}" if partial else ""
        text.append(f"{said}\n", style="italic")
        match hero:
            case OpenQuestion():
                self._question(text, hero, bool(partial))
            case NotUnderstood():
                self._not_understood(text, hero, bool(partial))
            case Trouble():
                self._trouble(text, hero.what, hero.why, "high", hero.before, "" if partial else hero.missed)
            case Paused():
                self._trouble(text, "PAUSED", hero.why, "medium", hero.before)
            case NewHigh(last=LastEntry() as last):
                self._read_back(text, last, "high" if hero.of_the_last else None)
            case Reading():
                self._read_back(text, hero.last)
            case Due():
                self._due(text, hero)
            case Pressures():
                self._pressures(text, hero)
            case Nothing():
                drawn = large_words(visible(hero.lead_word), self.size.width, self._rows)
                above, below = self._spaced(drawn)
                text.append(f"Say\n{above}{drawn}\n{below}\nthen what was done. Nothing is logged yet.", "bold")
            case NewHigh() | Emergency():
                pass  # the banner, or a page of its own, says it
        self.set_class(isinstance(hero, OpenQuestion), "-asked")
        self.draw(text)

    @property
    def _rows(self) -> int:
        return max(self.size.height - BESIDE, 3)

    def _spaced(self, drawn: str, rows: int = BESIDE) -> tuple[str, str]:
        """Empty rows before and after what is drawn, where there is room for them beside so many others."""
        left = self.size.height - drawn.count("\n") - 1 - rows
        return ("\n" if left >= 2 else "", "\n" if left >= 1 else "")

    def _question(self, text: Text, hero: OpenQuestion, speaking: bool) -> None:
        last, look = hero.last, self.look
        if hero.missed and not speaking:
            text.append(f"✘ {visible(hero.missed)}\n", look.text["medium"])
        text.append(f"{last.number} · {visible(last.what)}  ", "bold")
        text.append(f" {STANDING[last.standing]} ", look.bar["medium"])
        drawn = hollow(tuple(map(visible, last.readings)), self.size.width, self._rows)
        above, below = self._spaced(drawn, BESIDE + ANSWERS)
        unit = f"  {visible(last.unit)}" if last.unit else ""
        text.append(f"\n{above}{_with_unit(drawn, unit, self.size.width)}\n{below}", look.text["medium"])
        if last.answers:
            text.append(f"Say {visible(', '.join(last.answers))}.", "bold")
        text.append(f" ({visible(last.reason)})", look.soft)

    def _not_understood(self, text: Text, hero: NotUnderstood, speaking: bool) -> None:
        look = self.look
        text.append(" ✘ NOT LOGGED ", look.bar["medium"])
        text.append(f" {visible(hero.missed.removeprefix('NOT LOGGED: '))}\n", "bold")
        drawn = large_words("say again", self.size.width, min(self._rows, ALARM_ROWS))
        above, below = self._spaced(drawn)
        text.append(f"{above}{drawn}\n{below}", look.text["medium"])
        _before(text, hero.before)

    def _trouble(
        self, text: Text, what: str, why: str, level: Level, before: LastEntry | None, missed: str = ""
    ) -> None:
        look = self.look
        if missed:
            text.append(f"✘ {visible(missed)}\n", look.text["medium"])
        text.append(f" {SIGNS[level]} ", look.bar[level])
        text.append(f" {visible(why)}\n", "bold")
        drawn = large_words(what, self.size.width, min(self._rows, ALARM_ROWS))
        above, below = self._spaced(drawn)
        text.append(f"{above}{drawn}\n{below}", look.text[level])
        _before(text, before)

    def _read_back(self, text: Text, last: LastEntry, level: str | None = None) -> None:
        look = self.look
        struck = " strike" if last.standing == "STRUCK" else ""
        style = look.text["high"] if level else look.soft if struck else "bold"
        text.append(f"{last.number} · {visible(last.what)}\n", f"bold{struck}")
        drawn = as_large(last.large, self.size.width, self._rows) if last.large else ""
        above, below = self._spaced(drawn)
        if drawn:
            text.append(f"{above}{_with_unit(drawn, f'  {visible(last.unit)}', self.size.width)}\n{below}", style)
        parts = [visible(last.value), last.digits] if last.large else [visible(last.value)]
        text.append(" · ".join(part for part in parts if part), f"bold{struck}")
        text.append(f"   → {visible(last.total)}" if last.total else "", "bold")
        loud = look.bar["medium"] if last.standing == "STRUCK" else "bold"
        text.append("\n")
        text.append(f" {STANDING[last.standing]} ", loud)

    def _due(self, text: Text, hero: Due) -> None:
        one, look = hero.one, self.look
        late = one.when != "next"
        text.append(f" {one.sign} {one.word} ", look.bar["medium" if late else "information"])
        text.append(f"  {visible(one.title)}\n", "bold")
        hours = one.away.removeprefix("in ").removesuffix(" ago")
        drawn = as_large(hours, self.size.width, self._rows)
        unit = "  h late" if late else "  h to go"
        above, below = self._spaced(drawn)
        style = look.text["medium"] if late else "bold"
        text.append(f"{above}{_with_unit(drawn, unit, self.size.width)}\n{below}", style)
        text.append(f"since {one.at}" if late else f"at {one.at}", "bold")
        text.append(f"   and {hero.others} more" if hero.others else "", look.soft)
        _before(text, hero.last, "\n")

    def _pressures(self, text: Text, hero: Pressures) -> None:
        for site, mmhg in hero.read:
            text.append(f"{visible(site)} pressure\n", "bold")
            if mmhg:
                drawn = as_large(mmhg, self.size.width, self._rows // len(hero.read) - 1)
                text.append(_with_unit(drawn, "  mmHg", self.size.width), "bold")
            else:
                text.append("not read", self.look.soft)
            text.append("\n")


class Banner(Drawn):
    """A finding of high priority, over the whole width, until somebody acknowledges it or it is back in range."""

    def show(self, hero: Hero) -> None:
        """Lays it out anew; nothing of it is there without such a finding."""
        self.display = isinstance(hero, NewHigh)
        if not isinstance(hero, NewHigh):
            return
        more = f"   and {hero.others} more HIGH" if hero.others else ""
        hint = "   f: acknowledge" if self.size.width >= WIDE else ""
        bar = self.look.bar["high"]
        text = Text(style=bar)
        append_finding(text, hero.found, self.look)
        text.append(f"{more}{hint}")
        self.draw(text)


def _with_unit(drawn: str, unit: str, width: int) -> str:
    """The unit beside the last row of the figures, where there is room for it; it stands in the line below as well."""
    rows = drawn.split("\n")
    rows[-1] += unit if len(rows[-1] + unit) <= width else ""
    return "\n".join(rows)


def _before(text: Text, last: LastEntry | None, between: str = "") -> None:
    if last is not None:
        text.append(f"{between}last: {last.number} · {visible(last.what)} {visible(last.value)}")
