"""The listener knows from when to when something is said, and of those that wait the newest is said."""

from __future__ import annotations

import shutil
import threading

import pytest

from log.basics.errors import EngineError
from tests.voice.english.test_spoken import FIFTY, PROCEDURE
from voice.english.spoken import spoken
from voice.speak import speaker
from voice.speak.speaker import Speaker, synthesised

needs_a_voice = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")


class Loudspeaker:
    """Plays as long as it is told to, and keeps what it played."""

    def __init__(self) -> None:
        self.played: list[tuple[bytes, int]] = []
        self.began = threading.Semaphore(0)
        self.go_on = threading.Semaphore(0)
        self.broken = False

    def __call__(self, pcm: bytes, rate: int, stop: threading.Event) -> None:
        self.played.append((pcm, rate))
        self.began.release()
        if self.broken:
            raise EngineError("the loudspeaker cannot be used")
        while not stop.is_set() and not self.go_on.acquire(timeout=0.01):
            pass


@pytest.fixture
def voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """A voice that needs no program."""
    monkeypatch.setattr(speaker, "synthesised", lambda text: (text.encode(), 16_000))
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")


@pytest.mark.usefixtures("voice")
def test_begin_and_end_are_reported_and_of_those_that_wait_the_newest_is_said() -> None:
    loudspeaker, told = Loudspeaker(), list[str]()
    ended = threading.Semaphore(0)

    def end() -> None:
        told.append("end")
        ended.release()

    speaker = Speaker(lambda: told.append("begin"), end, play=loudspeaker)
    assert not speaker.speaking
    speaker.say("first")
    assert speaker.speaking
    assert loudspeaker.began.acquire(timeout=20)
    assert told == ["begin"]
    speaker.say("old")
    speaker.say("new")
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=20) and loudspeaker.began.acquire(timeout=20)
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=20)
    assert [pcm for pcm, _ in loudspeaker.played] == [b"first", b"new"]
    assert told == ["begin", "end"] * 2
    speaker.close()
    assert not speaker.speaking


@pytest.mark.usefixtures("voice")
def test_the_listener_is_let_hear_again_even_if_the_loudspeaker_fails_and_the_next_sentence_is_tried() -> None:
    loudspeaker, told = Loudspeaker(), list[str]()
    loudspeaker.broken = True
    failed = threading.Semaphore(0)

    def failure(error: EngineError) -> None:
        told.append(error.problem)
        failed.release()

    speaker = Speaker(lambda: told.append("begin"), lambda: told.append("end"), failure, loudspeaker)
    for _ in range(2):
        speaker.say("anything")
        assert failed.acquire(timeout=20)
    speaker.close()
    assert told == ["begin", "end", "the loudspeaker cannot be used"] * 2


@pytest.mark.usefixtures("voice")
def test_it_falls_silent_when_it_is_closed() -> None:
    loudspeaker = Loudspeaker()
    speaker = Speaker(play=loudspeaker)
    speaker.say("a long story")
    assert loudspeaker.began.acquire(timeout=20)
    speaker.close()
    speaker.close()
    speaker.say("too late")
    assert len(loudspeaker.played) == 1


@pytest.mark.usefixtures("voice")
def test_it_is_hushed_in_the_middle_of_a_sentence_and_speaks_again_when_it_is_asked_to() -> None:
    loudspeaker, ended = Loudspeaker(), threading.Semaphore(0)
    speaker = Speaker(on_end=ended.release, play=loudspeaker)
    speaker.say("a long story")
    assert loudspeaker.began.acquire(timeout=20)
    speaker.say("what came after it")
    speaker.hush()
    assert ended.acquire(timeout=20)
    speaker.say("later")
    assert loudspeaker.began.acquire(timeout=20)
    assert not ended.acquire(timeout=0.1), "it speaks until it is through"
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=20)
    assert [pcm for pcm, _ in loudspeaker.played] == [b"a long story", b"later"]
    speaker.close()


def test_without_the_program_the_message_says_what_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(EngineError, match="espeak-ng is not installed") as caught:
        Speaker()
    assert "apt install espeak-ng" in caught.value.remedy


@needs_a_voice
def test_a_sentence_becomes_sound_of_a_sensible_length() -> None:
    pcm, rate = synthesised(spoken(PROCEDURE, FIFTY))
    assert rate >= 16_000
    assert 1.5 < len(pcm) / 2 / rate < 6
    assert max(pcm) > 0


def test_a_voice_that_fails_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speaker, "SYNTHESISE", ("false",))
    with pytest.raises(EngineError, match="cannot speak"):
        synthesised("anything")
