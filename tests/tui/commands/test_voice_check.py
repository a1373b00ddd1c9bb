"""`tamponade voice-check`: prompts spoken by a synthesiser, heard by the shipped engines, reported and kept."""

from __future__ import annotations

import io
import json
import stat
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from rapidfuzz import fuzz

from models.training import texts
from models.training.lexicon import load_lexicon
from models.training.plan import pack_people
from tests.tui.conftest import Run, alone
from tests.tui.speech import spoken
from tui.commands.voice_check import _Reader
from voice.check.voice_check import OUTCOMES, prompts
from voice.engines.dictionary import dictionary
from voice.meaning.ears import Ears
from voice.phrases.phrases import Phrases
from voice.sound.audio import AudioFile
from voice.sound.segment import SAMPLE_RATE

SEED = 2
FEW = 6


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory, phrases: Phrases) -> Path:
    """All phrases of one seed, read by a synthesiser."""
    said = [one.text for one in prompts(phrases, SEED, "log")]
    return spoken(tmp_path_factory.mktemp("read") / "read.wav", said)


def checked(audio: Path, *more: object) -> Any:
    done = alone("voice-check", "--audio", audio, "--seed", SEED, "--json", *more)
    assert done.code == 0, done.err
    return json.loads(done.out)


def test_a_clear_voice_is_heard_and_nothing_is_kept(read: Path, room_model: Path, phrases: Phrases) -> None:
    before = sorted(read.parent.rglob("*"))
    told = checked(read)
    asked = prompts(phrases, SEED, "log")
    assert [one["said"] for one in told["phrases"]] == [one.text for one in asked]
    assert told["counts"]["right"] >= 16, told["phrases"]
    assert told["counts"]["wrong"] == 0
    assert told["teens"]["said"] >= 3 and told["tens"]["said"] >= 3
    assert told["sound"]["verdict"] == "good" and told["sound"]["snr_db"] > 30
    assert told["kept"] is None and sorted(read.parent.rglob("*")) == before
    assert told["cautions"]


def test_what_is_not_read_is_not_heard_and_the_others_find_their_prompts(
    tmp_path: Path, room_model: Path, phrases: Phrases
) -> None:
    said = [one.text for one in prompts(phrases, SEED, "log", FEW)]
    audio = spoken(tmp_path / "some.wav", [*said[:2], *said[3:]])
    told = checked(audio, "--phrases", FEW)
    assert [one["outcome"] == "not heard" for one in told["phrases"]] == [place == 2 for place in range(FEW)]
    assert told["phrases"][2]["heard"] == ""
    for place, words in enumerate(said):
        heard = told["phrases"][place]["heard"]
        assert place == 2 or fuzz.ratio(heard, words) > 90, (heard, words)  # "up two five" for "at two five" is as good


def test_in_noise_the_words_that_fail_are_shown_with_what_to_say_instead(
    tmp_path: Path, room_model: Path, phrases: Phrases
) -> None:
    said = [one.text for one in prompts(phrases, SEED, "log", FEW)]
    sound, rate = soundfile.read(spoken(tmp_path / "few.wav", said))
    hiss = np.convolve(np.random.default_rng(1).normal(0, 0.5, len(sound)), np.ones(4) / 4, "same")
    soundfile.write(tmp_path / "noisy.wav", np.clip(0.3 * sound + 0.2 * hiss, -1, 1), rate)
    done = alone("voice-check", "--audio", tmp_path / "noisy.wav", "--seed", SEED, "--phrases", FEW)
    assert done.code == 0, done.err
    told = checked(tmp_path / "noisy.wav", "--phrases", FEW)
    assert told["counts"]["right"] < FEW and told["sound"]["verdict"] == "too noisy"
    for outcome in OUTCOMES:
        assert sum(one["outcome"] == outcome for one in told["phrases"]) == told["counts"][outcome]
    assert f"of {FEW} phrases: {told['counts']['right']} right" in done.out
    assert "failed more than once:" in done.out and all(one["word"] in done.out for one in told["failing"])
    assert "Not a medical device" in done.out
    assert all(f"-> {line}" in done.out for line in told["advice"])
    assert done.out.rstrip().endswith("Nothing is kept, and nothing leaves this machine.")


def test_one_by_one_each_prompt_stands_until_it_is_read_or_for_a_while(
    ears: Ears, tmp_path: Path, phrases: Phrases, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = prompts(phrases, SEED, None, 4)
    audio = spoken(tmp_path / "two.wav", [asked[0].text, asked[1].text], pause=2)
    sound, rate = soundfile.read(audio)
    soundfile.write(audio, np.concatenate([sound, np.zeros(18 * rate)]), rate)
    reader = _Reader(ears, None, asked, quiet=False)
    every, _ = reader.one_by_one(AudioFile(audio))
    assert [one.prompt for one in every] == list(asked)
    assert [bool(one.heard or one.outcome == "right") for one in every[2:]] == [False, False]
    assert [clip.transcript for clip in reader.clips] == [asked[0].text, asked[1].text]
    shown = capsys.readouterr().out.splitlines()
    assert shown == [f'{n} of 4: say "{one.text}"' for n, one in enumerate(asked, start=1)]


# ---- what is kept ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "missing"),
    [
        ((), "--speaker, --consent, --licence"),
        (("--speaker", "p1", "--licence", "MIT"), "--consent"),
        (("--speaker", "p1", "--consent", " ", "--licence", "MIT"), "--consent"),
    ],
)
def test_without_consent_nothing_is_kept(
    run: Run, clip: Path, tmp_path: Path, given: tuple[str, ...], missing: str
) -> None:
    ran = run("voice-check", "--audio", clip, "--keep", tmp_path / "kept", *given)
    assert ran.code == 2 and f"--keep needs {missing}: a voice is not kept without consent" in ran.err
    assert not (tmp_path / "kept").exists()


def test_consent_without_keeping_is_a_slip(run: Run, clip: Path) -> None:
    ran = run("voice-check", "--audio", clip, "--consent", "A. B., today")
    assert ran.code == 2 and "--consent goes with --keep" in ran.err


@pytest.mark.parametrize("speaker", ["../up", "Dr Who", "a" * 41, "-p"])
def test_an_id_that_is_no_name_of_a_file_is_refused(run: Run, clip: Path, tmp_path: Path, speaker: str) -> None:
    keep = ("--keep", tmp_path, f"--speaker={speaker}", "--consent", "today", "--licence", "MIT")
    run("voice-check", "--audio", clip, *keep).refused(3, "is not a speaker id")


def test_what_is_kept_is_training_data_as_its_documentation_says(
    tmp_path: Path, room_model: Path, phrases: Phrases
) -> None:
    texts_read = [one.text for one in prompts(phrases, SEED, "log", FEW)]
    read, folder = spoken(tmp_path / "few.wav", texts_read), tmp_path / "people"
    who = "the reader, on paper, 2026-03-01"
    keep = ("--phrases", FEW, "--keep", folder, "--speaker", "night-1", "--consent", who, "--licence", "CC BY 4.0")
    told = checked(read, *keep)
    lines = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
    assert told["kept"] == {"folder": str(folder), "clips": len(lines)} and len(lines) == FEW
    for line in lines:
        assert line["file"].startswith("audio/voice-check/night-1-") and line["transcript"] in texts_read
        assert (line["speaker"], line["speaker_known"], line["licence"]) == ("night-1", True, "CC BY 4.0")
        content = (folder / line["file"]).read_bytes()
        sound, rate = soundfile.read(io.BytesIO(content))
        assert rate == SAMPLE_RATE and sound.ndim == 1 and 0.15 < len(sound) / rate < 8
        assert stat.S_IMODE((folder / line["file"]).stat().st_mode) == 0o600
    (consent,) = [json.loads(line) for line in (folder / "consent.jsonl").read_text().splitlines()]
    assert (consent["speaker"], consent["consent"], consent["licence"]) == ("night-1", who, "CC BY 4.0")
    assert consent["files"] == [line["file"] for line in lines]
    # the training's own reader takes it
    settings = tomllib.loads(Path(texts.__file__).with_name("settings.toml").read_text(encoding="utf-8"))
    taken = pack_people(settings, load_lexicon(dictionary()), [folder], tmp_path / "people.bin")
    assert taken >= len(lines) - 1, "a word without sounds may leave one out"
    checked(read, *keep)
    assert len((folder / "consent.jsonl").read_text().splitlines()) == 2, "a second reading is added"


# ---- what cannot be used --------------------------------------------------------------------------------------------


def test_the_list_is_what_is_read(run: Run, phrases: Phrases) -> None:
    out = run("voice-check", "--list", "--seed", 5, "--phrases", 4).done()
    assert out.splitlines() == [one.text for one in prompts(phrases, 5, "log", 4)]


def test_a_file_that_is_none_and_one_in_which_nobody_speaks(run: Run, tmp_path: Path, ears_at_hand: None) -> None:
    run("voice-check", "--audio", tmp_path / "none.wav").refused(3, "there is no such file")
    soundfile.write(tmp_path / "quiet.wav", np.random.default_rng(1).normal(0, 0.0003, 4 * SAMPLE_RATE), SAMPLE_RATE)
    run("voice-check", "--audio", tmp_path / "quiet.wav", "--engine", "pocketsphinx").refused(3, "nobody speaks")
