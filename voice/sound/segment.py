"""A stretch of speech: what the endpointer cuts out of the sound and every engine hears."""

from __future__ import annotations

from dataclasses import dataclass

SAMPLE_RATE = 16_000
"""Hertz; every source is brought to this rate before anything else sees it."""

BYTES_PER_SAMPLE = 2


@dataclass(frozen=True, slots=True)
class Segment:
    """One stretch of speech, cut out by the endpointer."""

    pcm: bytes
    """Mono, 16 kHz, signed 16-bit little-endian."""
    first_sample: int
    """Position in the source, counted in samples since it was opened: the only clock for "when it was said"."""
    overheard_until: int
    """Sample at which the endpointer knew that the speech was over."""

    @property
    def start(self) -> float:
        """Seconds from the start of the source to the first sample."""
        return self.first_sample / SAMPLE_RATE

    @property
    def seconds(self) -> float:
        """Length of the sound."""
        return len(self.pcm) / BYTES_PER_SAMPLE / SAMPLE_RATE

    @property
    def end(self) -> float:
        """Seconds from the start of the source to the end of the speech."""
        return self.start + self.seconds
