"""The engine that comes with the program hears the shipped clip, knows every word, and refuses what it cannot say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

import pytest

from log.basics.errors import EngineError
from log.definition.load import shipped
from tests import cases
from voice.engines.sphinx import SPEEDS, SecondEar, SecondEarSpec, SphinxEngine, SphinxSpec
from voice.meaning.thresholds import similarity
from voice.phrases.phrases import Phrases
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar

SAID = ("gastric", "pressure", "twenty")


def one_phrase(*words: str) -> Grammar:
    """A grammar in which only this can be said."""
    arcs = tuple({word: state + 1} for state, word in enumerate(words))
    return Grammar(ENTRIES, Acceptor((*arcs, {}), frozenset({len(words)})), None, (" ".join(words),))


@pytest.fixture(scope="module")
def engine(phrases: Phrases, written: Mapping[str, Grammar]) -> SphinxEngine:
    return SphinxSpec({ENTRIES: written[ENTRIES]}, phrases.procedure.pronunciations).build()


@pytest.fixture(scope="module")
def second_ear(phrases: Phrases, written: Mapping[str, Grammar]) -> SecondEar:
    return SecondEarSpec({ENTRIES: written[ENTRIES]}, phrases.procedure.pronunciations).build()


def whole(pcm: bytes, first_sample: int = 0) -> Segment:
    return Segment(pcm, first_sample, first_sample + len(pcm) // BYTES_PER_SAMPLE)


def test_the_shipped_clip_is_heard_and_every_word_has_its_time(engine: SphinxEngine, clip_pcm: bytes) -> None:
    heard = engine.hear(whole(clip_pcm, first_sample=10 * SAMPLE_RATE), ENTRIES)

    assert tuple(word.text for word in heard.words) == SAID
    assert heard.engine == "pocketsphinx"
    assert heard.words[0].start == pytest.approx(10.63, abs=0.2)
    assert heard.words[-1].end == pytest.approx(12.21, abs=0.2)
    for word, following in pairwise(heard.words):
        assert word.start < word.end <= following.start


def test_the_clip_is_heard_in_its_altered_copies_too(engine: SphinxEngine, clip_pcm: bytes) -> None:
    assert engine.hear(whole(clip_pcm), ENTRIES).alternatives == (SAID,) * len(SPEEDS)


def test_altered_copies_are_heard_only_where_one_engine_is_alone_and_listens_closely(
    engine: SphinxEngine, clip_pcm: bytes
) -> None:
    two_entries = {BREATH: replace(one_phrase("gastric", "pressure"), name=BREATH, then=one_phrase("twenty").entry)}
    for spec in (SphinxSpec({ENTRIES: one_phrase(*SAID)}, {}, copies=False), SphinxSpec(two_entries, {})):
        heard = spec.build().hear(whole(clip_pcm), next(iter(spec.grammars)))
        assert (heard.texts, heard.alternatives) == (SAID, ())
    quickly = engine.hear(whole(clip_pcm), ENTRIES, closely=False)
    assert (quickly.texts, quickly.alternatives) == (SAID, ())


def test_nothing_heard_has_no_copies(engine: SphinxEngine) -> None:
    assert engine.hear(whole(bytes(SAMPLE_RATE * BYTES_PER_SAMPLE)), ENTRIES).alternatives == ()


def test_the_second_ear_hears_it_without_noise_removal_and_openly_any_words_of_the_language(
    second_ear: SecondEar, clip_pcm: bytes
) -> None:
    heard = second_ear.check(whole(clip_pcm), ENTRIES)
    assert heard.raw == SAID
    openly, said = second_ear.phones(heard.openly), second_ear.phones(SAID)
    assert similarity(said, openly) > similarity(second_ear.phones(("oesophageal", "balloon", "deflated")), openly)


def test_a_word_sounds_as_the_definition_or_the_dictionary_says_and_an_unknown_one_is_a_sound_of_its_own(
    second_ear: SecondEar, phrases: Phrases
) -> None:
    oesophageal = tuple(phrases.procedure.pronunciations["oesophageal"][0].split())
    assert second_ear.phones(("oesophageal",)) == oesophageal
    assert second_ear.phones(("zorb", "in")) == ("zorb", *second_ear.phones(("in",)))
    assert second_ear.phones(()) == ()


def test_in_silence_there_are_no_words(engine: SphinxEngine, second_ear: SecondEar) -> None:
    silence = whole(bytes(SAMPLE_RATE * BYTES_PER_SAMPLE))
    assert engine.hear(silence, ENTRIES).words == ()
    # The shortest word of all may come out of nothing where noise is not removed; a copy alone logs nothing.
    assert second_ear.check(silence, ENTRIES).raw in ((), ("cut",))


def test_one_hearing_leaves_nothing_behind_for_the_next(engine: SphinxEngine, clip_pcm: bytes) -> None:
    before = engine.hear(whole(clip_pcm), ENTRIES)
    engine.hear(whole(bytes(len(clip_pcm))), ENTRIES)
    assert engine.hear(whole(clip_pcm), ENTRIES).text == before.text


@pytest.mark.slow
def test_one_grammar_is_held_at_a_time_and_two_entries_with_one(
    phrases: Phrases, written: Mapping[str, Grammar], clip_pcm: bytes
) -> None:
    engine = SphinxSpec(written, phrases.procedure.pronunciations).build()
    held = engine._decoder._held
    assert held == {ENTRIES, BREATH}
    before = engine.hear(whole(clip_pcm), ENTRIES)
    engine.prepare(ASKED)
    assert held == {ASKED}
    assert {*engine.hear(whole(clip_pcm), NUMBER).texts} <= written[NUMBER].words
    assert held == {NUMBER}
    assert engine.hear(whole(clip_pcm), ENTRIES).texts == before.texts
    assert engine.follow(whole(clip_pcm), ENTRIES) == before.text


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_every_word_of_every_shipped_definition_can_be_pronounced(
    name: str,
) -> None:
    """Building the engine is the check: it refuses a grammar with a word that it cannot pronounce."""
    own, compiled = cases.phrases(name), cases.grammars(name, sentences=False)
    words = {word for grammar in compiled.values() for word in grammar.words}

    ear = SphinxSpec({}, own.procedure.pronunciations).build()

    ear._decoder._refuse_unknown_words(compiled)
    assert {"gastric", "oesophageal", "fifty", "zero", "x-ray"} <= words
    assert [word for word in sorted(words) if ear._decoder.phones((word,)) == (word,)] == []


def test_a_word_nobody_can_pronounce_is_refused_by_name_before_anything_is_compiled(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def compiled(*_: object) -> None:
        raise AssertionError("a grammar was compiled first")

    monkeypatch.setattr("voice.engines.sphinx._Decoder._add_grammar", compiled)
    grammar = one_phrase("gastric", "zorbly", "blorp")
    with pytest.raises(EngineError, match="cannot pronounce: blorp, zorbly") as caught:
        SphinxSpec({ENTRIES: grammar}, {}).build()
    assert "[pronunciations]" in caught.value.remedy


def test_a_word_can_be_taught_by_the_definition() -> None:
    engine = SphinxSpec({ENTRIES: one_phrase("zorbly")}, {"zorbly": ("Z AO R B L IY",)}).build()
    assert engine._decoder.phones(("zorbly",)) == ("Z", "AO", "R", "B", "L", "IY")


@pytest.mark.parametrize("sound", ["Z OE R", "gastric", "G AE1 S"])
def test_a_sound_the_dictionary_does_not_know_is_refused_by_name(sound: str) -> None:
    with pytest.raises(EngineError, match=f'pronunciations.zorbly: "{sound}"') as caught:
        SphinxSpec({}, {"zorbly": ("Z AO R", sound)}).build()
    assert "ARPAbet" in caught.value.remedy


def test_a_grammar_of_two_parts_takes_both_in_one_breath(clip_pcm: bytes) -> None:
    both = replace(one_phrase("gastric", "pressure"), then=one_phrase("twenty").entry)
    assert SphinxSpec({ENTRIES: both}, {}).build().hear(whole(clip_pcm), ENTRIES).text == " ".join(SAID)


def test_the_copies_differ_in_speed() -> None:
    assert min(SPEEDS) < 1 < max(SPEEDS)
