"""Tones for those who do not look: which, how loud, and never while somebody speaks."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from log.facts.events import FindingRaised
from tests.tui.rooms import room
from tui.live.aloud import finding_aloud, read_aloud
from tui.live.tones import RATE, TONES, Tones, sound_of, tone_of
from tui.live.view import View


def test_the_most_urgent_of_what_happened_sounds(tmp_path: Path) -> None:
    begun = room(tmp_path)
    assert tone_of(begun.say("airway secured capnography confirmed")) == "logged"
    assert tone_of(begun.say("gastric in fifty")) == "asked"
    assert tone_of(begun.say("mind the cable please")) == "not understood"
    assert tone_of(begun.say("oesophageal pressure six zero")) == "high"
    assert tone_of(()) == ""


@pytest.mark.parametrize("tone", TONES)
def test_a_tone_is_short_and_quiet_and_does_not_click(tone: str) -> None:
    sound = np.frombuffer(sound_of(tone), "<i2").astype(float)
    assert len(sound) / RATE < 0.8
    assert 0.03 < np.abs(sound).max() / 32_767 < 0.1
    assert np.abs(np.diff(sound)).max() / 32_767 < 0.03


class Silent:
    """A view that shows nothing."""

    def __getattr__(self, name: str) -> object:
        return lambda *_: None


def test_nothing_sounds_while_somebody_speaks(tmp_path: Path) -> None:
    heard = threading.Event()
    tones = Tones(cast(View, Silent()), lambda pcm, rate, stop: heard.set())
    tones.state("hearing")
    tones.notify(room(tmp_path).say("tube passed"))
    assert not heard.wait(0.1)
    tones.state("listening")
    assert heard.wait(20)


def test_a_line_is_read_aloud_short_with_its_findings(tmp_path: Path) -> None:
    begun = room(tmp_path)
    begun.say("tube passed")
    for words, said, high in (
        ("gastric in five zero", "fifty, five zero in, gastric, fifty total", ""),
        ("gastric in two zero", "twenty in, gastric, seventy total", "high: gastric volume out of range"),
    ):
        facts = begun.say(words)
        course, record = begun.session.course, begun.session.record
        assert read_aloud(course, record.lines[-1]) == said
        found = [finding_aloud(course, fact) for fact in facts if isinstance(fact, FindingRaised)]
        assert high in found or not high
