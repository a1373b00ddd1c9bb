"""A spoken note is kept whole as sound and becomes no entry; it begins, goes on and ends as the facts say; somebody
writes it out, and the sound stays. The speech is synthesised, cut by the endpointer and kept by a real case.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import cast

import numpy as np
import pytest
import soundfile
from textual.pilot import Pilot

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from log.basics.errors import EngineError, InputError
from log.exports import FORMATS
from log.exports.deidentify import deidentified
from log.facts.events import (
    CaptureGap,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    QuestionAnswered,
    SpokenNoteKept,
    SpokenNoteWritten,
)
from log.facts.note_taking import LASTS_AT_MOST
from log.facts.origin import KeepSound, Origin
from log.facts.spoken_notes import spoken_notes
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from log.summaries.whole import whole
from tests.cases import BEGAN, definition
from tests.tui.conftest import Run
from tests.tui.live.test_listening import Seen, Source
from tests.tui.rooms import keys, shown_of
from tui.live.listening import LiveCase
from tui.live.replay import logged, replay
from tui.room.app import RoomApp
from tui.room.scribe import KEYS
from tui.views.spoken_notes import notes_at_a_glance
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, understand
from voice.meaning.verdict import Hearing
from voice.sound.audio import AudioFile, sound_of
from voice.sound.endpoint import LONGEST_SECONDS, segments
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.speak.speaker import synthesised

pytestmark = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")

NAME = "bay-4"
TYPED = Origin(by="typed", heard="as typed")
NOTE = Understood(items=(Entry(kind="note", value="follows"),))
TALK = NotUnderstood(heard="talk")
UNDO = Understood(items=(Entry(kind="undo"),))
TUBE_IN = Understood(items=(Entry(kind="tube", value="in"),))
CRY = Understood(items=(Entry(kind="emergency", value="airway"),))


@cache
def spoken(words: str) -> np.ndarray:
    """The words as 16 kHz sound."""
    pcm, rate = synthesised(words)
    samples = np.frombuffer(pcm, "<i2").astype(np.float64)
    at = np.arange(0, len(samples) - 1, rate / SAMPLE_RATE)
    return np.asarray(np.interp(at, np.arange(len(samples)), samples), dtype="<i2")


def recording(path: Path, *said: str | float) -> Path:
    """A file in which these words are said, with pauses of so many seconds."""
    rng = np.random.default_rng(7)
    parts = [
        spoken(what) if isinstance(what, str) else rng.integers(-20, 20, round(what * SAMPLE_RATE)).astype("<i2")
        for what in (1.0, *said, 1.5)
    ]
    soundfile.write(path, np.concatenate(parts), SAMPLE_RATE, subtype="PCM_16")
    return path


@dataclass
class Scripted:
    """Hears what it is told to, one meaning a segment; None where the engine dies."""

    meanings: list[Meaning | None]
    lead_word: str | None = "log"
    heard: list[Segment] = field(default_factory=list)
    step: float = 0.6
    loading: bool = False

    def expect(self, listening: Listening) -> None:
        """What is expected makes no difference here."""

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        meaning = self.meanings[len(self.heard)]
        self.heard.append(segment)
        if meaning is None:
            raise EngineError("the engine died", "it is started again")
        return Hearing(segment, meaning, "as heard", "fake", 0.9, segment.start)

    def early(self, segment: Segment, listening: Listening) -> None:
        """A head start makes no difference here."""

    def heard_early(self) -> Hearing | None:
        return None

    def is_whole(self, hearing: Hearing, listening: Listening) -> bool:
        return False

    def partly(self, so_far: Segment, listening: Listening) -> bool:
        return True

    def words_so_far(self) -> str | None:
        return "so far"


def opened(folder: Path, sound: KeepSound = "utterances", now: datetime | None = BEGAN) -> Session:
    return open_case(folder, NAME, definition()[0], "a file", Keeping(sound=sound), now)


def played(
    folder: Path, said: tuple[str | float, ...], meanings: list[Meaning | None], sound: KeepSound = "utterances"
) -> tuple[tuple[Fact, ...], Scripted]:
    """The facts of a case into which this was spoken."""
    ears = Scripted(meanings)
    outcome = replay(AudioFile(recording(folder / "room.wav", *said)), opened(folder, sound), cast(Ears, ears), None)
    assert len(ears.heard) == len(meanings), "the endpointer cuts as the test expects"
    assert not verify(folder / f"{NAME}{SUFFIX}").problems
    facts = store.read(folder, NAME).facts
    told = [event["kind"] for event in outcome.events if event["kind"] != "undo"]
    entries = [fact.entry.kind for fact in facts if isinstance(fact, EntryLogged | QuestionAnswered)]
    assert told == entries or of(facts, EntryAsked), "the events are what was logged, and nothing of a note"
    return facts, ears


def of(facts: tuple[Fact, ...], *kinds: type) -> list[Fact]:
    return [fact for fact in facts if isinstance(fact, kinds)]


LONG = "the family was told about the procedure and they agree with what we do"


def test_what_is_said_next_is_kept_whole_and_becomes_no_entry(tmp_path: Path) -> None:
    said = ("log take a note", 2.0, LONG, 2.0, "and the consultant is on the way", 5.0, "log tube in")
    facts, ears = played(tmp_path, said, [NOTE, TUBE_IN, TALK, TUBE_IN])
    first, second = of(facts, SpokenNoteKept)
    assert isinstance(first, SpokenNoteKept) and isinstance(second, SpokenNoteKept)
    for fact, segment in zip((first, second), ears.heard[1:3], strict=True):
        assert fact.number == 1 and fact.origin.sound is not None
        content = store.read(tmp_path, NAME).path
        kept = store.sound(content, fact.origin.sound.sha256)
        assert kept is not None and sound_of(kept) == segment.pcm, "the sound is what was said, to the sample"
    entries = [fact.entry.kind for fact in of(facts, EntryLogged) if isinstance(fact, EntryLogged)]
    assert entries == ["note", "tube"], "what was said in the note is no entry, what was said after it is one"


def test_a_note_that_does_not_begin_in_time_is_none(tmp_path: Path) -> None:
    facts, _ = played(tmp_path, ("log take a note", 18.0, "log tube in"), [NOTE, TUBE_IN])
    assert not of(facts, SpokenNoteKept)
    assert len(of(facts, EntryLogged)) == 2


def test_speech_that_no_engine_could_hear_is_kept_all_the_same(tmp_path: Path) -> None:
    facts, _ = played(tmp_path, ("log take a note", 2.0, LONG), [NOTE, None])
    assert len(of(facts, SpokenNoteKept)) == len(of(facts, CaptureGap)) == 1


def test_scratch_that_strikes_the_note_and_entries_are_heard_again(tmp_path: Path) -> None:
    said = ("log take a note", 2.0, "log scratch that", 1.5, "log tube in")
    facts, _ = played(tmp_path, said, [NOTE, UNDO, TUBE_IN])
    assert not of(facts, SpokenNoteKept)
    (struck,) = of(facts, EntryStruck)
    assert isinstance(struck, EntryStruck) and struck.number == 1
    assert len(of(facts, EntryLogged)) == 2


def test_scratch_that_in_doubt_strikes_nothing_and_is_part_of_the_note(tmp_path: Path) -> None:
    doubtful = Understood(items=(Question(candidates=(Entry(kind="undo"),), why="indistinct", text="unclear"),))
    facts, _ = played(tmp_path, ("log take a note", 2.0, LONG), [NOTE, doubtful])
    assert len(of(facts, SpokenNoteKept)) == 1 and not of(facts, EntryStruck)


def test_a_cry_for_help_is_kept_and_logged_and_ends_the_note(tmp_path: Path) -> None:
    said = ("log take a note", 2.0, "airway emergency", 1.5, "log tube in")
    facts, _ = played(tmp_path, said, [NOTE, CRY, TUBE_IN])
    assert len(of(facts, SpokenNoteKept)) == 1
    entries = [fact.entry.kind for fact in of(facts, EntryLogged) if isinstance(fact, EntryLogged)]
    assert entries == ["note", "emergency", "tube"]


def test_where_no_sound_is_kept_no_speech_is_swallowed(tmp_path: Path) -> None:
    facts, _ = played(tmp_path, ("log take a note", 2.0, "log tube in"), [NOTE, TUBE_IN], "none")
    assert not of(facts, SpokenNoteKept)
    assert len(of(facts, EntryLogged)) == 2


def test_a_note_in_doubt_swallows_nothing_until_it_is_confirmed(tmp_path: Path) -> None:
    asked = Understood(items=(Question(candidates=NOTE.items, why="indistinct", text="unclear"),))  # type: ignore[arg-type]
    confirm = Understood(items=(Entry(kind="confirm"),))
    said = ("log take a note", 1.5, "log tube in", 1.5, "log take a note", 1.5, "confirm", 1.5, LONG)
    facts, _ = played(tmp_path, said, [asked, TUBE_IN, asked, confirm, TALK])
    (kept,) = of(facts, SpokenNoteKept)
    assert isinstance(kept, SpokenNoteKept) and kept.number == 3


def test_what_is_heard_live_is_kept_and_nothing_in_it_is_an_order(tmp_path: Path) -> None:
    """Through the threads that listen and write: the view hears of a note, never of a question in it."""
    path = recording(tmp_path / "room.wav", "log take a note", 2.0, LONG, 5.0, "log tube in")
    status = Understood(items=(Entry(kind="status"),))
    ears = Scripted([NOTE, status, TUBE_IN])
    session, seen = opened(tmp_path, now=None), Seen()
    source = Source([*AudioFile(path).frames()])
    listening = LiveCase(source, session, cast(Ears, ears), "lead word", seen)
    listening.start()
    assert seen.stopped.wait(20)
    listening.stop("ended by the scribe")
    facts = store.read(tmp_path, NAME).facts
    assert [type(fact) for fact in facts if isinstance(fact, EntryLogged | SpokenNoteKept)] == [
        EntryLogged,
        SpokenNoteKept,
        EntryLogged,
    ]
    assert len(seen.of("heard")) == 2, "the announcement and the entry after it; what was noted is only shown"
    assert not verify(tmp_path / f"{NAME}{SUFFIX}").problems


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_the_true_engine_hears_the_announcement_and_makes_nothing_of_the_note(tmp_path: Path, run: Run) -> None:
    """Another voice than the one that is tested with elsewhere, through the program as people run it."""
    parts = []
    for words, pause in (("log spoken note", 2.0), ("the family was told and they agree", 5.0), ("log tube in", 1.5)):
        path = tmp_path / "said.wav"
        subprocess.run(["flite", "-voice", "rms", "-t", words, "-o", str(path)], check=True)
        sound, rate = soundfile.read(path)
        assert rate == SAMPLE_RATE
        parts += [sound * 0.6, np.random.default_rng(3).normal(0, 0.0005, round(pause * rate))]
    soundfile.write(tmp_path / "room.wav", np.concatenate([parts[-1], *parts]), SAMPLE_RATE)
    told = run("replay", tmp_path / "room.wav", "--cases", tmp_path, "--case", NAME, "--engine", "both").done()
    assert "TAKING A NOTE" in told and "to be transcribed" in told
    facts = store.read(tmp_path, NAME).facts
    entries = [fact.entry.kind for fact in facts if isinstance(fact, EntryLogged)]
    assert entries == ["note", "tube"]
    (note,) = of(facts, SpokenNoteKept)
    assert isinstance(note, SpokenNoteKept) and note.origin.sound is not None and note.origin.sound.seconds > 1.5


# ---- one stretch at a time ------------------------------------------------------------------------------------------


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    session = opened(tmp_path)
    yield session
    session.case.close()


@cache
def stretch() -> Segment:
    """Some seconds of speech."""
    path = recording(Path("/tmp") / "tamponade-test-stretch.wav", LONG)
    (found,) = segments(AudioFile(path).frames())
    path.unlink()
    return found


def say(session: Session, at: float, meaning: Meaning = TALK) -> tuple[Fact, ...]:
    """Said at a second of the session."""
    segment = replace(stretch(), first_sample=round(at * SAMPLE_RATE))
    hearing = Hearing(segment, meaning, "as heard", "fake", 0.9, at)
    return logged(session, hearing, Listening(lead_word="log"), at + segment.seconds + 0.5)


def test_a_note_lasts_no_longer_than_a_minute(session: Session) -> None:
    say(session, 10, NOTE)
    at = 10 + stretch().seconds + 1
    while session.takes_note(at):
        assert of(say(session, at), SpokenNoteKept)
        at += stretch().seconds + 2
        assert at < 10 + LASTS_AT_MOST.total_seconds() + LONGEST_SECONDS + 3
    assert of(say(session, at, TUBE_IN), EntryLogged)


def test_somebody_who_goes_on_with_a_case_is_in_no_note(tmp_path: Path) -> None:
    session = opened(tmp_path)
    say(session, 1, NOTE)
    say(session, 8)
    session.case.close()  # the program dies in the middle
    again = open_case(tmp_path, NAME, definition()[0], "a file", Keeping(), BEGAN + timedelta(seconds=9))
    assert not again.takes_note(1)
    assert of(say(again, 1, TUBE_IN), EntryLogged)
    (note,) = spoken_notes(again.record)
    assert note.to_be_transcribed
    again.transcribe(1, "the family agrees", "scribe", again.began + timedelta(seconds=60))
    (note,) = spoken_notes(again.record)
    assert note.written is not None and note.written.text == "the family agrees" and len(note.kept) == 1
    again.close(61, "end of the recording")
    assert not verify(tmp_path / f"{NAME}{SUFFIX}").problems


def test_a_transcription_has_words_an_author_and_a_note(session: Session) -> None:
    say(session, 1, NOTE)
    at = session.began + timedelta(seconds=30)
    for number, text, author, told in (
        (1, "words", "scribe", "has no spoken note"),
        (7, "words", "scribe", "has no spoken note"),
        (1, " ", "scribe", "with its words"),
        (1, "words", "", "with its words"),
        (1, "w" * 4001, "scribe", "at most 4000"),
    ):
        with pytest.raises(InputError, match=told):
            session.transcribe(number, text, author, at)


def test_scratch_that_long_after_the_note_strikes_the_newest_line(session: Session) -> None:
    say(session, 1, NOTE)
    say(session, 8)
    session.take(TUBE_IN, 100, 100, TYPED)
    say(session, 120, UNDO)
    assert [line.status for line in session.record.lines] == ["stands", "struck"]


def test_the_phrase_is_the_one_of_the_definition() -> None:
    for words in ("log take a note", "log spoken note", "log free note"):
        assert understand(definition()[1], words, Listening(lead_word="log")) == NOTE


# ---- what the room sees ---------------------------------------------------------------------------------------------


def test_the_screen_says_that_a_note_is_taken_and_that_it_has_ended(session: Session) -> None:
    def told(at: float, hearing: bool = False) -> str:
        now = notes_at_a_glance(session.record, session.began + timedelta(seconds=at), hearing)
        return now.text if now is not None else ""

    assert told(0) == ""
    say(session, 1, NOTE)
    begin = 1 + stretch().seconds
    assert told(begin + 5).startswith("TAKING A NOTE: speak now, 10 s left. Nothing said now becomes an entry")
    say(session, 10)
    end = 10 + stretch().seconds
    assert told(end + 1) == f"TAKING A NOTE: {stretch().seconds:.0f} s kept, silence ends it. " + (
        "Nothing said now becomes an entry."
    )
    assert told(end + 5, hearing=True).startswith("TAKING A NOTE"), "somebody may still be speaking it"
    assert told(end + 5) == f"NOTE ENDED: {stretch().seconds:.0f} s kept (line 1). Entries are heard again."
    (transcribes,) = [key.printed for key in KEYS if key.name == "transcribe"]
    assert told(end + 60) == f"Spoken notes to be transcribed: line 1 ({transcribes})"
    session.transcribe(1, "words", "scribe", session.began + timedelta(seconds=70))
    assert told(end + 80) == ""


def test_the_screen_says_where_none_is_taken(tmp_path: Path) -> None:
    session = opened(tmp_path, "none")
    say(session, 1, NOTE)
    now = notes_at_a_glance(session.record, session.began)
    assert now is not None and now.now and now.text.startswith("NO NOTE IS TAKEN: this case keeps no sound")
    session.case.close()


def test_the_scribe_hears_a_note_and_writes_it_out(session: Session) -> None:
    say(session, 1, NOTE)
    say(session, 10)
    say(session, 10 + stretch().seconds + 1)
    heard: list[bytes] = []
    app = RoomApp(session, definition()[1], "scribe", heard.append, lambda: session.began + timedelta(seconds=60))

    async def transcribed(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "h", *"agreed", "enter", "enter")

    shown_of(app, transcribed)
    (written,) = of(session.case.facts(), SpokenNoteWritten)
    assert isinstance(written, SpokenNoteWritten) and (written.text, written.author) == ("agreed", "scribe")
    assert sound_of(heard[0]) == stretch().pcm * 2, "both stretches, one after the other"


# ---- what goes out --------------------------------------------------------------------------------------------------


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A case with one note transcribed, one not, and one of which nothing was kept."""
    session = opened(tmp_path)
    say(session, 1, NOTE)
    say(session, 8)
    session.transcribe(1, "the family agrees", "Dr Invented", session.began + timedelta(seconds=30))
    say(session, 60, NOTE)
    say(session, 67)
    session.take(NOTE, 200, 200, TYPED)
    session.close(300, "end of the recording")
    return tmp_path


@pytest.mark.parametrize("command", ["transcribe", "write-out"])
def test_one_is_transcribed_from_the_command_line(kept: Path, run: Run, command: str) -> None:
    """`write-out` is the name that scripts may still use."""
    told = (command, NAME, "--cases", kept, "--author", "scribe A")
    (waiting,) = (
        note.line.number for note in spoken_notes(whole(store.read(kept, NAME)).record) if note.to_be_transcribed
    )
    run(*told, 99, "words").refused(3, "line 99 has no spoken note")
    run(*told, waiting, " ").refused(3, "with its words")
    assert "transcribed" in run(*told, waiting, "second opinion asked for").done()
    assert not any(note.to_be_transcribed for note in spoken_notes(whole(store.read(kept, NAME)).record))
    assert "second opinion asked for" in run("show", NAME, "--cases", kept).done()


@pytest.mark.parametrize("name", ["note", "timeline", "fhir", "audit", "csv", "jsonl", "pdf"])
def test_every_export_tells_of_them(kept: Path, name: str) -> None:
    text = FORMATS[name].write(whole(store.read(kept, NAME)))
    if isinstance(text, bytes):
        assert text.startswith(b"%PDF")
        return
    assert "the family agrees" in text
    assert ("to be transcribed" in text) == (name != "jsonl")


def test_without_identity_neither_sound_nor_words_go_out(kept: Path) -> None:
    case, withheld = deidentified(whole(store.read(kept, NAME)))
    for name in ("note", "jsonl", "audit", "csv", "fhir", "timeline"):
        text = FORMATS[name].write(case)
        assert isinstance(text, str) and "the family agrees" not in text and "Dr Invented" not in text
    assert withheld.sounds >= 4
    assert [note.to_be_transcribed for note in spoken_notes(case.record)] == [False, True, False]
