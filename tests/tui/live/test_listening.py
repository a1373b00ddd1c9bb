"""The room is listened to: what is heard, lost and done by hand reaches the case in the order in which it came."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from log.basics.entry import Entry, NotUnderstood, Understood
from log.basics.errors import EngineError, InputError, StoreError, TamponadeError
from log.facts.events import CaptureGap, CaseClosed, EntryLogged, EntryStruck, Fact, ListeningChanged, NoteWritten
from log.scribe.correct import Correction
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.cases import definition
from tui.live.ears_to_come import EarsToCome
from tui.live.listening import END_OF_SOUND, LOADING, LiveCase
from tui.live.view import Mode, State
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.meaning.verdict import Hearing
from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.reception import Back, Lost
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.sound.sound_check import SoundCheckResult

NAME = "bay-4"
SECOND = bytes(2 * SAMPLE_RATE)
Came = Frame | Lost | Back | Callable[[LiveCase], None]


def speaks(listening: LiveCase) -> None:
    """Our own voice begins."""
    listening.mute(True)


def falls_silent(listening: LiveCase) -> None:
    """And ends."""
    listening.mute(False)


def frames(pcm: bytes, begins: float = 0.0) -> list[Came]:
    """Sound as a source gives it."""
    first = round(begins * SAMPLE_RATE)
    pieces = [pcm[start : start + FRAME_BYTES] for start in range(0, len(pcm), FRAME_BYTES)]
    return [Frame(piece.ljust(FRAME_BYTES, b"\0"), first + n * FRAME_SAMPLES) for n, piece in enumerate(pieces)]


@dataclass
class Source:
    """Gives what it was told, and does in between what it was told; then waits until it is closed, if it has to."""

    came: list[Came]
    name: str = "a fake"
    goes_on: bool = False
    closed: threading.Event = field(default_factory=threading.Event)
    listening: LiveCase | None = None

    def frames(self) -> Iterator[Frame | Lost | Back]:
        for came in self.came:
            if isinstance(came, Frame | Lost | Back):
                yield came
            else:
                assert self.listening is not None
                came(self.listening)
        if self.goes_on:
            self.closed.wait(20)

    def close(self) -> None:
        self.closed.set()


ENTRY = Entry(kind="tube", value="in")


@dataclass
class FakeEars:
    """Hears an entry in everything, or fails."""

    lead_word: str | None = None
    failures: int = 0
    step: float = 0.6
    loading: bool = False
    segments: list[Segment] = field(default_factory=list)
    expected: list[Listening] = field(default_factory=list)
    nothing_follows: bool = False
    begun: Segment | None = None

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        self.segments.append(segment)
        if self.failures:
            self.failures -= 1
            raise EngineError("the engine died", "it is started again")
        if listening.lead_word is not None:
            return Hearing(segment, NotUnderstood(heard="talk"), "talk", "fake", 0.9, segment.start)
        return Hearing(segment, Understood(items=(ENTRY,)), "tube passed", "fake", 0.9, segment.start + 0.1)

    def expect(self, listening: Listening) -> None:
        self.expected.append(listening)

    def early(self, segment: Segment, listening: Listening) -> None:
        self.begun = segment

    def heard_early(self) -> Hearing | None:
        begun, self.begun = self.begun, None
        return Hearing(begun, Understood(items=(ENTRY,)), "tube passed", "fake", 0.9, begun.start) if begun else None

    def is_whole(self, hearing: Hearing, listening: Listening) -> bool:
        return self.nothing_follows

    def partly(self, so_far: Segment, listening: Listening) -> bool:
        return True

    def words_so_far(self) -> str | None:
        return "tube"


class Seen:
    """A view that remembers."""

    def __init__(self) -> None:
        self.told_of: list[tuple[str, object]] = []
        self.stopped = threading.Event()

    def state(self, state: State, why: str = "") -> None:
        self.told_of.append(("state", (state, why)))
        if state == "stopped":
            self.stopped.set()

    def level(self, pcm: bytes) -> None:
        assert len(pcm) == FRAME_BYTES

    def partial(self, words: str) -> None:
        self.told_of.append(("partial", words))

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        self.told_of.append(("heard", facts))

    def notify(self, facts: tuple[Fact, ...]) -> None:
        self.told_of.append(("told", facts))

    def checked(self, result: SoundCheckResult) -> None:
        self.told_of.append(("checked", result))

    def failed(self, error: TamponadeError) -> None:
        self.told_of.append(("failed", str(error)))

    def of(self, kind: str) -> list[object]:
        return [what for told, what in self.told_of if told == kind]


@dataclass
class Heard:
    """A case that was listened to."""

    listening: LiveCase
    view: Seen
    folder: Path

    @property
    def facts(self) -> tuple[Fact, ...]:
        return store.read(self.folder, NAME).facts

    def of(self, kind: type) -> list[Fact]:
        return [fact for fact in self.facts if isinstance(fact, kind)]


Listen = Callable[..., Heard]


@pytest.fixture
def listen(tmp_path: Path) -> Iterator[Listen]:
    """Listens to a source until it ends; at the end of the test every case has to verify."""
    begun: list[LiveCase] = []

    def listened(
        source: Source, ears: object, mode: Mode = "open", wait: bool = True, **anew: Callable[..., object]
    ) -> Heard:
        session = open_case(tmp_path, NAME, definition()[0], source.name, Keeping())
        view = Seen()
        listening = LiveCase(source, session, cast(Ears, ears), mode, view, **anew)  # type: ignore[arg-type]
        source.listening = listening
        begun.append(listening)
        listening.start()
        if wait:
            assert view.stopped.wait(30)
            listening.stop("ended by the test")
        return Heard(listening, view, tmp_path)

    yield listened
    if not begun[-1].session.record.closed:
        begun[-1].stop("ended by the test")
    assert not verify(tmp_path / f"{NAME}{SUFFIX}").problems


class Hung(FakeEars):
    """Hears everything late."""

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        time.sleep(0.3)
        return super().hear(segment, listening)


def test_an_engine_that_does_not_answer_is_shown_long_before_it_is_given_up(
    listen: Listen, clip_pcm: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tui.live.slow.SLOW_SECONDS", 0.1)
    heard = listen(Source(frames(clip_pcm + SECOND)), Hung())
    states = [what[0] for what in heard.view.of("state") if isinstance(what, tuple)]
    assert states[states.index("hearing") :][:3] == ["hearing", "lost", "listening"]
    assert ("lost", "a speech engine does not answer: type what is urgent") in heard.view.of("state")
    assert len(heard.of(EntryLogged)) == 1


def test_what_is_said_is_logged_with_its_time_and_the_words_come_before(
    listen: Listen, both: Ears, clip_pcm: bytes
) -> None:
    said = frames(clip_pcm + SECOND)

    def waits(listening: LiveCase) -> None:
        """For the words so far: this source is faster than speech."""
        seen = cast(Seen, listening._view)
        until(lambda: bool(seen.of("partial")) or both._engines[0].answered())

    heard = listen(Source([*said[:70], waits, *said[70:]]), both)
    (entry,) = heard.of(EntryLogged)
    assert isinstance(entry, EntryLogged)
    assert (entry.entry.kind, entry.entry.value) == ("pressure", 20)
    opened = heard.facts[0].logged_at
    base = (entry.said_at - opened).total_seconds() - 0.63
    assert -0.1 < base < 30  # since the case was opened, the listening began
    assert entry.origin.sound is not None
    order = [kind for kind, what in heard.view.told_of if kind in ("partial", "heard")]
    assert order[0] == "partial" and order[-1] == "heard"
    assert heard.view.told_of[-1] == ("state", ("stopped", END_OF_SOUND))
    assert [fact.reason for fact in heard.of(CaseClosed)] == ["ended by the test"]  # type: ignore[union-attr]


@pytest.mark.parametrize("follows", [True, False])
def test_what_nothing_can_follow_is_heard_after_half_the_silence_and_shown_before_that(
    listen: Listen, clip_pcm: bytes, follows: bool
) -> None:
    ears = FakeEars(nothing_follows=not follows)
    heard = listen(Source(frames(clip_pcm + SECOND)), ears)
    (segment,) = ears.segments
    waited = segment.overheard_until / SAMPLE_RATE - segment.end
    assert (waited < 0.1) is not follows
    assert "tube passed" in heard.view.of("partial")


def test_times_are_those_of_the_source_on_the_sessions_clock(listen: Listen, clip_pcm: bytes) -> None:
    ears = FakeEars()
    heard = listen(Source([*frames(clip_pcm + SECOND), *frames(clip_pcm + SECOND, 3.99)]), ears)
    first, second = ears.segments
    assert second.start - first.start == pytest.approx(3.99, abs=0.7)  # it hears the room first, then the voice
    for fact, segment in zip(heard.of(EntryLogged), ears.segments, strict=True):
        assert isinstance(fact, EntryLogged)
        said_at = (fact.said_at - heard.facts[0].logged_at).total_seconds()
        assert said_at == pytest.approx(segment.start + 0.1, abs=0.002)


def test_a_loss_is_a_gap_with_its_seconds_and_shown_as_long_as_it_lasts(listen: Listen, clip_pcm: bytes) -> None:
    came = [*frames(SECOND), Lost(1.0, "unplugged"), Back(8.0, 7.0, "unplugged"), *frames(clip_pcm + SECOND, 8.0)]
    heard = listen(Source(came), FakeEars())
    (gap,) = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap)
    assert (gap.seconds, gap.reason) == (7.0, "unplugged")
    (entry,) = heard.of(EntryLogged)
    assert isinstance(entry, EntryLogged)
    assert (entry.said_at - gap.began_at).total_seconds() == pytest.approx(7.73, abs=0.35)
    states = [state for state, _ in cast(list[tuple[str, str]], heard.view.of("state"))]
    assert states.index("lost") < states.index("listening", states.index("lost"))


def test_what_was_being_said_when_sound_was_lost_is_heard(listen: Listen, clip_pcm: bytes) -> None:
    heard = listen(Source([*frames(clip_pcm[: 2 * 2 * SAMPLE_RATE]), Lost(2.0, "unplugged")]), FakeEars())
    assert len(heard.of(EntryLogged)) == 1


def test_nothing_is_heard_while_our_own_voice_speaks_and_that_is_in_the_log(listen: Listen, clip_pcm: bytes) -> None:
    ears = FakeEars()
    said = frames(clip_pcm + SECOND)
    later = frames(clip_pcm + SECOND, 10.0)
    heard = listen(Source([speaks, *said[:50], speaks, *said[50:], falls_silent, *later]), ears)
    assert len(ears.segments) == len(heard.of(EntryLogged)) == 1
    (gap,) = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap)
    assert gap.reason == "muted while the read-back was spoken"
    assert gap.seconds == pytest.approx(10.0, abs=0.2)
    assert ("state", ("muted", "our own voice is speaking")) in heard.view.told_of


def test_it_hears_again_only_when_everything_of_ours_has_ended(listen: Listen, clip_pcm: bytes) -> None:
    def plays(listening: LiveCase) -> None:
        listening.mute(True, "line")

    def played(listening: LiveCase) -> None:
        listening.mute(False, "line")

    said, later = frames(clip_pcm + SECOND), frames(clip_pcm + SECOND, 10.0)
    heard = listen(Source([speaks, plays, falls_silent, *said, played, *later]), FakeEars())
    assert len(heard.of(EntryLogged)) == 1
    (gap,) = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap) and gap.reason == "muted while a line was played"


def test_a_pause_by_hand_lasts_until_it_is_over_whatever_sounds_and_is_in_the_log(
    listen: Listen, clip_pcm: bytes
) -> None:
    pauses: Came = lambda listening: listening.pause()  # noqa: E731
    goes_on: Came = lambda listening: listening.go_on()  # noqa: E731
    said, later = frames(clip_pcm + SECOND), frames(clip_pcm + SECOND, 10.0)
    heard = listen(Source([pauses, *said[:50], speaks, *said[50:], falls_silent, goes_on, *later]), FakeEars())
    assert len(heard.of(EntryLogged)) == 1
    (gap,) = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap)
    assert gap.reason == "paused by hand"
    assert gap.seconds == pytest.approx(10.0, abs=0.3)
    states = [told for what, told in heard.view.told_of if what == "state"]
    assert any(str(state).startswith("('paused', 'paused by hand at ") for state in states)
    assert not any("our own voice" in str(state) for state in states)


def test_what_is_said_while_the_engines_load_is_heard_once_they_are_there(listen: Listen, clip_pcm: bytes) -> None:
    coming: Future[Ears] = Future()

    def come_in_a_second(_: LiveCase) -> None:
        threading.Timer(1, coming.set_result, (cast(Ears, FakeEars()),)).start()

    source = Source([come_in_a_second, *frames(clip_pcm + SECOND)])
    heard = listen(source, EarsToCome(definition()[1], None, coming))
    assert len(heard.of(EntryLogged)) == 1 and not heard.of(CaptureGap)
    assert ("state", ("listening", LOADING)) in heard.view.told_of


def test_engines_that_cannot_be_loaded_are_shown_though_nobody_speaks(listen: Listen) -> None:
    coming: Future[Ears] = Future()
    coming.set_exception(EngineError("the engine does not start", "install it"))
    heard = listen(Source(frames(SECOND)), EarsToCome(definition()[1], None, coming))
    gap, *_ = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap) and gap.reason == "the engine does not start - install it"
    assert ("state", ("stopped", "the engine does not start - install it")) in heard.view.told_of


def test_what_was_being_said_when_our_own_voice_began_is_heard(listen: Listen, clip_pcm: bytes) -> None:
    said = frames(clip_pcm + SECOND)
    waits = lambda listening: time.sleep(2.2)  # noqa: E731 (the voice begins when so much has been said)
    heard = listen(Source([*said[:70], waits, speaks, *said[75:]]), FakeEars())
    assert len(heard.of(EntryLogged)) == 1
    assert len(heard.of(CaptureGap)) == 1  # though it ended while the voice spoke


def test_without_the_key_nothing_is_heard_with_it_what_is_said_is(listen: Listen, clip_pcm: bytes) -> None:
    ears = FakeEars()
    later = frames(clip_pcm + SECOND, 30.0)
    held: list[Came] = []
    for place, frame in enumerate(later):
        held += [frame] if place >= 80 else [_pressed_for(31.0), frame]
    heard = listen(Source([*frames(clip_pcm + SECOND), *held]), ears, "push to talk")
    assert len(ears.segments) == len(heard.of(EntryLogged)) == 1
    assert ears.segments[0].start > 30
    assert ("state", ("waiting for the key", "")) in heard.view.told_of


def _pressed_for(seconds: float) -> Came:
    def press(listening: LiveCase) -> None:
        listening.key_pressed()
        listening._key_until += seconds  # this source is faster than the clock

    return press


def test_talk_without_the_lead_word_is_not_kept(listen: Listen, clip_pcm: bytes) -> None:
    heard = listen(Source(frames(clip_pcm + SECOND)), FakeEars(lead_word="log"), "lead word")
    assert [fact.fact for fact in heard.facts] == ["case_opened", "listening_changed", "case_closed"]
    assert heard.view.of("heard") == [()]


def test_an_engine_that_fails_leaves_a_gap_and_the_next_is_heard(listen: Listen, clip_pcm: bytes) -> None:
    heard = listen(Source([*frames(clip_pcm + SECOND), *frames(clip_pcm + SECOND, 4.0)]), FakeEars(failures=1))
    (gap,) = heard.of(CaptureGap)
    assert isinstance(gap, CaptureGap)
    assert "the engine died" in gap.reason
    assert gap.seconds > 1
    assert len(heard.of(EntryLogged)) == 1


@pytest.mark.parametrize("error", [EngineError("the device is gone", "plug it in"), ZeroDivisionError("oops")])
def test_a_source_that_fails_is_reported_and_the_case_stays_open_for_the_scribe(
    listen: Listen, clip_pcm: bytes, error: Exception
) -> None:
    def fails(listening: LiveCase) -> None:
        raise error

    heard = listen(Source([*frames(clip_pcm + SECOND), fails]), FakeEars(), wait=False)
    assert heard.view.stopped.wait(20)
    heard.listening.done(lambda session: session.write_note("by hand", None, "scribe", heard.listening.time))
    heard.listening.stop("ended by the test")
    assert str(error).split(" - ")[0] in str(heard.view.of("failed"))
    assert [fact.fact for fact in heard.facts if fact.fact in ("entry_logged", "note_written", "case_closed")] == [
        "entry_logged",
        "note_written",
        "case_closed",
    ]
    gaps = [fact for fact in heard.facts if isinstance(fact, CaptureGap)]
    assert all(str(error).split(" - ")[0] in gap.reason for gap in gaps)
    assert [gap.seconds for gap in gaps].count(0) == 1  # and how long it lasted, where the test itself was slow


def test_an_error_of_the_store_is_reported_and_what_comes_next_is_written(
    listen: Listen, clip_pcm: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    take, failures = Session.take, [StoreError("the disk is full", "make room"), RuntimeError("oops")]

    def taken(session: Session, *arguments: object) -> tuple[Fact, ...]:
        if failures:
            raise failures.pop(0)
        return take(session, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(Session, "take", taken)
    said = [came for n in range(3) for came in frames(clip_pcm + SECOND, n * 4.0)]
    heard = listen(Source(said), FakeEars())
    full, unexpected = heard.view.of("failed")
    assert full == "the disk is full - make room"
    assert "an error in the program itself (RuntimeError: oops)" in str(unexpected)
    assert len(heard.of(EntryLogged)) == 1


def test_a_case_that_cannot_be_closed_is_the_callers_error(listen: Listen, monkeypatch: pytest.MonkeyPatch) -> None:
    heard = listen(Source([], goes_on=True), FakeEars(), wait=False)

    def fails(session: Session, at: float, why: str) -> None:
        raise StoreError("the disk is full", "make room")

    with monkeypatch.context() as patch:
        patch.setattr(Session, "close", fails)
        with pytest.raises(StoreError, match="the disk is full"):
            heard.listening.stop("ended by the test")
    heard.listening.session.close(1.0, "ended by the test")


def test_what_cannot_be_done_is_reported_to_whoever_asked_for_it(listen: Listen) -> None:
    heard = listen(Source([], goes_on=True), FakeEars(), wait=False)
    by = Correction("scribe", "misread", heard.listening.time)
    with pytest.raises(InputError, match="no line 7"):
        heard.listening.done(lambda session: session.strike(7, by))
    assert heard.view.of("failed") == []


def test_what_the_scribe_does_while_something_is_heard_keeps_its_order(listen: Listen, clip_pcm: bytes) -> None:
    said = [came for n in range(8) for came in frames(clip_pcm + SECOND, n * 4.0)]
    heard = listen(Source(said, goes_on=True), FakeEars(), wait=False)

    def write(name: str, number: int) -> None:
        at = heard.listening.time
        heard.listening.done(lambda session: session.write_note(f"{name} {number}", None, name, at))

    def writes(name: str) -> None:
        for number in range(10):
            write(name, number)

    writers = [threading.Thread(target=writes, args=(name,)) for name in ("one", "two")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(20)
    deadline = time.monotonic() + 20
    while len(heard.view.of("heard")) < 8 and time.monotonic() < deadline:
        time.sleep(0.05)
    heard.listening.done(lambda session: session.strike(8, Correction("scribe", "misread", heard.listening.time)))
    heard.listening.stop("ended by the test")
    assert [fact.number for fact in heard.of(EntryLogged)] == list(range(1, 9))  # type: ignore[union-attr]
    for name in ("one", "two"):
        notes = [note.text for note in heard.of(NoteWritten) if note.author == name]  # type: ignore[union-attr]
        assert notes == [f"{name} {number}" for number in range(10)]
    assert len(heard.of(EntryStruck)) == 1
    assert heard.facts[-1].fact == "case_closed"


def test_a_case_that_was_never_listened_to_is_closed_all_the_same(tmp_path: Path) -> None:
    session = open_case(tmp_path, NAME, definition()[0], "a fake", Keeping())
    LiveCase(Source([]), session, cast(Ears, FakeEars()), "open", Seen()).stop("the screen failed")
    assert store.read(tmp_path, NAME).facts[-1].fact == "case_closed"


# ---- in another way, and again ------------------------------------------------------------------------------------


def ways(heard: Heard) -> list[tuple[str, str, str]]:
    """How entries had to be said, according to the log."""
    facts = [fact for fact in heard.facts if isinstance(fact, ListeningChanged)]
    return [(fact.mode, fact.lead_word, fact.author) for fact in facts]


def until(holds: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 30
    while not holds():
        assert time.monotonic() < deadline
        time.sleep(0.01)


def test_how_entries_are_said_is_logged_and_changes_only_when_that_is_on_disk(listen: Listen, clip_pcm: bytes) -> None:
    ears = FakeEars(lead_word="log")

    def change(listening: LiveCase) -> None:
        listening.change_mode("open", "scribe")
        until(lambda: listening.mode == "open")
        assert listening.session.record.ways[-1].mode == "open"
        assert listening.lead_word is None

    said = [*frames(clip_pcm + SECOND), change, *frames(clip_pcm + SECOND, 4.0)]
    heard = listen(Source(said), ears, "lead word")
    assert ways(heard) == [("lead word", "log", "operator"), ("open", "", "scribe")]
    assert len(ears.segments) == 2, "the same engines hear both"
    assert len(heard.of(EntryLogged)) == 1


@pytest.mark.parametrize(("mode", "in_talk"), [("lead word", False), ("push to talk", False), ("open", True)])
def test_only_where_nothing_says_that_the_log_is_meant_talk_is_expected(
    listen: Listen, clip_pcm: bytes, mode: Mode, in_talk: bool
) -> None:
    ears = FakeEars(lead_word="log")
    heard = listen(Source(frames(clip_pcm + SECOND)), ears, mode)
    assert heard.listening._as_heard(0.0).in_talk is in_talk


def test_of_ways_asked_for_at_once_the_last_stays(listen: Listen, clip_pcm: bytes) -> None:
    def change(listening: LiveCase) -> None:
        listening.change_mode("push to talk", "scribe")
        listening.change_mode("open", "scribe")
        until(lambda: listening.coming is None)

    heard = listen(Source([change]), FakeEars(lead_word="log"), "lead word")
    assert [mode for mode, *_ in ways(heard)] in (["lead word", "open"], ["lead word", "push to talk", "open"])
    assert heard.listening.mode == "open"


def test_a_source_that_failed_is_listened_to_again_and_the_time_between_is_a_gap(
    listen: Listen, clip_pcm: bytes
) -> None:
    def fails(listening: LiveCase) -> None:
        raise EngineError("the device is gone", "plug it in")

    sources = [Source([fails]), Source(frames(clip_pcm + SECOND))]
    for source in sources:
        source.listening = cast(LiveCase, object())
    heard = listen(Source([fails]), FakeEars(), wait=False, again=lambda: sources.pop(0))
    for left in (1, 0):
        assert heard.view.stopped.wait(30)
        heard.view.stopped.clear()
        time.sleep(0.1)
        until(heard.listening.listen_again)
        assert len(sources) == left
    assert heard.view.stopped.wait(20)
    heard.listening.stop("ended by the test")
    assert len(heard.of(EntryLogged)) == 1
    noticed, whole = [fact for fact in heard.of(CaptureGap) if isinstance(fact, CaptureGap)]
    assert (noticed.seconds, noticed.reason) == (0.0, "the device is gone - plug it in")
    assert whole.began_at == noticed.began_at and whole.seconds >= 0.2


def test_what_goes_on_or_cannot_begin_anew_is_left_alone(listen: Listen) -> None:
    heard = listen(Source([], goes_on=True), FakeEars(), wait=False, again=lambda: Source([]))
    assert not heard.listening.listen_again()
    heard.listening.stop("ended by the test")
    assert not heard.listening.listen_again()


def test_noise_and_first_utterance_are_judged_while_it_listens(listen: Listen, clip_pcm: bytes) -> None:
    noise = np.random.default_rng(1).normal(0, 30, 3 * SAMPLE_RATE).astype("<i2").tobytes()
    heard = listen(Source(frames(noise + clip_pcm + SECOND)), FakeEars())
    results = [result for result in heard.view.of("checked") if isinstance(result, SoundCheckResult)]
    assert [(result.verdict, result.snr_db is None) for result in results] == [("good", True), ("good", False)]
    assert len(heard.of(EntryLogged)) == 1
