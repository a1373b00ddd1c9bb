"""What a replay makes of each utterance: an entry, a line that was not understood, or talk that nobody keeps."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest

from log.basics.entry import NotUnderstood
from log.facts.events import EntryAsked, EntryLogged, NotUnderstoodHeard
from log.scribe.opening import Keeping, open_case
from log.store import case as store
from tests.cases import BEGAN, definition
from tests.tui.conftest import recording
from tui.live.replay import replay
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, understand
from voice.meaning.verdict import Hearing
from voice.sound.audio import AudioFile
from voice.sound.segment import Segment

CONFIDENT = 0.9


class Reading:
    """Hears these words in every segment, and has the matcher read them."""

    lead_word = "log"

    def __init__(self, words: str, confidence: float) -> None:
        self._words, self._confidence = words, confidence

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        meaning = understand(definition()[1], self._words, listening)
        if self._confidence < CONFIDENT:  # as the verdict leaves what is too doubtful to be asked
            meaning = NotUnderstood(heard=self._words)
        return Hearing(segment, meaning, self._words, "fake", self._confidence, segment.start)


@pytest.mark.parametrize(
    ("words", "confidence", "kept"),
    [
        ("um log gastric in five zero", 0.9, [EntryLogged]),
        ("um log gastric in fifty", 0.9, [EntryAsked]),
        ("log gastric in five zero", 0.4, [NotUnderstoodHeard]),
        ("um log gastric in five zero", 0.4, [NotUnderstoodHeard]),
        ("um log gastric in five zero", 0.2, [NotUnderstoodHeard]),
        ("gastric in five zero", 0.9, []),
        ("um please write log gastric in five zero", 0.9, []),
    ],
)
def test_what_was_said_to_the_log_is_kept_also_after_a_hesitation(
    tmp_path: Path, clip_pcm: bytes, words: str, confidence: float, kept: list[type]
) -> None:
    session = open_case(tmp_path, "bay-4", definition()[0], "a file", Keeping(), BEGAN)
    source = AudioFile(recording(tmp_path / "room.wav", clip_pcm))
    replay(source, session, cast(Ears, Reading(words, confidence)), None)
    facts = store.read(tmp_path, "bay-4").facts
    assert [type(fact) for fact in facts if isinstance(fact, EntryLogged | EntryAsked | NotUnderstoodHeard)] == kept
