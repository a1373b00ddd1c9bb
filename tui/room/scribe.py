"""What the scribe does at the keyboard. Each key ends in facts that the one writing thread puts on disk, or in a form
that stays open with the reason why not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from typing import ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Input

from log.basics.entry import Entry
from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.definition.procedure import LEVELS
from log.facts.events import Fact, Sound
from log.facts.line import Line
from log.facts.note_taking import announces
from log.facts.record import Record
from log.facts.spoken_notes import spoken_note, spoken_notes
from log.rules.course import Course
from log.rules.emergency import Call
from log.scribe.correct import Correction
from log.scribe.session import Session, wall_clock
from tui.live.listening import Listening
from tui.live.view import Mode
from tui.live.writing import Doing
from tui.room import forms
from tui.room.dialogs import Form, Help
from tui.room.help import help_text
from tui.room.keys import key_name
from tui.room.table import LogTable
from voice.phrases.phrases import Phrases
from voice.sound.audio import flac, sound_of

MODES: tuple[Mode, ...] = ("lead word", "push to talk", "open")

WHILE_ALARMED = ("talk", "scratch")
"""What the keys do while an emergency is up, beside its own: no form goes over it."""


class Scribe(App[None]):
    """The keys. `record` and `course` are what the screen shows; the session is touched by the writing thread only."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "exclamation_mark",
            "emergency",
            "EMERGENCY",
            priority=True,
            tooltip="What to do when the tube blocks the airway, at once and over everything (ctrl+e while you type).",
        ),
        Binding("ctrl+e", "emergency(True)", priority=True, show=False),
        Binding("space", "talk", "talk", tooltip="What is said in the next second is for the log (push to talk)."),
        Binding("question_mark", "help", "help", tooltip="Open this page."),
        Binding("c", "answer", "confirm", tooltip="Answer the question that is open: the first value is right."),
        Binding("x", "scratch", "scratch", tooltip="Strike the newest line at once."),
        Binding("e", "amend", "amend", tooltip="Give the chosen line another value or time, with a reason."),
        Binding("d", "strike", "strike", tooltip="Strike the chosen line, with a reason."),
        Binding("n", "late", "late", tooltip="Enter what happened earlier and is not in the log."),
        Binding("t", "note", "note", tooltip="Write free words about a line, or about this moment."),
        Binding(
            "h", "write_out", "words", tooltip="Hear a spoken note and write it out; nothing else is heard meanwhile."
        ),
        Binding("f", "acknowledge", "finding", tooltip="Say that a finding was seen, and why it may stand."),
        Binding("p", "play", "play", tooltip="Listen to the sound of the chosen line."),
        Binding("i", "identify", "team", tooltip="Write down who is here, and which tube it is."),
        Binding("w", "watch", "watch", tooltip="Show what is due for a placed tube, or again what the placing needs."),
        Binding("m", "mode", "mode", tooltip="Change how entries are said: lead word, talk key, or just speak."),
        Binding("s", "sound", "sound", tooltip="Check the sound anew, or take its line away."),
        Binding("r", "again", "retry", tooltip="Listen again after the microphone has failed for good."),
        Binding("q", "leave", "end", tooltip="End listening and close the case, after asking."),
    ]
    """Each with a word for the foot of the screen and a sentence for the help."""

    def __init__(
        self,
        session: Session,
        phrases: Phrases,
        scribe: str,
        play: Callable[[bytes], None] | None = None,
        now: Callable[[], datetime] | None = None,
    ) -> None:
        """`play`: plays a FLAC file; `now`: the time in the room, for tests."""
        super().__init__()
        self.session, self.phrases, self.scribe = session, phrases, scribe
        self.record: Record = session.record
        self.course: Course = session.course
        self.listening: Listening | None = None
        self.why_ended = "ended by the scribe"
        self.watching = self.watched = False
        """Whether the watch is shown, and whether it was once."""
        self._play, self._now = play, now

    @property
    def time(self) -> datetime:
        """The time in the room."""
        if self._now is not None:
            return self._now()
        return self.listening.time if self.listening else wall_clock()

    @property
    def room(self) -> Screen[object]:
        """The screen below any form."""
        return self.screen_stack[0]

    def told(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said; they are on disk."""
        raise NotImplementedError

    def failed(self, error: TamponadeError) -> None:
        """Something that the people in the room have to know."""
        raise NotImplementedError

    def show_ear(self) -> None:
        """How things stand with hearing, in the top line."""
        raise NotImplementedError

    def show_check(self, line: str) -> None:
        """A line on how well the room can be heard, or "" for none."""
        raise NotImplementedError

    def change_watch(self, on: bool) -> None:
        """Shows the watch over a placed tube, or what the placing needs."""
        raise NotImplementedError

    def called(self, call: Call | None) -> None:
        """An emergency is called by hand, or over; it is shown at once and written down then."""
        raise NotImplementedError

    @property
    def alarmed(self) -> bool:
        """Whether an emergency is up."""
        raise NotImplementedError

    # ---- keys -------------------------------------------------------------------------------------------------------

    def action_emergency(self, typing: bool = False) -> None:
        """The tube blocks the airway. `typing`: by the key that is no letter."""
        if not self.alarmed:
            self.called("airway")
            self._enter("airway")

    def action_tube_cut(self) -> None:
        """The moment at which the tube is cut."""
        self.called("cut")
        self._enter("cut")

    def action_emergency_over(self) -> None:
        """Nothing blocks the airway any more."""
        self.called(None)
        self._enter("over")

    def action_talk(self) -> None:
        """What is said next is meant for the log."""
        if self.listening is not None:
            self.listening.key_pressed()

    def action_answer(self) -> None:
        """The first candidate of the open question is right."""
        line = self._chosen(lambda line: line.status == "asked", "Nothing is asked.")
        if line is not None:
            by = Correction(self.scribe, "confirmed by hand", self.time)
            self._at_once(lambda session: session.amend(line.number, line.candidates[0], None, by))

    def action_scratch(self) -> None:
        """Strikes the newest line."""
        newest = next(self.record.newest_first, None)
        if newest is None:
            self._say("There is no line to scratch.")
        else:
            by = Correction(self.scribe, "scratched by hand", self.time)
            self._at_once(lambda session: session.strike(newest.number, by))

    def action_amend(self) -> None:
        """Another value or time for the chosen line."""
        line = self._chosen(lambda line: line.status != "struck", "There is no line to amend.")
        if line is not None:
            self.push_screen(forms.amend(self, line))

    def action_strike(self) -> None:
        """Strikes the chosen line, with a reason."""
        line = self._chosen(lambda line: line.status != "struck", "There is no line to strike.")
        if line is not None:
            self.push_screen(forms.strike(self, line))

    def action_late(self) -> None:
        """Something that happened earlier."""
        self.push_screen(forms.late(self))

    def action_note(self) -> None:
        """Free words about this moment, or about a line."""
        self.push_screen(forms.note(self))

    def action_acknowledge(self) -> None:
        """The most urgent finding that nobody has acknowledged was seen, and why it may stand."""
        waiting = [found for found in self.record.open_findings if not self.record.acknowledged(found)]
        if waiting:
            most_urgent = min(waiting, key=lambda found: (LEVELS.index(found.level), found.number or 0))
            self.push_screen(forms.acknowledge(self, most_urgent))
        else:
            self._say("No finding is waiting.")

    def action_play(self) -> None:
        """The sound of the chosen line; of a spoken note, the note."""
        line = self._chosen(lambda line: line.origin.sound is not None, "No line has sound.")
        if line is not None:
            self._play_sounds(self._sounds_of(line))

    def action_write_out(self) -> None:
        """The chosen spoken note is played, and written out; without one, the oldest that waits."""
        notes = {note.line.number: note for note in spoken_notes(self.record) if note.kept}
        waiting = [note for note in notes.values() if note.to_be_written_out]
        place = self.room.query_one(LogTable).cursor_row
        note = notes.get(place + 1) or (waiting[0] if waiting else None)
        if note is None:
            self._say("No spoken note has to be written out.")
            return
        self.push_screen(forms.write_out(self, note))
        self._play_sounds(self._sounds_of(note.line))

    def _sounds_of(self, line: Line) -> list[Sound]:
        note = spoken_note(self.record, line.number) if announces(line.entry) else None
        origins = [part.origin for part in note.kept] if note is not None and note.kept else [line.origin]
        return [origin.sound for origin in origins if origin.sound is not None]

    def _play_sounds(self, sounds: list[Sound]) -> None:
        """One after the other, as one sound."""
        try:
            found = [content for sound in sounds if (content := self.session.case.sound(sound.sha256)) is not None]
            if not found or self._play is None:
                self._say("Its sound is not here." if not found else "Nothing here can play sound.")
            else:
                self._play(found[0] if len(found) == 1 else flac(b"".join(map(sound_of, found))))
        except RuntimeError:  # of a file that is no FLAC any more; one alone is told of by the player
            self._say("Its sound cannot be read: tamponade verify tells what is damaged.")
        except TamponadeError as error:
            self.failed(error)

    def action_identify(self) -> None:
        """Who is here, and which tube it is."""
        self.push_screen(forms.identify(self))

    def action_watch(self) -> None:
        """The watch, or no longer."""
        self.change_watch(not self.watching)

    def action_mode(self) -> None:
        """The next way in which entries can be said."""
        if self.listening is not None:
            place = MODES.index(self.listening.coming or self.listening.mode)
            self.change_mode(MODES[(place + 1) % len(MODES)])
        else:
            self._say("Nothing is listened to.")

    def change_mode(self, mode: Mode) -> None:
        """Has entries said in this way from now on; that is a fact."""
        if self.listening is not None:
            self.listening.change_mode(mode, self.scribe)
            self.show_ear()

    def action_sound(self) -> None:
        """Takes the line on the sound away; where there is none, measures the room anew."""
        if self.room.query_one("#check").has_class("-told"):
            self.show_check("")
        elif self.listening is not None:
            self.listening.check_again()
            self.show_check("Measuring: a moment of quiet, then the next entry. (s: away)")

    def action_again(self) -> None:
        """Listens again where that has ended."""
        if self.listening is not None and self.listening.listen_again():
            self._say("Trying to listen again.")
        else:
            self._say("It listens, seeks the microphone by itself, or played a recording to its end.")

    def action_help(self) -> None:
        """Every key and what can be said."""
        self.push_screen(Help(help_text(self.session.procedure, self.BINDINGS)))

    def action_leave(self) -> None:
        """Ends listening and closes the case, once that is meant: the key lies beside others."""
        self.push_screen(Form("End listening and close the case?", {}, lambda answers: self.exit(), "End it"))

    def get_system_commands(self, screen: Screen[object]) -> Iterator[SystemCommand]:
        """The command palette has every key."""
        for binding in bindings_of(self.BINDINGS):
            action = partial(self.run_action, binding.action)
            yield SystemCommand(binding.description.capitalize(), f"key {key_name(binding)}", action)
        for mode in MODES:
            yield SystemCommand(f"Listen: {mode}", "how entries have to be said", partial(self.change_mode, mode))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While somebody types, letters are letters."""
        ours = {binding.action for binding in bindings_of(Scribe.BINDINGS)}
        if self.alarmed and action in ours | {"command_palette"}:
            return action in WHILE_ALARMED
        typing = isinstance(self.focused, Input)
        return not (typing and not parameters and action in ours)

    # ---- writing ----------------------------------------------------------------------------------------------------

    def _chosen(self, fits: Callable[[Line], bool], otherwise: str) -> Line | None:
        """The line under the cursor if it fits, else the newest that does."""
        lines, place = self.record.lines, self.room.query_one(LogTable).cursor_row
        under = [lines[place]] if 0 <= place < len(lines) else []
        newest = (lines[index] for index in range(len(lines) - 1, -1, -1))
        found = next((line for line in (*under, *newest) if fits(line)), None)
        if found is None:
            self._say(otherwise)
        return found

    def _enter(self, value: str) -> None:
        """Has an entry of the emergency written down; nobody waits for the disk."""
        entry, at, by = Entry(kind="emergency", value=value), self.time, self.scribe

        def what(session: Session) -> tuple[Fact, ...]:
            return session.enter(entry, at, by)

        if self.listening is not None:
            self.listening.do(what)
        else:
            self._at_once(what)

    def _at_once(self, what: Doing) -> None:
        try:
            self.write(what)
        except TamponadeError as error:
            self.failed(error)

    def write(self, what: Doing) -> None:
        """Has it written by the one thread that writes; without listening this is the only one.

        Raises TamponadeError when it cannot be.
        """
        if self.listening is not None:
            self.listening.done(what)
        else:
            self.told(what(self.session))

    def _say(self, text: str) -> None:
        self.notify(visible(text), markup=False)


def bindings_of(bindings: list[BindingType]) -> Iterator[Binding]:
    """Those that stand on the screen and in the help."""
    return (binding for binding in bindings if isinstance(binding, Binding) and binding.show)
