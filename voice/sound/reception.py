"""Blocks of sound, each with the moment at which it came -> frames in their place on the clock, and what is missing.

Time is counted in samples, so that sound stays as it was spoken. The machine's clock is asked only where samples
cannot know: at the start, after a loss, and when sound is behind by more than jitter can explain. Following it sample
by sample would stretch speech with every hiccup of the machine; the 0.01 % by which a sound card's clock may be off is
0.4 s in an hour, and when that much has gathered it is reported as a loss of sound: nobody can distinguish the two.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import soxr

from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE

BEHIND = 0.3
"""Seconds by which sound may lie behind the clock before some of it counts as missing."""

BEHIND_OVERFLOW = 0.03
"""The same once the sound system said that it lost some: one block."""

WINDOW = 0.5
"""Seconds over which even the block that came soonest has to be behind: a single one may just be late."""

SETTLING = 0.25
"""Seconds for which sound is collected before it is given its place: what a sound system held back comes in a burst."""

OVERFLOW = "sound was lost: the machine was too busy to take it"
SLOW = "sound is missing: lost on its way, or the sound card's clock is slow"


@dataclass(frozen=True, slots=True)
class Lost:
    """From here on nothing is heard."""

    at: float
    """Seconds on the source's clock at which sound was last heard."""
    reason: str


@dataclass(frozen=True, slots=True)
class Back:
    """Sound is here again."""

    at: float
    """Seconds on the source's clock: the next frame begins here."""
    seconds: float
    """For which nothing was heard; 0 if all of it came after all, only late."""
    reason: str
    """Why it was lost."""


@dataclass(frozen=True, slots=True)
class Block:
    """Sound as a device gave it."""

    run: int
    """The opening of the device it comes from."""
    pcm: bytes
    """16-bit samples, channels interleaved."""
    rate: int
    channels: int
    arrived: float
    """Seconds on the machine's clock."""
    overflowed: bool = False
    """The sound system says that something before it was lost."""

    @property
    def seconds(self) -> float:
        """Its length in sound."""
        return len(self.pcm) / BYTES_PER_SAMPLE / self.channels / self.rate


class Reception:
    """The sound of a source, from `began` (seconds on the machine's clock) on."""

    def __init__(self, began: float) -> None:
        self.lost = False
        """Whether a reported loss is not over."""
        self.run = 0
        """The opening that the last block came from."""
        self._began = began
        self._position = 0
        self._reason = ""
        self._held: list[Block] = []
        self._cutter: _Cutter | None = None
        self._anchor = began
        self._since_anchor = 0.0
        self._late: deque[tuple[float, float]] = deque()
        self._overflowed = False

    @property
    def receiving(self) -> bool:
        """Whether sound was coming until now."""
        return bool(self._held) or self._cutter is not None

    def take(self, block: Block) -> Iterator[Frame | Lost | Back]:
        """The next block."""
        self.run = block.run
        if self._cutter is None:
            self._held.append(block)
            if block.arrived - self._held[0].arrived >= SETTLING:
                yield from self._placed()
            return
        missing = self._missing(block)
        if missing > 0:
            reason = OVERFLOW if self._overflowed else SLOW
            self._overflowed = False
            yield from self._cut(self._cutter.rest())
            yield Lost(self._now, reason)
            yield self._moved_on(self._anchor + self._since_anchor, reason)
            self._cutter = _Cutter(block.rate, block.channels)
        self._since_anchor += block.seconds
        yield from self._cut(self._cutter.push(block))

    def lose(self, reason: str) -> Iterator[Frame | Lost | Back]:
        """Nothing comes any more."""
        yield from self.end()
        self.lost, self._reason = True, reason
        yield Lost(self._now, reason)

    def end(self) -> Iterator[Frame | Lost | Back]:
        """The frames and losses still kept back."""
        if self._held:
            yield from self._placed()
        if self._cutter is not None:
            yield from self._cut(self._cutter.rest())
        self._cutter = None

    @property
    def _now(self) -> float:
        return self._position / SAMPLE_RATE

    def _placed(self) -> Iterator[Frame | Lost | Back]:
        """Gives the blocks that were held their place: the latest one at which all of them had been spoken in time."""
        blocks, self._held = self._held, []
        spoken, begins = 0.0, float("inf")
        for block in blocks:
            spoken += block.seconds
            begins = min(begins, block.arrived - spoken)
        back = self._moved_on(begins, self._reason)
        if self.lost:
            self.lost = False
            yield back
        self._anchor, self._since_anchor = self._began + self._now, spoken
        self._late.clear()
        self._overflowed = False
        self._cutter = _Cutter(blocks[0].rate, blocks[0].channels)
        for block in blocks:
            yield from self._cut(self._cutter.push(block))

    def _moved_on(self, begins: float, reason: str) -> Back:
        """Moves the clock on to a moment; never back."""
        before = self._position
        self._position = max(before, round((begins - self._began) * SAMPLE_RATE))
        return Back(self._now, (self._position - before) / SAMPLE_RATE, reason)

    def _missing(self, block: Block) -> float:
        """Seconds of sound that should have come before this block and did not; moves the anchor by as much."""
        if block.overflowed:
            self._overflowed = True
            self._late.clear()
        late = block.arrived - self._anchor - self._since_anchor - block.seconds
        self._late.append((block.arrived, late))
        if block.arrived - self._late[0][0] < WINDOW:
            return 0.0
        least = min(late for _, late in self._late)
        if least > (BEHIND_OVERFLOW if self._overflowed else BEHIND):
            self._anchor += least
            self._late.clear()
            return least
        self._overflowed = False
        self._late.popleft()
        return 0.0

    def _cut(self, frames: Iterator[bytes]) -> Iterator[Frame]:
        for pcm in frames:
            yield Frame(pcm, self._position)
            self._position += FRAME_SAMPLES


class _Cutter:
    """Blocks of any rate, length and number of channels -> frames."""

    def __init__(self, rate: int, channels: int) -> None:
        self._channels = channels
        self._rest = b""
        self._resampler = (
            None if rate == SAMPLE_RATE else soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="int16", quality="HQ")
        )

    def push(self, block: Block) -> Iterator[bytes]:
        """The frames that are whole with this block."""
        sound = np.frombuffer(block.pcm, "<i2")
        if self._channels > 1:
            sound = sound.reshape(-1, self._channels).mean(axis=1).astype("<i2")
        if self._resampler is not None:
            sound = self._resampler.resample_chunk(sound)
        self._rest += sound.tobytes()
        yield from self._whole()

    def rest(self) -> Iterator[bytes]:
        """The remaining frames, the last filled up with silence."""
        if self._resampler is not None:
            self._rest += self._resampler.resample_chunk(np.zeros(0, np.int16), last=True).tobytes()
            self._resampler = None
        yield from self._whole()
        if self._rest:
            yield self._rest.ljust(FRAME_BYTES, b"\0")
            self._rest = b""

    def _whole(self) -> Iterator[bytes]:
        whole = len(self._rest) // FRAME_BYTES * FRAME_BYTES
        ready, self._rest = self._rest[:whole], self._rest[whole:]
        for start in range(0, whole, FRAME_BYTES):
            yield ready[start : start + FRAME_BYTES]
