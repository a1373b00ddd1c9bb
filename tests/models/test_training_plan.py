"""Who says what in training: the same every time, every word with its sounds, and nobody who is kept apart."""

from __future__ import annotations

import gzip
import io
import json
import random
import shutil
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from log.definition.load import shipped
from models.training import accents, texts
from models.training.lexicon import T_FOR_TH, Lexicon, lexicon_lines, load_lexicon
from models.training.plan import (
    ENGINES,
    KOKORO_AMERICAN,
    KOKORO_BRITISH,
    Spoken,
    pack_people,
    planned,
    read_plan,
    write_plan,
)
from tests import cases
from voice.engines.dictionary import dictionary
from voice.sound.segment import SAMPLE_RATE, Segment

SETTINGS = Path(texts.__file__).with_name("settings.toml")
SPELT = {spelling: tuple(sounds.split()) for also in T_FOR_TH.values() for spelling, sounds in also.items()}
NUMBER_SAID = {
    accents.spelt(word, accent): word
    for kind in accents.EVERY
    for accent in kind
    for word in accents.NUMBERS
    if accents.spelt(word, accent)
}
"""Numbers by how an accent says them."""
WITH_A_T = {
    accents.spelt(word, accent) for accent in accents.LEARNERS if accent.get("th", "")[:1] == "t" for word in T_FOR_TH
}


@pytest.fixture(scope="module")
def settings() -> dict[str, Any]:
    """As shipped, with few utterances."""
    found = tomllib.loads(SETTINGS.read_text(encoding="utf-8"))
    found["plan"] |= {"espeak": 400, "pico": 60, "flite": 40, "festival": 20, "kokoro": 200}
    return found


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return load_lexicon(dictionary())


def plan_of(settings: dict[str, Any], lexicon: Lexicon, seed: int) -> list[Spoken]:
    procedures = [cases.phrases(name) for name in shipped()]
    settings = {**settings, "plan": {**settings["plan"], "seed": seed}}
    drawn = texts.Texts(procedures, lexicon, settings["texts"], random.Random(seed))
    return list(planned(settings, drawn, lexicon))


@pytest.fixture(scope="module")
def plan(settings: dict[str, Any], lexicon: Lexicon) -> list[Spoken]:
    return plan_of(settings, lexicon, 1)


def test_the_same_seed_plans_the_same_and_another_seed_something_else(
    settings: dict[str, Any], lexicon: Lexicon, plan: list[Spoken]
) -> None:
    assert plan_of(settings, lexicon, 1) == plan
    assert plan_of(settings, lexicon, 2) != plan


def test_as_many_are_planned_for_each_synthesiser_as_is_set(settings: dict[str, Any], plan: list[Spoken]) -> None:
    for engine in ENGINES:
        assert sum(said.engine == engine for said in plan) == settings["plan"][engine]


def test_no_voice_that_is_kept_apart_is_planned(settings: dict[str, Any], lexicon: Lexicon, plan: list[Spoken]) -> None:
    kept = set(settings["plan"]["kept_apart"])
    assert kept
    for said in plan:
        assert not kept.intersection(said.voice.split("+"))
    more = {**settings, "plan": {**settings["plan"], "kept_apart": [*kept, "en-gb", "m1"]}}
    fewer = [said.voice.split("+") for said in plan_of(more, lexicon, 3) if said.engine == "espeak"]
    assert fewer and not any({"en-gb", "m1"} & set(voice) for voice in fewer)


def test_neural_voices_are_british_american_and_foreign_alone_or_two_mixed(plan: list[Spoken]) -> None:
    said = [spoken.voice.split("+") for spoken in plan if spoken.engine == "kokoro"]
    assert {accent for accent, *_ in said} == {"en-us", "en-gb"}
    assert {len(names) for _, *names in said} == {1, 2}
    spoke = {name for _, *names in said for name in names}
    assert spoke & set(KOKORO_AMERICAN) and spoke & set(KOKORO_BRITISH)
    assert spoke - set(KOKORO_AMERICAN) - set(KOKORO_BRITISH)


def test_every_word_of_every_text_has_its_sounds(lexicon: Lexicon, plan: list[Spoken]) -> None:
    for said in plan:
        words = said.text.split()
        wanted = [SPELT[word] if word in SPELT else lexicon.words[NUMBER_SAID.get(word, word)] for word in words]
        for place, word in enumerate(words):
            if word in WITH_A_T:  # and heard so, whatever the vowel
                wanted[place] = SPELT[next(iter(T_FOR_TH[NUMBER_SAID[word]]))]
        assert [tuple(lexicon.phones[sound] for sound in word) for word in said.sounds] == wanted
        assert words


def test_numbers_are_said_with_a_t_for_th_in_the_share_that_is_set(
    settings: dict[str, Any], lexicon: Lexicon, plan: list[Spoken]
) -> None:
    def share(drawn: list[Spoken]) -> float:
        return sum(bool(SPELT.keys() & said.text.split()) for said in drawn) / len(drawn)

    assert share(plan) == pytest.approx(settings["plan"]["t_for_th"], abs=0.03)
    more = plan_of({**settings, "plan": {**settings["plan"], "t_for_th": 0.5}}, lexicon, 4)
    assert share(more) == pytest.approx(0.5, abs=0.07)
    assert SPELT.keys() <= {word for said in more for word in said.text.split()}


def test_numbers_have_the_sounds_of_accents_in_the_share_that_is_set_where_the_voice_is_known(
    settings: dict[str, Any], lexicon: Lexicon, plan: list[Spoken]
) -> None:
    def share(drawn: list[Spoken], *engines: str) -> float:
        said = [said for said in drawn if said.engine in engines]
        return sum(bool(NUMBER_SAID.keys() & one.text.split()) for one in said) / len(said)

    assert share(plan, *accents.ENGINES) == pytest.approx(settings["plan"]["accents"], abs=0.05)
    assert share(plan, *(set(ENGINES) - set(accents.ENGINES))) == 0
    often = {**settings, "plan": {**settings["plan"], "accents": 0.9, "t_for_th": 0.0}}
    spoken = {word for seed in range(4, 12) for said in plan_of(often, lexicon, seed) for word in said.text.split()}
    assert {NUMBER_SAID[word] for word in spoken & NUMBER_SAID.keys()} == accents.NUMBERS.keys()


def test_every_word_of_the_shipped_definitions_has_its_sounds(lexicon: Lexicon) -> None:
    for name in shipped():
        vocabulary = cases.phrases(name).vocabulary
        assert sorted(set(vocabulary) - set(lexicon.words)) == []


def test_the_shipped_nets_hear_the_words_that_an_export_writes_first_as_they_were_trained(
    room_model: Path, lexicon: Lexicon
) -> None:
    lines = list(lexicon_lines(lexicon))
    for folder in (room_model, room_model.with_name("people-en")):
        assert (folder / "lexicon.txt").read_text(encoding="utf-8").splitlines(keepends=True) == lines
    for word, also in T_FOR_TH.items():
        said = [line.split()[1:] for line in lines if line.split()[0] == word]
        assert said == [[*lexicon.words[word]], *(sounds.split() for sounds in also.values())]
        assert [sounds[0] for sounds in said] == ["TH", *"T" * len(also)]


def test_a_plan_that_was_written_is_read_as_it_was(tmp_path: Path, lexicon: Lexicon, plan: list[Spoken]) -> None:
    assert write_plan(tmp_path / "plan.jsonl.gz", iter(plan), lexicon) == len(plan)
    assert read_plan(tmp_path / "plan.jsonl.gz") == (list(lexicon.phones), plan)
    with gzip.open(tmp_path / "plan.jsonl.gz", "rt", encoding="utf-8") as lines:
        assert len(list(lines)) == len(plan) + 1


def test_a_voice_that_fails_in_silence_is_not_given_the_words_of_the_one_before(tmp_path: Path) -> None:
    from scipy.io import wavfile

    from models.training.synthesise import spoken

    def speaks(said: Spoken, file: Path) -> None:
        if said.text == "one":
            wavfile.write(file, SAMPLE_RATE, (9000 * np.sin(np.arange(SAMPLE_RATE) / 20)).astype(np.int16))

    one, two = (Spoken("fake", "voice", 1.0, 1.0, text, [[1]]) for text in ("one", "two"))
    assert spoken(one, tmp_path, speaks) is not None
    assert spoken(two, tmp_path, speaks) is None


@pytest.mark.skipif(not (shutil.which("espeak-ng") and shutil.which("flite")), reason="needs espeak-ng and flite")
def test_some_synthesisers_alone_say_their_pieces_and_the_others_theirs_later(tmp_path: Path, lexicon: Lexicon) -> None:
    pytest.importorskip("scipy")
    from models.training.synthesise import PIECE, synthesise

    said = [Spoken(engine, voice, 1.0, 1.0, "nine", [[1]]) for engine, voice in (("espeak", "en-gb"), ("flite", "kal"))]
    write_plan(tmp_path / "plan.jsonl.gz", (one for one in said for _ in range(PIECE)), lexicon)
    for alone, made in ((["flite"], {"001.npz"}), (ENGINES, {"000.npz", "001.npz"})):
        synthesise(tmp_path / "plan.jsonl.gz", tmp_path / "speech", 1, tmp_path, alone)
        assert {file.name for file in (tmp_path / "speech").iterdir()} == made


@pytest.mark.parametrize("wave", [np.zeros(16_000), np.zeros(0), np.ones(100), np.full(16_000 * 7, 0.5)])
def test_silence_and_what_is_too_short_or_too_long_is_no_speech(wave: np.ndarray[Any, Any]) -> None:
    from models.training.synthesise import trimmed

    assert trimmed(wave.astype(np.float32)) is None


CLIP = {"transcript": "Zero.", "speaker": "anna", "speaker_known": True, "licence": "CC BY 4.0, with attribution"}


def packed(tmp_path: Path, settings: dict[str, Any], lexicon: Lexicon, *clips: Mapping[str, object]) -> list[Any]:
    """What is taken of these clips, each of which holds its own number."""
    lines = []
    for number, clip in enumerate(clips):
        file = str(clip.get("file", f"audio/gsc/{number}.opus"))
        (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / file).write_bytes(b"clip %d" % number)
        lines.append(json.dumps({**CLIP, "file": file, **clip}))
    (tmp_path / "manifest.jsonl").write_text("\n".join(lines) + "\n")
    taken = pack_people(settings, lexicon, [tmp_path], tmp_path / "people")
    listed: list[Any] = json.loads((tmp_path / "people.json").read_text())
    assert len(listed) == taken
    return listed


def test_clips_of_people_lie_end_to_end_with_their_speaker_text_and_sounds(
    tmp_path: Path, settings: dict[str, Any], lexicon: Lexicon
) -> None:
    listed = packed(tmp_path, settings, lexicon, {}, {"speaker": "b?", "speaker_known": False})
    content = (tmp_path / "people.bin").read_bytes()
    assert [content[first : first + length] for *_, first, length in listed] == [b"clip 0", b"clip 1"]
    assert [(speaker, text) for speaker, text, *_ in listed] == [("anna", "zero"), ("audio/gsc/1.opus", "zero")]
    assert [lexicon.phones[sound] for sound in listed[0][2][0]] == list(lexicon.words["zero"])


def test_people_who_are_held_out_are_never_taken_nor_other_licences_nor_words_without_sounds(
    tmp_path: Path, settings: dict[str, Any], lexicon: Lexicon
) -> None:
    plan = settings["plan"]
    refused = [
        *({"speaker": speaker} for speaker in plan["held_out_speakers"]),
        *({"file": f"audio/{folder}/1.opus"} for folder in plan["left_out_folders"]),
        {"licence": "GPL-3.0 (repository)"},
        {"licence": "all rights reserved"},
        {"licence": ""},
        {"transcript": "zorbly blorp"},
    ]
    assert len(plan["held_out_speakers"]) > 0 and len(plan["left_out_folders"]) > 0
    listed = packed(tmp_path, settings, lexicon, *refused, {"speaker": "b"})
    assert [speaker for speaker, *_ in listed] == ["b"]
    assert (tmp_path / "people.bin").read_bytes() == b"clip %d" % len(refused)


def test_people_are_read_back_and_what_is_no_sound_is_left_out(
    tmp_path: Path, settings: dict[str, Any], lexicon: Lexicon
) -> None:
    import soundfile

    from models.training.batches import People

    wave = 0.3 * np.sin(np.arange(SAMPLE_RATE) / 20)
    buffers = []
    for sound, rate in ((wave, SAMPLE_RATE), (wave, 8000), (np.zeros(SAMPLE_RATE), SAMPLE_RATE)):
        buffer = io.BytesIO()
        soundfile.write(buffer, sound, rate, format="WAV")
        buffers.append(buffer.getvalue())
    at = np.cumsum([0, *map(len, buffers)]).tolist()
    (tmp_path / "people.bin").write_bytes(b"".join(buffers))
    listed = [("anna", "one", [[1]], first, len(content)) for first, content in zip(at, buffers, strict=False)]
    (tmp_path / "people.json").write_text(json.dumps(listed))
    people = People(tmp_path)
    assert (people.speakers, people.texts, people.words) == (["anna"], ["one"], [[[1]]])
    assert len(people.waves[0]) == pytest.approx(SAMPLE_RATE, abs=320)
    assert People(tmp_path / "nowhere").waves == []
    assert Segment(people.waves[0].tobytes(), 0, 0).seconds > 0.9


def test_a_piece_is_made_once_its_synthesiser_is_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from scipy.io import wavfile

    from models.training import synthesise

    def hums(said: Spoken, file: Path) -> None:
        if said.text != "nothing":
            tone = 9000 * np.sin(np.arange(round(SAMPLE_RATE / said.speed)))
            wavfile.write(file, SAMPLE_RATE, tone.astype(np.int16))

    here: dict[str, Any] = {}
    monkeypatch.setattr(synthesise, "engines", lambda archives: here)
    said = [Spoken("flite", "slt", speed, 1.0, text, [[1]]) for speed, text in ((1, "one"), (1, "nothing"), (2, "two"))]
    file = tmp_path / "003.npz"
    synthesise.make_piece([7, 8, 9], said, file, tmp_path)
    assert list(tmp_path.iterdir()) == []
    here["flite"] = hums
    synthesise.make_piece([7, 8, 9], said, file, tmp_path)
    with np.load(file) as piece:
        assert piece["which"].tolist() == [7, 9]
        one, two = piece["lengths"]
        assert len(piece["sound"]) == one + two and one == pytest.approx(2 * two, abs=320)
    assert list(tmp_path.iterdir()) == [file]


def test_people_say_a_digit_twice_running_more_often_than_by_chance(tmp_path: Path, settings: dict[str, Any]) -> None:
    """Else "five five" is learnt as "five"."""
    from models.training.batches import DIGITS, REPEATED, Drawer, People

    people = People(tmp_path)  # none, so that these can be put in their place
    words = sorted(DIGITS)
    people.texts, people.speakers = words, ["anna"] * len(words)
    people.waves = [np.zeros(SAMPLE_RATE // 5, np.int16)] * len(words)
    people.words = [[[number + 1]] for number in range(len(words))]
    always = settings | {"augment": settings["augment"] | {"human": 1.0, "digits": 1.0, "noise_only": 0.0}}
    batch = Drawer(always, [], people, seed=0).draw(1500)
    said = [sequence[sequence > 0].tolist() for sequence in batch.sounds]
    pairs = [pair for sequence in said for pair in pairwise(sequence)]
    twice = sum(one == other for one, other in pairs) / len(pairs)
    assert twice == pytest.approx(REPEATED + (1 - REPEATED) / len(words), abs=0.04)


def drawn(tmp_path: Path, settings: dict[str, Any], **augment: float) -> Any:
    """Of one utterance by flite and a hundred by espeak-ng, each a second long: 2,000 items, and where they begin."""
    from models.training.batches import Drawer, People

    plan = [Spoken("flite" if number == 0 else "espeak", "a voice", 1.0, 1.0, "one", [[1]]) for number in range(101)]
    ours = settings | {"augment": settings["augment"] | {"human": 0.0, "noise_only": 0.0} | augment}
    drawer = Drawer(ours, plan, People(tmp_path), seed=0)
    drawer.add(np.full(101, SAMPLE_RATE), np.arange(101))
    return drawer.draw(2000)


def test_synthesisers_speak_in_their_shares_however_much_there_is_of_each(
    tmp_path: Path, settings: dict[str, Any]
) -> None:
    batch = drawn(tmp_path, settings, cut_short=0.0)
    said_by_flite = (batch.source[:, 0] < SAMPLE_RATE).mean()
    wanted = settings["augment"]["flite"] / (settings["augment"]["flite"] + settings["augment"]["espeak"])
    assert said_by_flite == pytest.approx(wanted, abs=0.03)
    assert set(batch.length[:, 0].tolist()) == {SAMPLE_RATE}
    assert sum(settings["augment"][engine] for engine in ENGINES) == pytest.approx(1)


def test_as_many_as_is_set_begin_late_and_end_early_within_what_they_have(
    tmp_path: Path, settings: dict[str, Any]
) -> None:
    batch = drawn(tmp_path, settings, cut_short=0.25, longest_cut=0.1)
    late = batch.source[:, 0] % SAMPLE_RATE
    early = SAMPLE_RATE - late - batch.length[:, 0]
    for cut in (late, early):
        assert (cut > 0).mean() == pytest.approx(0.25, abs=0.04)
        assert cut.min() == 0 and 0.09 * SAMPLE_RATE < cut.max() <= 0.1 * SAMPLE_RATE
    assert ((late > 0) & (early > 0)).mean() == pytest.approx(0.25**2, abs=0.03)
