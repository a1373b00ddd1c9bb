"""The log as a table: one line of the log a row. It shows the newest line unless the scribe has moved away from it."""

from __future__ import annotations

from collections.abc import Iterable

from rich.text import Text
from textual.widgets import DataTable

from log.basics.visible import visible
from log.definition.procedure import Procedure
from log.facts.line import Line
from log.words.wording import sentence, shown

COLUMNS = (("line", 4), ("time", 8), ("entry", 42), ("state", 9), ("heard", 40))


class LogTable(DataTable[Text]):
    """Cells are texts, never markup: what was heard or typed is only shown."""

    def __init__(self, procedure: Procedure) -> None:
        super().__init__(id="log", cursor_type="row", zebra_stripes=True)
        self._procedure = procedure

    def on_mount(self) -> None:
        """The columns."""
        for name, width in COLUMNS:
            self.add_column(name, key=name, width=width)

    def fill(self, lines: Iterable[Line]) -> None:
        """All lines of a case that is resumed; the newest is chosen once they are there, for each choice looks at all
        rows."""
        for line in lines:
            self.add_row(*_cells(self._procedure, line), key=str(line.number))
        self.move_cursor(row=self.row_count - 1)

    def put(self, line: Line) -> None:
        """A line, new or as it stands now."""
        cells = _cells(self._procedure, line)
        key = str(line.number)
        if key in self.rows:
            for (name, _), cell in zip(COLUMNS, cells, strict=True):
                self.update_cell(key, name, cell)
            return
        at_the_end = self.cursor_row >= self.row_count - 1
        self.add_row(*cells, key=key)
        if at_the_end:
            self.move_cursor(row=self.row_count - 1)


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
