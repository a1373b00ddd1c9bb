"""The scribe's keys for what was recorded: the sound of a line is played, a spoken note is transcribed."""

from __future__ import annotations

from log.basics.errors import TamponadeError
from log.facts.line import Line
from log.facts.note_taking import announces
from log.facts.origin import Sound
from log.facts.spoken_notes import spoken_note, spoken_notes
from tui.room import forms
from tui.room.desk import Desk, chosen
from voice.sound.audio import flac, sound_of


def play(desk: Desk) -> None:
    """The sound of the chosen line; of a spoken note, the note."""
    line = chosen(desk, lambda line: line.origin.sound is not None, "No line has sound.")
    if line is not None:
        play_sounds(desk, _sounds_of(desk, line))


def transcribe(desk: Desk) -> None:
    """The chosen spoken note is played, and its words are typed; without one, the oldest that waits."""
    notes = {note.line.number: note for note in spoken_notes(desk.record) if note.kept}
    waiting = [note for note in notes.values() if note.to_be_transcribed]
    chosen = notes.get(desk.row + 1) or (waiting[0] if waiting else None)
    if chosen is None:
        desk.say("There is no spoken note to transcribe.")
        return
    desk.open(forms.transcribe(desk, chosen))
    play_sounds(desk, _sounds_of(desk, chosen.line))


def _sounds_of(desk: Desk, line: Line) -> list[Sound]:
    kept = spoken_note(desk.record, line.number) if announces(line.entry) else None
    origins = [part.origin for part in kept.kept] if kept is not None and kept.kept else [line.origin]
    return [origin.sound for origin in origins if origin.sound is not None]


def play_sounds(desk: Desk, sounds: list[Sound]) -> None:
    """One after the other, as one sound."""
    try:
        found = [content for sound in sounds if (content := desk.session.case.sound(sound.sha256)) is not None]
        if not found or desk.play is None:
            desk.say("Its sound is not here." if not found else "Nothing here can play sound.")
        else:
            desk.play(found[0] if len(found) == 1 else flac(b"".join(map(sound_of, found))))
    except RuntimeError:  # of a file that is no FLAC any more; one alone is reported by the player
        desk.say("Its sound cannot be read: tamponade verify shows what is damaged.")
    except TamponadeError as error:
        desk.failed(error)
