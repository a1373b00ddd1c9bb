"""The balloons, always in sight: one line where it is narrow, else a bar against its limits for each number."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from log.basics.visible import visible
from tui.room.panels import Drawn
from tui.room.theme import Look
from tui.views.balloons import ARROWS, BalloonAtAGlance, Gauge, TubeAtAGlance

BAR = 14
"""Columns of a bar."""
HEADROOM = 1.25
"""A bar ends this much above the upper bound."""
NAME, VALUE, BOUNDS = 12, 12, 14
"""Columns of the name of a balloon, of a number, and of its limits."""
SIGN = {"above": "▲", "below": "▼", "": ""}
SHORT = {"oesophageal": "oesoph"}
"""Where there is no room for the whole word."""

Piece = tuple[str, str]
"""Words, and their style."""


class Balloons(Drawn):
    """The content of the balloons, and what they rely on."""

    def show(self, now: TubeAtAGlance, bars: bool) -> None:
        """Lays it out anew: with bars in a line for each balloon and one below them, else all in one line."""
        text = Text(no_wrap=True, overflow="ellipsis")
        if bars:
            for balloon in now.balloons:
                _row(text, balloon, self.look)
            _append(text, _below(now, self.look), "   ")
        else:
            _append(text, _in_one_line(now, self.look, self.size.width), " ")
        self.draw(text)


def _row(text: Text, balloon: BalloonAtAGlance, look: Look) -> None:
    text.append(f"{visible(balloon.site):<{NAME}}", "bold")
    for gauge in (balloon.filled, balloon.held):
        beyond = f" {SIGN[gauge.beyond]} {gauge.beyond.upper()} " if gauge.beyond else ""
        text.append(f"{gauge.text + ARROWS[gauge.way]:<{VALUE}}", look.text["high"] if gauge.beyond else "bold")
        text.append(f"{bar(gauge)} ", look.text["high"] if gauge.beyond else "")
        text.append(f"{_bounds(gauge):<{BOUNDS - len(beyond)}}", look.soft)
        text.append(beyond, look.bar["high"])
        text.append("  ")
    text.append("\n")


def bar(gauge: Gauge) -> str:
    """A number on its scale: full up to the least that it is, shaded up to the most, a stroke at each bound."""
    most = gauge.values[-1] if gauge.values else 0
    top = max(most, (gauge.high or 0) * HEADROOM, 1)
    places = [round(value / top * BAR) for value in (gauge.values[0] if gauge.values else 0, most)]
    signs = ["█" if at < places[0] else "▒" if at < places[1] else "·" for at in range(BAR)]
    for bound in (gauge.low, gauge.high):
        if bound:
            at = min(round(bound / top * BAR), BAR - 1)
            signs[at] = "╂" if signs[at] in "█▒" else "│"
    return "".join(signs)


def _bounds(gauge: Gauge) -> str:
    return gauge.bounds.removesuffix(f" {gauge.unit}")


def _below(now: TubeAtAGlance, look: Look) -> Iterator[Piece]:
    film = f"{'✔' if now.confirmed else '✘'} film {now.film}"
    yield visible(film), _film_style(now, look)
    yield f"{'▲ ' if now.moved else ''}mark {visible(now.mark)}", look.text["high"] if now.moved else "bold"
    yield (f"up {now.up} h" if now.up else "both down" if len(now.balloons) == 2 else "not up"), "bold"
    yield (f" !!! {now.high} HIGH open " if now.high else "no HIGH open"), look.bar["high"] if now.high else look.soft


def _in_one_line(now: TubeAtAGlance, look: Look, width: int) -> Sequence[Piece]:
    """The longest wording that fits; where none does, the open findings come first, so that they are never cut."""
    wordings = [list(_pieces(now, look, tight)) for tight in range(4)]
    fitting = (pieces for pieces in wordings if sum(len(words) + 1 for words, _ in pieces) <= width)
    return next(fitting, [wordings[-1][-1], *wordings[-1][:-1]])


def _pieces(now: TubeAtAGlance, look: Look, tight: int) -> Iterator[Piece]:
    for balloon in now.balloons:
        name = visible(balloon.site)
        name = name if tight == 0 else SHORT.get(name, name) if tight < 3 else name[:5]
        yield name, look.soft
        for gauge in (balloon.filled, balloon.held):
            words = gauge.text.replace(" ", "") if tight > 1 else gauge.text
            yield f"{words}{SIGN[gauge.beyond]}", look.text["high"] if gauge.beyond else "bold"
    yield f"film {'✔' if now.confirmed else '✘'}", _film_style(now, look)
    mark = now.mark.partition(",")[0].replace("not logged", "--")
    mark = mark.removesuffix(" cm") if tight else mark
    yield f"mark {mark}{'▲' if now.moved else ''}", look.text["high"] if now.moved else "bold"
    yield (f"up {now.up}h" if now.up else "down"), "bold"
    yield (f" {now.high} HIGH " if now.high else "0 HIGH"), look.bar["high"] if now.high else look.soft


def _film_style(now: TubeAtAGlance, look: Look) -> str:
    """A film that is missing matters once there is air in a balloon."""
    return "bold" if now.confirmed else look.text["medium"] if now.up else look.soft


def _append(text: Text, pieces: Sequence[Piece] | Iterator[Piece], between: str) -> None:
    for number, (words, style) in enumerate(pieces):
        text.append(between if number else "")
        text.append(words, style)
