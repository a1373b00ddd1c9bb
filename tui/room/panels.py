"""What stands where on the room's screen. Words and signs carry the meaning; colour only repeats it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from rich.text import Text
from textual.widgets import Static

from log.procedure import Level
from log.visible import visible
from tui.bedside import Bedside, LastEntry, Standing
from tui.listening import Mode, State
from tui.room.big import large

STYLE: Mapping[Level, str] = MappingProxyType(
    {"high": "bold reverse", "medium": "bold", "low": "", "information": "dim"}
)

STANDING: Mapping[Standing, str] = MappingProxyType(
    {
        "STANDS": "✔ STANDS",
        "ANSWERED": "✔ CONFIRMED",
        "AMENDED": "✎ AMENDED",
        "ASKED": "? ASKED - counts in no total",
        "STRUCK": "✘ STRUCK",
    }
)

EAR: Mapping[State, str] = MappingProxyType(
    {
        "starting": "… starting",
        "listening": "● LISTENING",
        "hearing": "◉ HEARING",
        "deaf": "○ DEAF",
        "lost": "✘ NO SOUND",
        "waiting for the key": "○ PRESS TO TALK",
        "stopped": "■ STOPPED",
    }
)
"""A sign and words for what the ear is doing."""

Row = tuple[str, str]

METER_FROM_DB, METER_TO_DB, METER_WIDTH = -60.0, 0.0, 12


class Ear(Static):
    """The top line: whether anything is heard, how loud it is, and how one has to speak."""

    def show(self, state: State, why: str, mode: Mode, lead_word: str, db: float, clipped: bool, time: str) -> None:
        """Lays it out anew."""
        spoken = {"lead word": f'say "{lead_word}" first', "push to talk": "hold SPACE", "open": "no lead word"}[mode]
        text = Text()
        text.append(f" {EAR[state]} ", style="bold reverse" if state in ("lost", "stopped", "deaf") else "bold")
        text.append(f" {meter(db)}{' TOO LOUD' if clipped else ''} ")
        text.append(f" {spoken} · {time} ")
        if why:
            text.append(f" {visible(why)}", style="bold" if state == "lost" else "")
        self.set_class(state in ("lost", "stopped"), "-alarm")
        self.update(text)


def meter(db: float) -> str:
    """A level as a bar: [######      ]."""
    share = (db - METER_FROM_DB) / (METER_TO_DB - METER_FROM_DB)
    full = round(max(0.0, min(1.0, share)) * METER_WIDTH)
    return f"[{'#' * full}{' ' * (METER_WIDTH - full)}]"


class ReadBackPanel(Static):
    """The last entry, large."""

    def show(self, last: LastEntry | None, partial: str, missed: str) -> None:
        """Lays it out anew. `partial`: what is being said now; `missed`: what was not understood just before."""
        text = Text()
        if partial:
            text.append(f"… {visible(partial)}\n", style="italic")
        elif missed:
            text.append(f"{visible(missed)}\n", style="italic")
        else:
            text.append("\n")
        if last is None:
            text.append("\nNothing is logged yet.\n", style="bold")
            self.update(text)
            return
        struck = "strike" if last.standing == "STRUCK" else ""
        text.append(f"{last.number} · {visible(last.what)}\n", style=f"bold {struck}")
        if last.large:
            text.append(f"\n{large(last.large)}  {last.unit}\n", style=f"bold {struck}")
            text.append(f"\n{visible(last.value)} · {last.digits}", style=f"bold {struck}")
        else:
            text.append(f"\n{visible(last.value).upper()}\n", style=f"bold {struck}")
        if last.total:
            text.append(f"   → {visible(last.total)}")
        text.append(f"\n{STANDING[last.standing]}", style="bold reverse" if last.standing == "ASKED" else "bold")
        if last.answers:
            text.append(f"\nSay {visible(', '.join(last.answers))}. ({visible(last.reason)})")
        self.set_class(last.standing == "ASKED", "-asked")
        self.update(text)


class Glance(Static):
    """Balloons, tube, clocks and what is open."""

    def show(self, now: Bedside) -> None:
        """Lays it out anew."""
        text = Text()
        for balloon in now.balloons:
            text.append(f"{balloon.site:<12}", style="bold")
            text.append(f"{balloon.volume}, {balloon.pressure}", style="bold")
            text.append(f"  {balloon.doubt} THE LIMIT" if balloon.doubt else "", style="bold reverse")
            ranges = ", ".join(part for part in (balloon.volume_range, balloon.pressure_range) if part)
            text.append(f"\n{'':<12}{ranges}\n", style="dim")
        for left, right in pairwise_of(now.tube):
            text.append(f"{_told(left):<27}{_told(right)}\n")
        for clock in now.clocks:
            text.append(f"{clock.title.removeprefix('since ').removeprefix('the '):<25}{clock.elapsed:>8}  ")
            text.append(f"{clock.due}\n", style="bold reverse" if clock.overdue else "")
        numbers = ", ".join(map(str, now.not_confirmed))
        text.append(f"not confirmed: {f'line {numbers}' if numbers else 'nothing'}", style="bold" if numbers else "")
        text.append(f"\ngaps: {visible(now.gaps)}")
        self.update(text)


def pairwise_of(rows: Sequence[Row]) -> Iterator[tuple[Row, Row]]:
    """Two and two, so that six take three lines."""
    for start in range(0, len(rows), 2):
        yield rows[start], rows[start + 1] if start + 1 < len(rows) else ("", "")


def _told(row: Row) -> str:
    return f"{row[0]}: {row[1]}" if row[0] else ""


class Findings(Static):
    """What the rules say, the most urgent first."""

    def show(self, now: Bedside) -> None:
        """Lays it out anew."""
        if not now.findings:
            self.update(Text("No finding is open.", style="dim"))
            return
        text = Text()
        for found in now.findings:
            where = f" (line {found.line})" if found.line is not None else ""
            text.append(f"{found.sign:>3} {found.level.upper()}{where}: ", style=STYLE[found.level])
            text.append(f"{visible(found.message)}\n")
        self.update(text)
