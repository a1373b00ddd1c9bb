"""What a microphone heard comes in its place on the clock; what it did not hear is reported, when it begins
and when it is over.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from log.basics.errors import EngineError
from tests.voice.fake_sound import BLOCK, Clock, FakeSound, FakeStream, spoken
from voice.sound import microphone, portaudio
from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.microphone import Microphone
from voice.sound.portaudio import Device
from voice.sound.reception import OVERFLOW, SLOW, Back, Block, Lost, Reception
from voice.sound.segment import SAMPLE_RATE

Heard = Frame | Lost | Back


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waits are short; those that tell what happened keep their order."""
    monkeypatch.setattr(microphone, "PATIENCE", 0.1)
    monkeypatch.setattr(microphone, "RETRY", 0.05)
    monkeypatch.setattr(microphone, "STARTING", 0.3)


def frames_of(heard: list[Heard]) -> list[Frame]:
    return [one for one in heard if isinstance(one, Frame)]


def told_of(heard: list[Heard]) -> list[Lost | Back]:
    return [one for one in heard if not isinstance(one, Frame)]


def sound_of(heard: list[Heard]) -> np.ndarray:
    return np.frombuffer(b"".join(frame.pcm for frame in frames_of(heard)), "<i2") / 32768


def follow_each_other(heard: list[Heard]) -> bool:
    """Whether nothing lies between the frames except where a gap is reported, and every gap leads to the next frame."""
    expected: int | None = None
    for one in heard:
        if isinstance(one, Back):
            expected = round(one.at * SAMPLE_RATE)
        elif isinstance(one, Frame):
            if expected is not None and one.first_sample != expected:
                return False
            expected = one.first_sample + FRAME_SAMPLES
        elif expected is not None and round(one.at * SAMPLE_RATE) != expected:
            return False
    return True


# ---- the clock: blocks with their moments of arrival ----------------------------------------------------------------


class Room:
    """Blocks that arrive at a reception, by the clock on the wall."""

    def __init__(self) -> None:
        self.now = 50.0
        self.reception = Reception(self.now)
        self.heard: list[Heard] = []

    def passes(self, seconds: float) -> None:
        self.now += seconds

    def block(self, arrives_after: float = BLOCK, overflowed: bool = False) -> None:
        self.now += arrives_after
        pcm = bytes(FRAME_BYTES)
        self.heard += self.reception.take(Block(1, pcm, SAMPLE_RATE, 1, self.now, overflowed))

    def speaks(self, seconds: float) -> None:
        for _ in range(round(seconds / BLOCK)):
            self.block()

    @property
    def off(self) -> float:
        """Seconds by which the end of the last frame lies after the clock on the wall."""
        last = next(one for one in reversed(self.heard) if isinstance(one, Frame))
        end = last.first_sample + FRAME_SAMPLES
        return end / SAMPLE_RATE - (self.now - 50.0)


def test_sound_lies_where_the_clock_on_the_wall_has_it_from_the_first_frame_on() -> None:
    room = Room()
    room.passes(0.7)  # until the device gives its first sound
    room.speaks(3.0)
    assert frames_of(room.heard)[0].first_sample == pytest.approx(0.7 * SAMPLE_RATE, abs=1)
    assert len(frames_of(room.heard)) == 100
    assert told_of(room.heard) == []
    assert abs(room.off) < 0.001


def test_a_late_block_moves_nothing() -> None:
    room = Room()
    room.speaks(1.2)
    room.block(arrives_after=0.55)
    for _ in range(17):
        room.block(arrives_after=0.001)
    room.speaks(2.0)
    assert told_of(room.heard) == []
    assert follow_each_other(room.heard)
    assert abs(room.off) < 0.05


@pytest.mark.parametrize("seconds", [0.35, 1.0, 20.0])
def test_sound_that_is_missing_while_blocks_come_is_reported_with_its_seconds(seconds: float) -> None:
    room = Room()
    room.speaks(1.2)
    room.block(arrives_after=BLOCK + seconds)
    room.speaks(2.0)
    lost, back = told_of(room.heard)
    assert isinstance(lost, Lost) and isinstance(back, Back)
    assert back.seconds == pytest.approx(seconds, abs=0.01)
    assert back.at - lost.at == pytest.approx(seconds, abs=0.01)
    assert back.reason == lost.reason == SLOW
    assert follow_each_other(room.heard)
    assert abs(room.off) < 0.05


def test_less_than_the_threshold_is_left_alone_unless_the_sound_system_says_that_it_lost_some() -> None:
    for overflowed, gaps in ((False, []), (True, [pytest.approx(0.2, abs=0.01)])):
        room = Room()
        room.speaks(1.2)
        room.block(arrives_after=BLOCK + 0.2, overflowed=overflowed)
        room.speaks(2.0)
        backs = [one for one in told_of(room.heard) if isinstance(one, Back)]
        assert [back.seconds for back in backs] == gaps
        assert [back.reason for back in backs] == [OVERFLOW] * len(gaps)
        assert follow_each_other(room.heard)


def test_an_overflow_in_which_nothing_is_missing_is_none() -> None:
    room = Room()
    room.speaks(1.2)
    room.block(overflowed=True)
    room.speaks(2.0)
    assert told_of(room.heard) == []


def test_a_slow_sound_card_is_set_right_once_in_a_while_and_never_far_off() -> None:
    room = Room()
    for _ in range(20_000):  # ten minutes with a clock that is 0.1 % slow
        room.block(arrives_after=BLOCK * 1.001)
        if room.heard:
            assert abs(room.off) < 0.33
    backs = [one for one in told_of(room.heard) if isinstance(one, Back)]
    assert len(backs) == 1 and backs[0].seconds == pytest.approx(0.3, abs=0.01)
    assert follow_each_other(room.heard)


def test_sound_that_was_only_held_up_comes_whole_and_the_gap_is_none() -> None:
    room = Room()
    room.speaks(1.2)
    room.passes(0.9)
    room.heard += room.reception.lose("held up")
    for _ in range(30):
        room.block(arrives_after=0.001)
    room.speaks(1.0)
    lost, back = told_of(room.heard)
    assert isinstance(lost, Lost) and isinstance(back, Back)
    assert back.seconds < 0.05
    assert len(frames_of(room.heard)) == 40 + 30 + 33
    assert follow_each_other(room.heard)
    assert abs(room.off) < 0.05


def test_frames_never_go_back_in_time() -> None:
    room = Room()
    room.speaks(1.2)
    for _ in range(100):
        room.block(arrives_after=0.0)  # three seconds at once
    room.heard += room.reception.lose("gone")
    room.speaks(1.2)
    places = [frame.first_sample for frame in frames_of(room.heard)]
    assert places == sorted(set(places))
    assert follow_each_other(room.heard)


# ---- the microphone -------------------------------------------------------------------------------------------------


def listened(sound: FakeSound, clock: Clock, until_frames: int) -> list[Heard]:
    """What it hears until there are so many frames."""
    heard: list[Heard] = []
    with Microphone(open_stream=sound.open, clock=clock) as source:
        for one in source.frames():
            heard.append(one)
            if len(frames_of(heard)) >= until_frames:
                source.close()
    return heard


@pytest.mark.parametrize(("rate", "channels"), [(16_000, 1), (16_000, 2), (44_100, 1), (48_000, 1), (48_000, 2)])
def test_a_tone_keeps_pitch_level_and_place_whatever_the_device_can_do(rate: int, channels: int) -> None:
    clock = Clock()
    sound = FakeSound(rate, channels, at_opening=lambda stream: spoken(clock, stream, 1.2))
    with Microphone(open_stream=sound.open, clock=clock) as source:
        frames: Iterator[Heard] = source.frames()
        heard = [next(frames)]
        source.close()
        heard += frames
    assert told_of(heard) == []
    assert {len(frame.pcm) for frame in frames_of(heard)} == {FRAME_BYTES}
    assert [frame.first_sample for frame in frames_of(heard)] == [n * FRAME_SAMPLES for n in range(len(heard))]
    assert 40 <= len(heard) <= 41
    inner = sound_of(heard)[1600:17600]
    spectrum = np.abs(np.fft.rfft(inner * np.hanning(len(inner))))
    assert np.argmax(spectrum) * SAMPLE_RATE / len(inner) == pytest.approx(440, abs=2)
    assert np.sqrt(2 * np.mean(inner**2)) == pytest.approx(0.25, rel=0.02)
    assert source.name == "fake microphone"


def test_nothing_is_lost_between_callback_and_frames() -> None:
    clock, rng = Clock(), np.random.default_rng(3)
    said = rng.uniform(-0.9, 0.9, 200 * FRAME_SAMPLES)

    def say(stream: FakeStream) -> None:
        for block in said.reshape(-1, FRAME_SAMPLES):
            clock.now += BLOCK
            stream.say(block)

    heard = listened(FakeSound(at_opening=say), clock, 200)
    assert b"".join(frame.pcm for frame in frames_of(heard)) == np.rint(said * 32767).astype("<i2").tobytes()


@pytest.mark.usefixtures("quick")
def test_a_pulled_device_is_reported_at_once_and_its_return_with_the_seconds_that_are_missing() -> None:
    clock = Clock()

    def say(stream: FakeStream) -> None:
        spoken(clock, stream, 0.6)
        if len(sound.streams) == 1:
            stream.end()
            sound.missing = 2
            clock.now += 7.0

    sound = FakeSound(at_opening=say)
    heard = listened(sound, clock, 40)
    lost, back = told_of(heard)
    assert lost == Lost(0.6, microphone.STOPPED)
    assert isinstance(back, Back)
    assert back.at == pytest.approx(7.6)
    assert back.seconds == pytest.approx(7.0)
    assert back.reason == microphone.STOPPED
    assert follow_each_other(heard)
    assert sound.attempts == 4
    assert not any(stream.active for stream in sound.streams)


@pytest.mark.usefixtures("quick")
def test_a_microphone_that_falls_silent_is_lost_although_it_says_that_it_runs() -> None:
    clock = Clock()
    sound = FakeSound(at_opening=lambda stream: spoken(clock, stream, 0.6))
    heard = listened(sound, clock, 40)
    assert told_of(heard)[0] == Lost(0.6, microphone.SILENT)
    assert len(sound.streams) == 2
    assert not sound.streams[0].active


@pytest.mark.usefixtures("quick")
def test_it_is_lost_and_found_as_often_as_it_pleases() -> None:
    clock = Clock()

    def say(stream: FakeStream) -> None:
        clock.now += 1.0
        spoken(clock, stream, 0.3)
        if len(sound.streams) < 5:
            stream.end()

    sound = FakeSound(at_opening=say)
    heard = listened(sound, clock, 50)
    assert [type(one) for one in told_of(heard)] == [Lost, Back] * 4
    assert all(one.seconds == pytest.approx(1.0) for one in told_of(heard) if isinstance(one, Back))
    assert follow_each_other(heard)


@pytest.mark.usefixtures("quick")
def test_a_microphone_that_never_gives_a_sound_is_lost_from_the_start() -> None:
    sound = FakeSound()
    with Microphone(open_stream=sound.open) as source:
        assert next(source.frames()) == Lost(0.0, microphone.SILENT)


def test_a_microphone_that_is_not_there_at_first_is_an_error() -> None:
    sound = FakeSound(missing=1)
    with pytest.raises(EngineError, match="there is no microphone"):
        next(Microphone(open_stream=sound.open).frames())


def test_whether_it_can_be_opened_is_known_before_it_is_listened_to() -> None:
    sound = FakeSound(missing=1)
    with pytest.raises(EngineError, match="there is no microphone"):
        Microphone(open_stream=sound.open).check()
    source = Microphone(open_stream=sound.open)
    source.check()
    assert [stream.active for stream in sound.streams] == [False]
    assert source.name == sound.streams[0].name


@pytest.mark.parametrize("lost", [False, True])
def test_it_can_be_closed_from_another_thread_even_while_it_is_lost(lost: bool) -> None:
    clock, sound = Clock(), FakeSound()
    source = Microphone(open_stream=sound.open, clock=clock)
    heard: list[Heard] = []
    listener = threading.Thread(target=lambda: heard.extend(source.frames()))
    listener.start()
    while not sound.streams:
        time.sleep(0.001)
    spoken(clock, sound.streams[0], 0.3)
    if lost:
        sound.missing = 1000
        sound.streams[0].end()
        while not told_of(heard):
            time.sleep(0.001)
    source.close()
    source.close()
    listener.join(timeout=20)
    assert not listener.is_alive()
    assert len(frames_of(heard)) == 10
    assert [type(one) for one in told_of(heard)] == [Lost] * lost
    assert not sound.streams[0].active
    attempts = sound.attempts
    time.sleep(0.1)
    assert sound.attempts == attempts


# ---- which microphone -----------------------------------------------------------------------------------------------

CARD = Device(0, "Desk microphone", 1, 48_000, False, "one")
HEADSET = Device(3, "Headset", 2, 16_000, True, "one")
HEADSET_AGAIN = Device(5, "Headset", 2, 48_000, False, "two")


@pytest.mark.parametrize(
    ("wanted", "found"),
    [(None, HEADSET), ("0", CARD), ("5", HEADSET_AGAIN), ("headset", HEADSET), ("desk", CARD)],
)
def test_a_microphone_is_found_by_number_name_or_part_of_it(wanted: str | None, found: Device) -> None:
    assert portaudio.find(wanted, (CARD, HEADSET, HEADSET_AGAIN)) is found


def test_what_is_not_there_or_could_be_several_is_reported_with_the_names() -> None:
    with pytest.raises(EngineError, match='no microphone "lapel"') as unknown:
        portaudio.find("lapel", (CARD, HEADSET))
    assert unknown.value.remedy == 'choose one of: 0 "Desk microphone", 3 "Headset"'
    with pytest.raises(EngineError, match="several microphones"):
        portaudio.find("e", (CARD, HEADSET))
    with pytest.raises(EngineError, match="there is no microphone"):
        portaudio.find(None, ())


def test_without_portaudio_the_message_says_what_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    class Missing:
        def find_spec(self, name: str, path: object = None, target: object = None) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr("sys.meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(EngineError, match="PortAudio is not installed") as caught:
        next(Microphone().frames())
    assert "apt install libportaudio2" in caught.value.remedy
