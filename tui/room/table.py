"""The log as a table: one line of the log a row. It shows the newest line unless the scribe has moved away from it.

Only the rows in sight are drawn, so that a key costs the same in a case of five thousand lines.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.events import Click
from textual.geometry import Size
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from log.basics.visible import visible
from log.definition.procedure import Procedure
from log.facts.line import Line
from log.words.wording import sentence, shown

HEADINGS = ("line", "time", "entry", "state", "heard")
NUMBER, TIME, STATE = 4, 8, 9
"""Columns of the first, the second and the fourth heading; the others share what is left."""

ENTRY_AT_LEAST, ENTRY_SHARE = 42, 0.6
HEARD_AT_LEAST = 16
"""With fewer columns left for it, what was heard is not shown: five letters of it help nobody."""


class LogTable(ScrollView, can_focus=True, inherit_bindings=False):
    """Cells are texts, never markup: what was heard or typed is only shown."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"log--heading", "log--odd", "log--even", "log--chosen"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "go(-1)", "earlier", show=False),
        Binding("down", "go(1)", "later", show=False),
        Binding("pageup", "go_a_page(-1)", "a page earlier", show=False),
        Binding("pagedown", "go_a_page(1)", "a page later", show=False),
        Binding("home,ctrl+home", "go(-1000000)", "first", show=False),
        Binding("end,ctrl+end", "go(1000000)", "newest", show=False),
    ]

    cursor_row: reactive[int] = reactive(0)
    """The row of the chosen line, from 0."""

    def __init__(self, procedure: Procedure) -> None:
        super().__init__(id="log")
        self._procedure = procedure
        self._lines: list[Line] = []

    @property
    def row_count(self) -> int:
        """The number of lines."""
        return len(self._lines)

    def fill(self, lines: Iterable[Line]) -> None:
        """All lines of a case that is resumed; the newest is chosen."""
        self._lines = list(lines)
        self._grown()
        self.cursor_row = self.row_count - 1

    def put(self, line: Line) -> None:
        """A line, new or as it stands now."""
        if line.number <= self.row_count:
            self._lines[line.number - 1] = line
            self.refresh()
            return
        at_the_end = self.cursor_row >= self.row_count - 1
        self._lines.append(line)
        self._grown()
        if at_the_end:
            self.cursor_row = self.row_count - 1

    def cells(self, number: int) -> tuple[Text, ...]:
        """What stands in the row of a line, from left to right."""
        return _cells(self._procedure, self._lines[number - 1])

    def _grown(self) -> None:
        self.virtual_size = Size(0, self.row_count + 1)

    def validate_cursor_row(self, row: int) -> int:
        """Within the log."""
        return max(0, min(row, self.row_count - 1))

    def watch_cursor_row(self) -> None:
        """The chosen row is always in sight."""
        self.keep_in_sight()
        self.refresh()

    def on_resize(self) -> None:
        """As well when there is less room."""
        self.keep_in_sight()

    def keep_in_sight(self) -> None:
        """Scrolls no further than it takes to show the chosen row, below the headings."""
        in_sight = max(self.scrollable_content_region.height - 1, 1)
        first = round(self.scroll_y)
        to = min(max(first, self.cursor_row - in_sight + 1), self.cursor_row)
        if to != first:
            self.scroll_to(y=to, animate=False, immediate=True, force=True)  # the bar comes later

    def action_go(self, rows: int) -> None:
        """Chooses an earlier or a later line."""
        self.cursor_row += rows

    def action_go_a_page(self, pages: int) -> None:
        """The same, as many lines further as there are in sight."""
        self.cursor_row += pages * max(self.scrollable_content_region.height - 2, 1)

    def on_click(self, event: Click) -> None:
        """Chooses the line that is clicked."""
        at = event.get_content_offset(self)
        if at is not None and at.y:
            self.cursor_row = round(self.scroll_y) + at.y - 1

    def render_line(self, y: int) -> Strip:
        """The headings, which do not scroll, or a line of the log."""
        row = round(self.scroll_y) + y - 1
        width = self.scrollable_content_region.width
        if y == 0:
            return self._strip(tuple(map(Text, HEADINGS)), width, "log--heading")
        if row >= self.row_count:
            return Strip.blank(width, self.rich_style)
        look = "log--chosen" if row == self.cursor_row else "log--odd" if row % 2 else "log--even"
        return self._strip(self.cells(row + 1), width, look)

    def _strip(self, cells: tuple[Text, ...], width: int, look: str) -> Strip:
        text = Text(no_wrap=True, end="")
        for cell, room in zip(cells, _widths(width), strict=False):
            cell.truncate(room, overflow="ellipsis", pad=True)
            text.append(" ").append_text(cell).append(" ")
        drawn = Strip(text.render(self.app.console)).crop_extend(0, width, None)
        return drawn.apply_style(self.get_component_rich_style(look))


def _widths(width: int) -> tuple[int, ...]:
    """Of each heading that there is room for."""
    left = width - NUMBER - TIME - STATE - 2 * len(HEADINGS)
    entry = max(ENTRY_AT_LEAST, round(left * ENTRY_SHARE))
    if left - entry < HEARD_AT_LEAST:
        return NUMBER, TIME, left + 2, STATE
    return NUMBER, TIME, entry, STATE, left - entry


def says(procedure: Procedure, line: Line) -> str:
    """A line in plain words; an open question with everything it could be."""
    if line.status == "asked":
        others = [f" or {shown(entry)}" for entry in line.candidates[1:]]
        return visible(f"{sentence(procedure, line.entry)}{''.join(others)}?")
    return visible(sentence(procedure, line.entry))


def _cells(procedure: Procedure, line: Line) -> tuple[Text, ...]:
    style = {"stands": "", "asked": "bold", "struck": "strike dim"}[line.status]
    return (
        Text(str(line.number)),
        Text(line.said_at.strftime("%H:%M:%S")),
        Text(says(procedure, line) + (" (late)" if line.late_reason else ""), style),
        Text(_state(line)),
        Text(visible(line.origin.heard), "dim"),
    )


def _state(line: Line) -> str:
    if line.status == "stands" and any(change.what == "amended" for change in line.holding):
        return "✎ amended"
    return {"stands": "✔ stands", "asked": "? ASKED", "struck": "✘ struck"}[line.status]
