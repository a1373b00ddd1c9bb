"""How something is said, looked up as one types, at the foot of the screen: below what the room has to see."""

from __future__ import annotations

from typing import ClassVar

from rich.table import Table
from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from log.basics.entry import Question, Understood
from log.basics.visible import visible
from log.words.wording import sentence
from tui.room.theme import look_of
from voice.meaning.how_said import HowSaid, how_said, search
from voice.meaning.matcher import understand
from voice.phrases.phrases import Phrases

MOST = 6
"""Ways of saying one kind of entry that are listed."""

HINT = "type what you look for, or a whole entry to try it"
KEYS = "arrows: more · [@click=screen.dismiss]escape: back[/] · N: any number, said twice: fifty, five zero"


class PhrasePage(ModalScreen[None]):
    """Every kind of entry and how it is said; what is typed narrows it down, and is tried as an entry."""

    VERTICAL_BREAKPOINTS = [(0, "-low"), (34, "-middle"), (54, "-tall")]  # noqa: RUF012  the library's own list
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "back"),
        Binding("down", "scroll(1)", "more"),
        Binding("up", "scroll(-1)", "back"),
        Binding("pagedown", "scroll(6)", "more"),
        Binding("pageup", "scroll(-6)", "back"),
    ]

    def __init__(self, phrases: Phrases) -> None:
        super().__init__()
        self._phrases = phrases
        self._known: tuple[HowSaid, ...] = ()

    def compose(self) -> ComposeResult:
        """A line to type in, what it means, and what there is."""
        with Vertical(id="phrases"):
            yield Input(id="phrases-typed", placeholder=HINT)
            yield Label("", id="phrases-meaning", markup=False)
            with VerticalScroll(id="phrases-box", can_focus=False):
                yield Static("looking up ...", id="phrases-found", markup=False)
            yield Label(Content.from_markup(KEYS), id="phrases-keys")

    def on_mount(self) -> None:
        """The list takes a moment the first time: the screen does not wait for it."""
        self._look_up()

    @work(thread=True)
    def _look_up(self) -> None:
        known = how_said(self._phrases)
        self.app.call_from_thread(self._show, known)

    def _show(self, known: tuple[HowSaid, ...]) -> None:
        self._known = known
        self._lay_out(self.query_one(Input).value)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Looks for it, and says what it would be as an entry."""
        self.query_one("#phrases-meaning", Label).update(visible(tried(self._phrases, event.value)))
        if self._known:
            self._lay_out(event.value)

    def action_scroll(self, rows: int) -> None:
        """Moves the list."""
        self.query_one("#phrases-box", VerticalScroll).scroll_relative(y=rows, animate=False)

    def _lay_out(self, typed: str) -> None:
        look = look_of(self.app.theme, self.app.no_color)
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(style="bold", max_width=26)
        table.add_column()
        for found in search(self._known, typed, MOST):
            table.add_row(Text(visible(found.title)), Text(visible(" · ".join(found.ways))))
        nothing = Text("Nothing is said with these words. Say it as you like: what is unclear is asked.", look.soft)
        self.query_one("#phrases-found", Static).update(table if table.row_count else nothing)
        self.query_one("#phrases-box", VerticalScroll).scroll_home(animate=False)


def tried(phrases: Phrases, typed: str) -> str:
    """What the log would do with these words: "logged: gastric pressure 25 mmHg"; "" for none."""
    if not typed.strip():
        return ""
    meaning = understand(phrases, typed)
    if not isinstance(meaning, Understood):
        return f"no entry yet: {meaning.why}"
    return "; ".join(
        f"? asked: {item.text}" if isinstance(item, Question) else f"→ {sentence(phrases.procedure, item)}"
        for item in meaning.items
    )
