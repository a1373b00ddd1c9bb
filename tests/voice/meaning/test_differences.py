"""What a second hearing lays beside the log: another number or direction, said and not logged, and the reverse."""

from __future__ import annotations

from datetime import timedelta

import pytest

from log.basics.entry import Entry, Question, Understood
from log.facts.events import EntryAmended, EntryAsked, EntryLogged, Fact, NotUnderstoodHeard, SpeechKept
from log.facts.origin import Origin, Sound
from log.facts.record import Record, fold
from log.facts.second_hearing import KeptSound, kept_sounds
from tests.cases import BEGAN, FIFTEEN_OR_FIFTY, entry, gastric, opened, phrases
from voice.engines.words import Draft
from voice.meaning.again import NOTHING, Again, Reading
from voice.meaning.differences import Found, differences
from voice.meaning.evidence import Evidence
from voice.meaning.matcher import understand
from voice.sound.segment import Segment

OUT_50 = entry("volume_out", 50, "mL", "gastric")
SOUND = Sound(sha256="a" * 64, seconds=1.0)
SPOKEN = Origin(by="voice", heard="gastric in fifty", sound=SOUND)


def again(*said: tuple[str, float, float | None], draft: str = "") -> Again:
    """Readings as words, the ears' belief and the general recogniser's chance."""
    readings = tuple(Reading(understand(phrases(), words), tuple(words.split()), sure, at) for words, sure, at in said)
    meaning = understand(phrases(), draft) if draft else NOTHING
    return Again(Evidence(Segment(b"", 0, 0)), readings, Draft((draft,) if draft else ()), meaning)


def record_of(*items: Entry | Question) -> Record:
    """A case in which all of these were made of one sound."""
    facts: list[Fact] = [opened(keep_sound="all")]
    at = BEGAN + timedelta(seconds=10)
    for number, item in enumerate(items, start=1):
        asked = {"candidates": item.candidates, "reason": item.text} if isinstance(item, Question) else {"entry": item}
        kind = EntryAsked if isinstance(item, Question) else EntryLogged
        made = {"logged_at": at, "number": number, "said_at": at, "origin": SPOKEN, **asked}
        facts.append(kind.model_validate(made))
    return fold(facts)


def found(record: Record, hearing: Again, breaks: int = 0) -> list[tuple[str, int | None, Entry | None]]:
    (sound,) = kept_sounds(record)
    return [shown(one) for one in differences(phrases().procedure, record, sound, hearing, lambda *_: breaks)]


def shown(one: Found) -> tuple[str, int | None, Entry | None]:
    return one.differs, one.number, one.entry


FIFTY, FIFTEEN = "gastric five zero in", "gastric one five in"


@pytest.mark.parametrize(
    ("hearing", "expected"),
    [
        (again((FIFTY, 0.97, None), (FIFTEEN, 0.1, None)), []),
        (again((FIFTEEN, 0.95, None), (FIFTY, 0.1, None)), [("other number", 1, gastric(15))]),
        (again(("gastric five zero out", 0.95, None), (FIFTY, 0.1, None)), [("other direction", 1, OUT_50)]),
        (
            again(("oesophageal five zero in", 0.95, None)),
            [("other balloon", 1, entry("volume_in", 50, "mL", "oesophageal"))],
        ),
        (again(("tube in", 0.95, None)), [("other entry", 1, entry("tube", "in"))]),
        (again(), [("logged, not said", 1, None)]),
        (again((FIFTY, 0.02, None), draft="mind the cable"), [("logged, not said", 1, None)]),
        (
            again((f"{FIFTY} clamp on the gastric", 0.95, None), (FIFTY, 0.2, None)),
            [("said, not logged", None, entry("clamp", "on", None, "gastric"))],
        ),
    ],
    ids=["same", "number", "direction", "balloon", "entry", "nothing", "talk", "one more"],
)
def test_what_is_heard_now_is_laid_beside_the_line(hearing: Again, expected: object) -> None:
    assert found(record_of(gastric(50)), hearing) == expected


def test_the_general_recogniser_decides_between_two_readings_that_the_ears_find_near() -> None:
    near = ((FIFTY, 0.6, -14.0), (FIFTEEN, 0.5, -4.0))
    assert found(record_of(gastric(50)), again(*near)) == [("other number", 1, gastric(15))]
    assert found(record_of(gastric(50)), again(*((words, sure, -c if c else c) for words, sure, c in near))) == []


def test_a_reading_with_which_the_sums_no_longer_hold_is_less_likely() -> None:
    near = again((FIFTEEN, 0.8, None), (FIFTY, 0.7, None))
    assert found(record_of(gastric(50)), near) == [("other number", 1, gastric(15))]
    assert found(record_of(gastric(50)), near, breaks=2) == []


def test_a_question_that_nobody_answered_gets_what_is_heard_now() -> None:
    assert found(record_of(FIFTEEN_OR_FIFTY), again((FIFTY, 0.97, None), (FIFTEEN, 0.1, None))) == [
        ("other number", 1, gastric(50))
    ]
    assert found(record_of(FIFTEEN_OR_FIFTY), again((FIFTEEN, 0.97, None))) == [("said, not logged", 1, gastric(15))]


def test_a_line_that_was_corrected_by_word_of_mouth_since_is_no_longer_what_its_first_sound_says() -> None:
    record = record_of(gastric(50))
    spoken = Origin(by="voice", heard="correct last to six zero")
    amended = EntryAmended(logged_at=BEGAN, number=1, entry=gastric(60), said_at=BEGAN, reason="so", origin=spoken)
    assert found(fold([amended], record), again((FIFTEEN, 0.95, None))) == []


def test_an_entry_that_is_heard_without_its_balloon_is_the_same() -> None:
    pressure = entry("pressure", 30, "mmHg", "oesophageal")
    assert found(record_of(pressure), again(("pressure three zero", 0.97, None))) == []


def test_what_somebody_corrected_by_hand_is_no_matter_of_hearing() -> None:
    record = record_of(gastric(50))
    typed = Origin(by="typed", author="nurse")
    amended = EntryAmended(logged_at=BEGAN, number=1, entry=gastric(60), said_at=BEGAN, reason="measured", origin=typed)
    assert found(fold([amended], record), again((FIFTEEN, 0.95, None))) == []


@pytest.mark.parametrize("kind", [NotUnderstoodHeard, SpeechKept])
def test_an_entry_in_speech_that_made_none_was_said_and_not_logged(kind: type) -> None:
    why = {"reason": "no phrase"} if kind is NotUnderstoodHeard else {}
    missed = kind(logged_at=BEGAN, said_at=BEGAN, origin=SPOKEN, **why)
    record = fold([opened(keep_sound="all"), missed])
    assert found(record, again((FIFTY, 0.97, None))) == [("said, not logged", None, gastric(50))]
    assert found(record, again((FIFTY, 0.05, None))) == [], "too doubtful to ask anybody"
    assert found(record, again(("scratch that", 0.9, None))) == [], "a command of then is none now"


def test_two_lines_of_one_breath_are_compared_each_with_its_own() -> None:
    record = record_of(gastric(50), entry("clamp", "on", None, "gastric"))
    (sound,) = kept_sounds(record)
    assert isinstance(sound, KeptSound) and [made.number for made in sound.made] == [1, 2]
    assert found(record, again((f"{FIFTEEN} clamp on the gastric", 0.95, None))) == [("other number", 1, gastric(15))]


def test_a_meaning_that_is_asked_counts_as_its_likeliest_entry() -> None:
    asked = Reading(Understood(items=(FIFTEEN_OR_FIFTY,)), ("gastric", "fifteen", "in"), 0.97)
    hearing = Again(Evidence(Segment(b"", 0, 0)), (asked,))
    assert found(record_of(gastric(15)), hearing) == []
