"""A microphone from end to end: a sound server of our own, a process that listens, a phrase that is played, and what
happens to microphones.
"""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
import pytest
import soundfile

from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.sound.audio import FRAME_SAMPLES, Frame
from voice.sound.endpoint import Endpointer, level_db
from voice.sound.segment import SAMPLE_RATE, Segment

LISTENER = """
import json, sys, threading, time
from voice.sound.microphone import Back, Lost, Microphone
from voice.sound.portaudio import silenced

with silenced(), Microphone() as source:
    threading.Thread(target=lambda: (sys.stdin.read(), source.close()), daemon=True).start()
    print(json.dumps({"began": time.monotonic()}), flush=True)
    for came in source.frames():
        if isinstance(came, Lost):
            told = {"lost": came.at, "reason": came.reason}
        elif isinstance(came, Back):
            told = {"back": came.at, "seconds": came.seconds, "reason": came.reason}
        else:
            told = {"first": came.first_sample, "pcm": came.pcm.hex()}
        print(json.dumps(told | {"now": time.monotonic()}), flush=True)
print(json.dumps({"ended": source.name}), flush=True)
"""

SPEECH_BEGINS, SPEECH_ENDS = 0.63, 2.21
"""Seconds, of the shipped clip."""

LOUD_DB = -45.0


class Listener:
    """A process that listens to the default microphone and prints everything it hears."""

    def __init__(self, microphone: VirtualMicrophone, errors: IO[str]) -> None:
        self._errors = errors
        self._process = subprocess.Popen(
            [sys.executable, "-c", LISTENER],
            cwd=Path(__file__).parents[2],
            env=microphone.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
        )
        self._told: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.began = float(self.next()["began"])
        """When its clock began, on the machine's."""

    def _read(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as lines:
            for line in lines:
                self._told.put(json.loads(line))

    def next(self) -> dict[str, Any]:
        """Its next report, within seconds."""
        return self._told.get(timeout=10)

    def until(self, what: str) -> tuple[dict[str, Any], list[Frame]]:
        """The next of these things that it reports, and the frames before it; nothing else may come between."""
        frames: list[Frame] = []
        while what not in (told := self.next()):
            assert "pcm" in told, told
            frames.append(Frame(bytes.fromhex(told["pcm"]), told["first"]))
        return told, frames

    def hear(self, seconds: float) -> list[Frame]:
        """The frames of the next seconds; none may be missing."""
        until = time.monotonic() + seconds
        frames: list[Frame] = []
        while (told := self.next())["now"] < until:
            assert "pcm" in told, told
            frames.append(Frame(bytes.fromhex(told["pcm"]), told["first"]))
        return frames

    def end(self) -> str:
        """Closes the microphone from another thread, and gives what else the process wrote."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        try:
            code = self._process.wait(timeout=10)
        finally:
            self._process.kill()
            self._process.wait()
            self._reader.join(timeout=2)
        self._errors.seek(0)
        errors = self._errors.read()
        assert code == 0, errors
        return errors


@dataclass(frozen=True, slots=True)
class Room:
    """A sound server and a process that listens to it."""

    microphone: VirtualMicrophone
    listener: Listener
    phrase: Path

    def says_the_phrase(self) -> tuple[float, list[Frame]]:
        """Has it played; gives when, on the listener's clock, and what was heard meanwhile."""
        playing = threading.Thread(target=self.microphone.play, args=(self.phrase,))
        began = time.monotonic()
        playing.start()
        frames = self.listener.hear(3.3)
        playing.join()
        return began - self.listener.began, frames

    def hears(self) -> None:
        """What is said now is heard."""
        _, frames = self.says_the_phrase()
        assert sum(level_db(frame.pcm) > LOUD_DB for frame in frames) * FRAME_SAMPLES / SAMPLE_RATE > 1.0

    def is_told_of(self, what_happened: float) -> float:
        """A loss is reported within a second of what happened; gives where on the clock sound ended."""
        lost, _ = self.listener.until("lost")
        assert lost["now"] - what_happened < 1.0
        assert lost["lost"] == pytest.approx(what_happened - self.listener.began, abs=0.25)
        assert lost["reason"]
        return float(lost["lost"])

    def is_back(self, lost_at: float, here_again: float) -> None:
        """The return is reported, with the seconds that are missing, soon after the microphone is there."""
        back, frames = self.listener.until("back")
        assert frames == []
        assert back["now"] - here_again < 4.0
        assert back["back"] > here_again - self.listener.began
        assert back["seconds"] == pytest.approx(back["back"] - lost_at, abs=0.001)


@pytest.fixture
def room(tmp_path: Path, clip: Path) -> Iterator[Room]:
    phrase = tmp_path / "phrase.wav"
    sound, rate = soundfile.read(clip)
    soundfile.write(phrase, sound, rate, subtype="PCM_16")
    with virtual_microphone() as microphone, (tmp_path / "errors").open("w+") as errors:
        listener = Listener(microphone, errors)
        try:
            yield Room(microphone, listener, phrase)
        finally:
            listener.end()


def follow_each_other(frames: list[Frame]) -> bool:
    places = [frame.first_sample for frame in frames]
    return places == list(range(places[0], places[0] + len(places) * FRAME_SAMPLES, FRAME_SAMPLES))


def test_a_phrase_that_is_played_is_heard_in_its_place_and_understood(room: Room, ears: Ears) -> None:
    room.listener.hear(1.0)
    played_at, frames = room.says_the_phrase()
    assert room.listener.end() == ""

    assert follow_each_other(frames)
    loud = [frame.first_sample / SAMPLE_RATE for frame in frames if level_db(frame.pcm) > LOUD_DB]
    assert loud[0] - played_at == pytest.approx(SPEECH_BEGINS, abs=0.2)
    assert loud[-1] - loud[0] == pytest.approx(SPEECH_ENDS - SPEECH_BEGINS, abs=0.2)
    segment = only_segment(frames)
    assert loud[0] - 0.4 < segment.start < loud[0] + 0.1  # what is kept before the first sound belongs to it
    assert ears.hear(segment, Listening()).text == "gastric pressure twenty"


def only_segment(frames: list[Frame]) -> Segment:
    endpointer = Endpointer(frames[0].first_sample)
    found = [segment for frame in frames if (segment := endpointer.push(frame)) is not None]
    last = endpointer.flush()
    (segment,) = found + ([last] if last is not None else [])
    return segment


def test_a_pulled_microphone_and_a_dead_server_are_reported_within_a_second_and_heard_again(room: Room) -> None:
    room.listener.hear(1.0)

    room.microphone.pull()
    lost_at = room.is_told_of(time.monotonic())
    time.sleep(1.5)
    here_again = time.monotonic()
    room.microphone.put_back()
    room.is_back(lost_at, here_again)
    room.hears()

    room.microphone.kill_server()
    lost_at = room.is_told_of(time.monotonic())
    time.sleep(1.5)
    here_again = time.monotonic()
    room.microphone.restart_server()
    room.is_back(lost_at, here_again)
    room.hears()

    assert room.listener.end() == "", "sound libraries write over the screen"


def test_it_can_be_left_while_there_is_no_microphone(room: Room) -> None:
    room.listener.hear(0.5)
    room.microphone.kill_server()
    room.is_told_of(time.monotonic())
    time.sleep(1.2)
    began = time.monotonic()
    room.listener.end()
    assert time.monotonic() - began < 2.0


def test_the_levels_that_are_played_are_the_levels_that_are_heard(room: Room, tmp_path: Path) -> None:
    level = 0.1
    moments = np.arange(2 * SAMPLE_RATE) / SAMPLE_RATE
    room_tone = tmp_path / "tone.wav"
    soundfile.write(room_tone, level * np.sin(2 * np.pi * 440 * moments), SAMPLE_RATE, subtype="PCM_16")
    room.listener.hear(0.5)
    room.microphone.play(room_tone)
    loud = [level_db(frame.pcm) for frame in room.listener.hear(0.5)]
    room.listener.end()
    assert max(loud) == pytest.approx(20 * np.log10(level / np.sqrt(2)), abs=0.5)
