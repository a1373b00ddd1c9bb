"""Sources of sound. A source gives 30 ms frames of 16 kHz mono sound, whatever it was recorded as."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile
import soxr

from log.basics.errors import IncompleteInput, InputError
from voice.sound import ogg
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE

FRAME_SAMPLES = 480
"""30 ms: what the endpointer takes."""

FRAME_BYTES = FRAME_SAMPLES * BYTES_PER_SAMPLE

BLOCK_VALUES = 48_000
"""Values of a file that are read at once, all channels together."""

RATES = (1_000, 1_000_000)
"""Samples a second. What a damaged header says must not make a minute into a month."""

LOUDEST = 16.0
"""Times full scale. A sample may hold any number, or none; what is beyond this is damage, not sound."""

SHORTEST_SECONDS = 0.05


@dataclass(frozen=True, slots=True)
class Frame:
    """30 ms of sound."""

    pcm: bytes
    first_sample: int
    """Samples since the source was opened."""


class FrameSource(Protocol):
    """Anything that can be listened to."""

    @property
    def name(self) -> str:
        """The name of the source, for the record."""
        ...

    def frames(self) -> Iterator[Frame]:
        """Frames in order until the source ends; raises InputError if it fails."""
        ...


@dataclass(frozen=True, slots=True)
class AudioFile:
    """A recording: WAV, FLAC, Ogg and what else libsndfile reads, at any rate, with any number of channels."""

    path: Path
    paced: bool = False
    """Give frames in real time, as a microphone would, instead of as fast as they are wanted."""

    @property
    def name(self) -> str:
        """The file's name."""
        return self.path.name

    def check(self) -> None:
        """Raises InputError if the file cannot be used at all, before anything else is begun."""
        with self._opened():
            pass

    def frames(self) -> Iterator[Frame]:
        """The recording as frames, the last one filled up with silence.

        Raises InputError before the first frame if the file cannot be used at all, and IncompleteInput after the last
        good one if it ends before its header says so.
        """
        began = time.monotonic()
        position = 0
        for pcm in _framed(self._blocks()):
            if self.paced:
                time.sleep(max(0.0, began + (position + FRAME_SAMPLES) / SAMPLE_RATE - time.monotonic()))
            yield Frame(pcm, position)
            position += FRAME_SAMPLES
        self._refuse_truncated(position)

    def pcm(self) -> bytes:
        """The whole recording at once."""
        return b"".join(frame.pcm for frame in self.frames())

    def _blocks(self) -> Iterator[np.ndarray]:
        """Mono float blocks at 16 kHz."""
        with self._opened() as sound:
            resampler = None
            if sound.samplerate != SAMPLE_RATE:
                resampler = soxr.ResampleStream(sound.samplerate, SAMPLE_RATE, 1, dtype="float32", quality="HQ")
            for block in self._read(sound):
                mono = block.mean(axis=1, dtype=np.float32)
                yield mono if resampler is None else resampler.resample_chunk(mono)
            if resampler is not None:
                yield resampler.resample_chunk(np.zeros(0, np.float32), last=True)

    def _opened(self) -> soundfile.SoundFile:
        if self.path.is_dir():
            raise InputError(f"{self.path}: is a folder", "give a sound file")
        try:
            if self.path.stat().st_size == 0:
                raise InputError(f"{self.path}: the file is empty", "check the recording")
            sound = self._sound_file()
        except FileNotFoundError:
            raise InputError(f"{self.path}: there is no such file", "check the path") from None
        except OSError as error:
            raise InputError(f"{self.path}: cannot be read ({error.strerror})", "check its permissions") from None
        except (soundfile.LibsndfileError, TypeError) as error:  # TypeError: a .raw file does not say what is in it
            said = str(getattr(error, "error_string", error)).rstrip(".")
            raise InputError(
                f"{self.path}: not a sound file this program can read ({said})",
                "convert it to WAV or FLAC (Ogg Opus: opusdec FILE FILE.wav)",
            ) from None
        if not RATES[0] <= sound.samplerate <= RATES[1]:
            sound.close()
            raise InputError(
                f"{self.path}: {sound.samplerate} samples a second is not a rate of recorded speech",
                "check the recording",
            )
        if sound.frames < SHORTEST_SECONDS * sound.samplerate:
            sound.close()
            raise InputError(f"{self.path}: there is no sound in this file", "check the recording")
        return sound

    def _sound_file(self) -> soundfile.SoundFile:
        try:
            return soundfile.SoundFile(self.path)
        except soundfile.LibsndfileError:
            mended = ogg.with_end(self.path)
            if mended is None:
                raise
            return soundfile.SoundFile(io.BytesIO(mended))

    def _read(self, sound: soundfile.SoundFile) -> Iterator[np.ndarray]:
        length = max(1, BLOCK_VALUES // sound.channels)
        try:
            while len(block := sound.read(length, dtype="float32", always_2d=True)):  # its header may promise more
                yield np.clip(np.nan_to_num(block), -LOUDEST, LOUDEST)
        except soundfile.LibsndfileError as error:
            raise IncompleteInput(
                f"{self.path}: breaks off ({error.error_string})",
                "what came before is in the log; find the whole recording",
            ) from None

    def _refuse_truncated(self, samples: int) -> None:
        if ogg.lacks_end(self.path):
            raise IncompleteInput(
                f"{self.path}: breaks off after {samples / SAMPLE_RATE:.1f} s: its end is not marked",
                "what came before is in the log; find the whole recording",
            )
        missing = _missing_from_wav(self.path)
        if missing > 0:
            raise IncompleteInput(
                f"{self.path}: breaks off after {samples / SAMPLE_RATE:.1f} s, {missing:.1f} s are missing",
                "what came before is in the log; find the whole recording",
            )


def flac(pcm: bytes) -> bytes:
    """Mono 16-bit sound at 16 kHz as a FLAC file: without loss, at about half the size."""
    file = io.BytesIO()
    soundfile.write(file, np.frombuffer(pcm, "<i2"), SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def sound_of(flac: bytes) -> bytes:
    """The sound of a file that `flac` made."""
    samples, _ = soundfile.read(io.BytesIO(flac), dtype="int16")
    return bytes(samples.astype("<i2").tobytes())


def _framed(blocks: Iterator[np.ndarray]) -> Iterator[bytes]:
    """Float blocks of any length -> 16-bit frames of 30 ms."""
    rest = b""
    for block in blocks:
        scaled = np.clip(block * 32768.0, -32768, 32767)
        rest += np.rint(scaled).astype("<i2").tobytes()
        whole = len(rest) // FRAME_BYTES * FRAME_BYTES
        for start in range(0, whole, FRAME_BYTES):
            yield rest[start : start + FRAME_BYTES]
        rest = rest[whole:]
    if rest:
        yield rest.ljust(FRAME_BYTES, b"\0")


def _missing_from_wav(path: Path) -> float:
    """Seconds that a WAV header promises and the file does not hold; libsndfile reads such a file without a word."""
    with path.open("rb") as file:
        if file.read(4) != b"RIFF":
            return 0.0
        file.seek(12)
        bytes_per_second = 0
        while len(head := file.read(8)) == 8:
            name, size = head[:4], int.from_bytes(head[4:], "little")
            if name == b"fmt ":
                bytes_per_second = int.from_bytes(file.read(size)[8:12], "little")
                file.seek(size % 2, 1)
            elif name == b"data":
                held = path.stat().st_size - file.tell()
                streamed = size in (0, 0xFFFFFFFF, 0x7FFFFFFF)  # written by a program that could not seek back
                return (size - held) / bytes_per_second if size > held and bytes_per_second and not streamed else 0.0
            else:
                file.seek(size + size % 2, 1)
    return 0.0
