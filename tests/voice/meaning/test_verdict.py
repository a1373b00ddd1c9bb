"""What becomes of sentences, and of what was not heard first."""

from __future__ import annotations

from dataclasses import replace

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from tests.cases import phrases
from voice.engines.protocol import Rival, Utterance, Word
from voice.meaning.again import readings_of
from voice.meaning.evidence import Evidence
from voice.meaning.matcher import ALWAYS, Listening
from voice.meaning.thresholds import PUSH_TO_TALK, Thresholds
from voice.meaning.verdict import judged
from voice.sound.segment import SAMPLE_RATE, Segment

SEGMENT = Segment(bytes(4 * SAMPLE_RATE), 0, 2 * SAMPLE_RATE)
SURE = Thresholds(log_from=0.0, ask_from=0.0, alike_from=0.0)
THIRTY_FIVE = Entry(kind="pressure", site="oesophageal", value=35, unit="mmHg")


def heard(text: str, *rivals: Rival, phrase: bool = True) -> Utterance:
    words = tuple(Word(word, 0, 1) for word in text.split())
    return Utterance(words, "ear", 0, 2, -2.0, rivals, -1.0, phrase)


def verdict(
    people: Utterance, net: Utterance | None = None, listening: Listening = ALWAYS, thresholds: Thresholds = SURE
) -> Meaning:
    return judged(phrases(), Evidence(SEGMENT, people, net), listening, thresholds, "ears").meaning


SENTENCE = heard("the oesophageal's reading thirty five now", phrase=False)


def test_a_sentence_that_one_ear_hears_is_asked_however_sure_it_is() -> None:
    asked = Question(candidates=(THIRTY_FIVE,), why="indistinct", text="unclear")
    assert verdict(SENTENCE) == verdict(SENTENCE, heard("")) == Understood(items=(asked,))


def test_a_sentence_stands_where_the_net_hears_a_phrase_that_means_the_same() -> None:
    assert verdict(SENTENCE, heard("oesophageal pressure thirty five")) == Understood(items=(THIRTY_FIVE,))


def test_a_sentence_is_talk_where_nothing_says_that_the_log_is_meant() -> None:
    assert isinstance(verdict(SENTENCE, listening=Listening(in_talk=True)), NotUnderstood)


def test_a_second_hearing_counts_the_same_readings() -> None:
    evidence = Evidence(SEGMENT, SENTENCE, None)
    assert [one.words for one in readings_of(phrases(), evidence, Listening())] == [SENTENCE.texts]
    assert readings_of(phrases(), evidence, Listening(in_talk=True)) == ()
    (of_the_log,) = readings_of(phrases(), evidence, Listening(in_talk=True), [SENTENCE.texts])
    assert of_the_log.words == SENTENCE.texts


def test_what_the_net_makes_of_a_sentence_does_not_speak_against_it() -> None:
    """It knows phrases alone: nothing that it hears of a sentence fits."""
    forced = replace(heard("lips marked", phrase=True), score=10.0, free=200.0)
    led = replace(SENTENCE, words=(Word("log", 0, 1), *SENTENCE.words))
    said = verdict(led, forced, Listening(lead_word="log"), SURE)
    assert isinstance(said, Understood) and said.items[0] != THIRTY_FIVE


def test_an_emergency_has_to_be_what_was_heard_and_not_what_was_nearly_heard() -> None:
    assert isinstance(verdict(heard("let some six", Rival(("right", "cut"), 0.5))), NotUnderstood)
    assert isinstance(verdict(heard("right cut", Rival(("let", "some", "six"), 0.5))), Understood)
    near = heard("has two c", Rival(("oesophageal", "pressure", "thirty", "five"), 0.5))
    assert isinstance(verdict(near, thresholds=replace(PUSH_TO_TALK, ask_from=0.0)), Understood)
