"""The commands as people type them: what they print and keep, and the one line and exit code when they cannot."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from log.basics.entry import Entry
from log.definition.load import config_folder, shipped
from log.facts.events import CaptureGap, CaseClosed, CaseOpened, EntryLogged, Fact, FindingRaised
from log.rules.definitions import of_case
from log.store import case as store
from log.store.folder import case_names, cases_folder
from tests.tui.conftest import PROGRAM, Run, alone, recording
from tui.cli import COMMANDS
from voice.sound.segment import SAMPLE_RATE

HEAVY = {
    "numpy",
    "pocketsphinx",
    "pydantic",
    "rapidfuzz",
    "rich",
    "sounddevice",
    "soundfile",
    "soxr",
    "textual",
    "vosk",
}
EVENT_KEYS = {"kind", "site", "value", "unit", "confidence", "pending", "t"}
TWENTY_MMHG = Entry(kind="pressure", site="gastric", value=20, unit="mmHg")

OVERRIDE = """
procedure = "three-lumen"
approved_by = "tamponade protocol group"
approved_on = 2026-03-01
reason = "our manometers read 2 mmHg low"
[limits.oesophageal_ceiling]
max = 40
"""


@pytest.fixture
def override(tmp_path: Path) -> Path:
    path = tmp_path / "override.toml"
    path.write_text(OVERRIDE, encoding="utf-8")
    return path


def facts_of(name: str) -> list[Fact]:
    return list(store.read(cases_folder(), name).facts)


def entries_of(name: str) -> list[Entry]:
    return [fact.entry for fact in facts_of(name) if isinstance(fact, EntryLogged)]


# Help


def test_help_imports_nothing_that_takes_time() -> None:
    program = (
        f"import sys\nfrom tui.cli import main\nsys.argv = ['tamponade', '--help']\n"
        f"try: main()\nfinally: print(sorted({HEAVY!r} & set(sys.modules)))"
    )
    assert alone(program=program).done().splitlines()[-1] == "[]"


@pytest.mark.parametrize("option", ["--help", "-h"])
def test_help_lists_every_command_the_caution_and_the_exit_codes(run: Run, option: str) -> None:
    helped = run(option).done()
    for name in COMMANDS:
        assert f"\n  {name} " in helped
    assert "Not a medical device" in helped
    assert "Exit codes" in helped


@pytest.mark.parametrize(
    "name", [*COMMANDS, "procedures show", "procedures check", "procedures phrases", "models add", "models check"]
)
def test_every_command_helps(run: Run, name: str) -> None:
    assert run(*name.split(), "--help").done().startswith(f"Usage: tamponade {name} ")


def test_it_knows_its_version(run: Run) -> None:
    assert run("--version").done().startswith("tamponade, version ")


@pytest.mark.parametrize(
    "arguments",
    [
        ("sing",),
        ("hear",),
        ("replay",),
        ("say", "--colour"),
        ("hear", "--engine", "third", "a.wav"),
        ("hear", "--lead-word", "two words", "a.wav"),
        ("hear", "--expect", "letter", "a.wav"),
    ],
)
def test_wrong_usage_has_its_own_exit_code(run: Run, arguments: tuple[str, ...]) -> None:
    ran = run(*arguments)
    assert ran.code == 2
    assert "Error: " in ran.err
    assert "Traceback" not in ran.err


# Say, and what becomes of a case


def test_what_is_typed_without_a_case_is_shown_and_forgotten(run: Run) -> None:
    said = run("say", "gastric in five zero", "sing a song").done()
    assert "logged      1  Volume in (gastric)" in said
    assert "50 mL · five-zero" in said
    assert 'not understood: "sing a song"' in said
    assert case_names(cases_folder()) == ()


def test_lines_are_read_from_standard_input(run: Run) -> None:
    said = run("say", stdin="gastric in five zero\n\n  mark the time \n").done()
    assert "Volume in (gastric)" in said
    assert "Time marked" in said


def test_a_question_is_asked_and_answered(run: Run) -> None:
    said = run("say", "gastric in fifty", "five zero").done()
    assert "ASKED       1  Volume in (gastric)" in said
    assert 'Say "confirm" for 50 mL, "one five" for 15 mL.' in said
    assert "answered    1" in said


def test_a_case_is_kept_continued_listed_shown_and_written(run: Run, tmp_path: Path) -> None:
    run("say", "--case", "bay-4", "tube at five two at the lips").done()
    run("say", "--case", "bay-4", "gastric in fifty").done()

    assert len(entries_of("bay-4")) == 1
    assert [type(fact) for fact in facts_of("bay-4")].count(CaseOpened) == 1
    assert [type(fact) for fact in facts_of("bay-4")].count(CaseClosed) == 2
    assert run("cases").done().startswith("bay-4  ")
    assert "2 entries, 1 not confirmed" in run("cases").done()
    shown = run("show", "bay").done()
    assert "# Procedure note: Three-lumen balloon tamponade tube" in shown
    assert "Not a medical device" in shown
    assert run("export", "bay-4").done().strip() == shown.strip()
    told = json.loads(run("show", "bay-4", "--json").done())
    assert [(line["line"], line["state"]) for line in told["lines"]] == [(1, "stands"), (2, "asked")]
    lines = run("export", "bay-4", "--to", "jsonl").done().splitlines()
    assert all(isinstance(json.loads(line), dict) for line in lines)
    written = run("export", "bay-4", "--to", "note", "--to", "csv", "--to", "jsonl", "--out", tmp_path / "out").done()
    assert [Path(line).name for line in written.splitlines()] == ["bay-4.md", "bay-4.csv", "bay-4.jsonl"]
    assert all(Path(line).stat().st_size > 100 for line in written.splitlines())


def test_without_cases_it_says_where_it_looked(run: Run) -> None:
    assert run("cases").done() == f"no cases in {cases_folder()}\n"


def test_a_folder_can_be_chosen_for_the_cases(run: Run, tmp_path: Path) -> None:
    run("say", "--cases", tmp_path / "mine", "--case", "one", "mark the time").done()
    assert case_names(tmp_path / "mine") == ("one",)
    assert "one  " in run("cases", "--cases", tmp_path / "mine").done()


# Sound


@pytest.mark.usefixtures("ears_at_hand")
def test_hear_prints_one_json_object_a_file_with_exactly_these_keys(run: Run, clip: Path) -> None:
    first, second = run("hear", "--json", clip, clip).done().splitlines()
    heard = json.loads(first)
    assert json.loads(second)["heard"] == heard["heard"]
    assert set(heard) == {"file", "heard", "events"}
    assert (heard["file"], heard["heard"]) == ("clip.flac", "gastric pressure twenty")
    (event,) = heard["events"]
    assert set(event) == EVENT_KEYS
    assert 0 <= event.pop("confidence") <= 1
    assert event.pop("t") == pytest.approx(2.97, abs=0.05)
    assert event == {"kind": "pressure", "site": "gastric", "value": 20, "unit": "mmHg", "pending": False}


@pytest.mark.usefixtures("ears_at_hand")
def test_hear_prints_a_line_a_file_and_reads_names_from_standard_input(run: Run, clip: Path, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silence.wav", np.zeros(SAMPLE_RATE), SAMPLE_RATE)
    heard = run("hear", "-", stdin=f"{clip}\n\n{tmp_path / 'silence.wav'}\n").done()
    assert heard.splitlines() == [
        "clip.flac: gastric pressure twenty -> pressure gastric 20 mmHg",
        "silence.wav: (nothing) -> no entry",
    ]


@pytest.mark.usefixtures("ears_at_hand")
def test_hear_expects_a_bare_number_if_asked_to(run: Run, clip_pcm: bytes, tmp_path: Path) -> None:
    twenty = np.frombuffer(clip_pcm, "<i2")[round(1.65 * SAMPLE_RATE) :]
    soundfile.write(tmp_path / "twenty.wav", twenty, SAMPLE_RATE)
    heard = json.loads(run("hear", "--json", "--expect", "number", tmp_path / "twenty.wav").done())
    assert heard["heard"] == "twenty"
    assert [(event["kind"], event["value"]) for event in heard["events"]] == [("number", 20)]


@pytest.mark.usefixtures("ears_at_hand")
def test_hear_takes_sound_in_every_usual_form(run: Run, clip_pcm: bytes, tmp_path: Path) -> None:
    import soxr

    sound = np.frombuffer(clip_pcm, "<i2").astype(np.float32) / 32768
    forms = {
        "8-bit": (SAMPLE_RATE, "PCM_U8"),
        "24-bit": (SAMPLE_RATE, "PCM_24"),
        "stereo": (44_100, "PCM_16"),
        "8 kHz": (8_000, "PCM_16"),
        "96 kHz": (96_000, "PCM_24"),
    }
    files = []
    for name, (rate, subtype) in forms.items():
        wave = soxr.resample(sound, SAMPLE_RATE, rate)
        files.append(tmp_path / f"{name}.wav")
        soundfile.write(files[-1], np.stack([wave, wave], axis=1) if name == "stereo" else wave, rate, subtype=subtype)

    heard = [json.loads(line) for line in run("hear", "--json", *files).done().splitlines()]

    assert [one["file"] for one in heard] == [file.name for file in files]
    understood = {one["file"].removesuffix(".wav"): one["heard"] for one in heard}
    for name in ("24-bit", "stereo", "96 kHz"):
        assert understood[name] == "gastric pressure twenty"


@pytest.mark.usefixtures("ears_at_hand")
def test_hear_goes_on_after_a_file_that_cannot_be_used(run: Run, clip: Path, tmp_path: Path) -> None:
    ran = run("hear", "--json", tmp_path / "none.wav", clip)
    ran.refused(3, str(tmp_path / "none.wav"), "there is no such file")
    assert json.loads(ran.out)["heard"] == "gastric pressure twenty"


@pytest.mark.usefixtures("ears_at_hand")
def test_replay_hears_a_recording_into_a_case_and_goes_on_with_it(run: Run, clip_pcm: bytes, tmp_path: Path) -> None:
    path = recording(tmp_path / "room.wav", clip_pcm, times=2)

    first = json.loads(run("replay", path, "--case", "bay-4", "--label", "practice", "--json").done())
    shown = run("replay", path, "--case", "bay-4").done()

    assert set(first) == {"file", "events"}
    assert first["file"] == "room.wav"
    assert [set(event) for event in first["events"]] == [EVENT_KEYS] * 2
    assert [event["t"] for event in first["events"]] == [pytest.approx(t, abs=0.8) for t in (3.7, 7.7)]
    assert shown.count("Pressure (gastric)") == 2
    assert "As it stands" in shown
    assert entries_of("bay-4") == [TWENTY_MMHG] * 4
    assert [type(fact) for fact in facts_of("bay-4")].count(CaseOpened) == 1
    assert "practice" in run("cases").done()


@pytest.mark.usefixtures("ears_at_hand")
def test_a_recording_that_breaks_off_is_kept_as_far_as_it_goes_and_the_gap_is_logged(
    run: Run, clip_pcm: bytes, tmp_path: Path
) -> None:
    path = recording(tmp_path / "room.wav", clip_pcm, times=3)
    path.write_bytes(path.read_bytes()[: 44 + 2 * 9 * SAMPLE_RATE])

    ran = run("replay", path, "--case", "bay-4", "--json")

    ran.refused(4, str(path), "breaks off after 9.0 s, 3.9 s are missing")
    assert len(json.loads(ran.out)["events"]) == 2
    assert entries_of("bay-4") == [TWENTY_MMHG] * 2
    (gap,) = (fact for fact in facts_of("bay-4") if isinstance(fact, CaptureGap))
    assert "breaks off" in gap.reason
    assert isinstance(facts_of("bay-4")[-1], CaseClosed)


@pytest.mark.parametrize("command", [("replay",), ("hear", "--json")])
@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "there is no such file"), (b"", "the file is empty"), (b"no sound at all, " * 50, "not a sound file")],
)
@pytest.mark.usefixtures("ears_at_hand")
def test_a_file_that_cannot_be_heard_is_refused_and_no_case_is_begun(
    run: Run, tmp_path: Path, command: tuple[str, ...], content: bytes | None, told: str
) -> None:
    path = tmp_path / "room.wav"
    if content is not None:
        path.write_bytes(content)
    run(*command, path).refused(3, str(path), told)
    assert case_names(cases_folder()) == ()


@pytest.mark.slow
def test_without_any_help_from_the_tests_the_shipped_clip_is_heard(clip: Path) -> None:
    """The whole program in a process of its own, with its own engines."""
    heard = json.loads(alone("hear", "--json", clip).done())
    assert heard["heard"] == "gastric pressure twenty"
    assert heard["events"][0]["value"] == 20


# Definitions


def test_the_shipped_definitions_are_listed(run: Run) -> None:
    listed = run("procedures").done()
    assert [line.split()[0] for line in listed.splitlines()] == list(shipped())


@pytest.mark.parametrize("name", shipped())
def test_every_shipped_definition_is_shown_sound_and_explained(run: Run, name: str) -> None:
    shown = run("procedures", "show", name).done()
    for part in ("Not a medical device", "Limits", "Order", "Rules", "Clocks", "Entries"):
        assert part in shown
    assert run("procedures", "check", name).done() == f"{name}: no problems\n"
    phrases = run("procedures", "phrases", name).done()
    assert "SITE" in phrases
    assert "{" not in phrases


BROKEN = """
extends = "three-lumen"
nonsense = 1
[limits.oesophageal_ceiling]
max = "high"
[slots.site]
gives = 5
[[kind]]
id = "volume_in"
title = ""
"""


def test_everything_wrong_with_a_definition_is_reported_at_once_with_the_path_to_it(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(BROKEN, encoding="utf-8")

    ran = run("procedures", "check", path)

    assert ran.code == 3
    problems = dict(line.split(": ", 1) for line in ran.out.splitlines())
    assert problems["nonsense"] == "not a known key"
    assert "limits.oesophageal_ceiling.max" in problems
    assert any(where.startswith("slots.site.") for where in problems)
    assert ran.err == f"{len(ran.out.splitlines())} problems in {path}\n"
    run("say", "--definition", path, "time").refused(3, str(path), "more", f"tamponade procedures check {path}")


def test_a_definition_that_is_no_toml_is_reported_with_the_line(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('id = "x"\ntitle = \n', encoding="utf-8")
    ran = run("procedures", "check", path)
    assert ran.code == 3
    assert "line 2" in ran.out
    run("procedures", "show", path).refused(3, str(path), "line 2")


@pytest.mark.parametrize(
    "command",
    [("say", "time", "--definition"), ("procedures", "show"), ("procedures", "check"), ("procedures", "phrases")],
)
def test_an_unknown_definition_is_refused_with_the_known_ones(run: Run, command: tuple[str, ...]) -> None:
    run(*command, "five-lumen").refused(3, '"five-lumen"', "three-lumen", "four-lumen")


def test_a_local_limit_is_in_force_in_the_findings_and_in_the_case(run: Run, override: Path) -> None:
    words = ("say", "oesophageal pressure four two")
    assert "HIGH" not in run(*words).done()
    assert "above the limit (at most 40 mmHg)" in run(*words, "--local", override, "--case", "bay-4").done()

    facts = facts_of("bay-4")
    assert of_case(facts).limits["oesophageal_ceiling"].max == 40
    opened = next(fact for fact in facts if isinstance(fact, CaseOpened))
    assert (opened.override_approved_by, opened.override_approved_on) == ("tamponade protocol group", "2026-03-01")
    assert any(isinstance(fact, FindingRaised) and "at most 40 mmHg" in fact.message for fact in facts)
    assert "at most 40 mmHg" in run("procedures", "show", "three-lumen", "--local", override).done()


def test_the_local_limits_in_the_config_folder_need_no_option(run: Run) -> None:
    config_folder().mkdir(parents=True)
    (config_folder() / "three-lumen.toml").write_text(OVERRIDE, encoding="utf-8")
    assert "at most 40 mmHg" in run("say", "oesophageal pressure four two").done()


def test_a_case_goes_on_with_the_limits_it_was_begun_with(run: Run, override: Path) -> None:
    run("say", "--case", "bay-4", "--local", override, "mark the time").done()
    assert "at most 40 mmHg" in run("say", "--case", "bay-4", "oesophageal pressure four two").done()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("[limits.oesophageal_ceiling]", "limits.ceiling"),
        ('approved_by = "tamponade protocol group"', "approved_by"),
        ('procedure = "three-lumen"', "procedure"),
    ],
)
def test_a_local_file_that_does_not_fit_is_refused(run: Run, override: Path, change: str, told: str) -> None:
    replaced = {"limits.ceiling": "[limits.ceiling]", "approved_by": "", "procedure": 'procedure = "four-lumen"'}[told]
    override.write_text(OVERRIDE.replace(change, replaced), encoding="utf-8")
    run("say", "--local", override, "mark the time").refused(3, str(override), told)
    ran = run("procedures", "check", "three-lumen", "--local", override)
    assert ran.code == 3
    assert ran.out.startswith(f"{told}: ")


# What goes wrong with cases, disks and models


@pytest.mark.parametrize("command", ["show", "export"])
def test_a_case_that_is_not_there_is_refused(run: Run, command: str) -> None:
    run(command, "bay-4").refused(3, '"bay-4"', "tamponade cases")


def test_a_case_that_is_damaged_is_refused_and_listed_with_the_reason(run: Run) -> None:
    run("say", "--case", "bay-4", "mark the time").done()
    (cases_folder() / "bay-4.case").write_bytes(b"coffee" * 1000)
    run("show", "bay-4").refused(3, "bay-4.case", "no case at all")
    run("say", "--case", "bay-4", "mark the time").refused(3, "bay-4.case")
    assert "no case at all" in run("cases").done()


def test_a_second_writer_is_refused_and_may_read(run: Run) -> None:
    run("say", "--case", "bay-4", "mark the time").done()
    with store.resume(cases_folder(), "bay-4"):
        refused = run("say", "--case", "bay-4", "mark the time")
        refused.refused(6, "another program is writing this case", "tamponade show")
        assert "Procedure note" in run("show", "bay-4").done()
    run("say", "--case", "bay-4", "mark the time").done()


@pytest.mark.usefixtures("ears_at_hand")
def test_where_no_case_can_be_written_it_says_so_before_anything_is_heard(run: Run, clip: Path) -> None:
    cases_folder().write_bytes(b"")  # a file where the folder should be; permissions do not stop an administrator
    run("say", "--case", "bay-4", "mark the time").refused(6, str(cases_folder()), "--cases DIR")
    run("replay", clip).refused(6, str(cases_folder()))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="permissions do not stop an administrator")
def test_a_folder_that_cannot_be_written_is_reported(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o500)
    run("say", "--cases", folder, "--case", "bay-4", "mark the time").refused(6, str(folder), "--cases DIR")


def test_an_export_that_cannot_be_written_is_reported(run: Run, tmp_path: Path) -> None:
    run("say", "--case", "bay-4", "mark the time").done()
    (tmp_path / "file").write_bytes(b"")
    run("export", "bay-4", "--out", tmp_path / "file" / "out").refused(6, str(tmp_path / "file"))


@pytest.mark.usefixtures("no_shipped_model")
@pytest.mark.parametrize("engine", ["vosk", "both"])
def test_an_engine_without_its_model_is_refused(
    run: Run, clip: Path, engine: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.meaning.ears.kept_grammars", lambda phrases, lead_word: {})
    run("hear", "--engine", engine, clip).refused(5, "no vosk model is installed", "tamponade models add")


def test_a_model_that_is_named_and_not_there_is_refused(run: Run, clip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAMPONADE_MODEL", "small")
    run("hear", clip).refused(5, "no model 'small'", "TAMPONADE_MODEL")


@pytest.mark.usefixtures("no_shipped_model")
def test_without_a_model_it_says_what_is_used_and_how_to_add_one(run: Run) -> None:
    listed = run("models").done()
    assert "one ear hears alone" in listed
    assert "tamponade models add" in listed


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("https://models.example/small.zip",), "nothing is downloaded"),
        (("https://models.example/small.zip", "--sha256", "abc"), "not a SHA-256"),
        (("no-such-model",), "no-such-model"),
        ((".", "--name", "../small"), "cannot be a model's name"),
    ],
)
def test_a_model_that_cannot_be_added_is_refused(run: Run, arguments: tuple[str, ...], told: str) -> None:
    run("models", "add", *arguments).refused(3, told)


def test_a_folder_that_is_no_model_is_not_added(run: Run, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    run("models", "add", tmp_path / "folder").refused(3, str(tmp_path / "folder"))


@pytest.mark.usefixtures("no_shipped_model")
def test_a_model_is_added_from_a_folder_listed_and_checked(run: Run, prototype: Path) -> None:
    assert "added small in" in run("models", "add", prototype, "--name", "small").done()
    assert run("models").done().startswith("small  strict phrases")
    checked = alone("models", "check")
    assert checked.code == 0, checked.out
    assert checked.out.count("small: ok; cannot hear: ")


def test_an_interrupt_ends_it_without_a_traceback(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("tui.commands.say.load", interrupted)
    ran = run("say", "mark the time")
    assert ran.code == 130
    assert "Traceback" not in ran.err


def test_a_reader_that_stops_reading_ends_it_without_a_word() -> None:
    """As in: tamponade procedures phrases three-lumen | head -1"""
    command = [sys.executable, "-c", PROGRAM, "procedures", "phrases", "three-lumen"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode in (0, 1)


@pytest.mark.parametrize("name", ["../elsewhere", "a/b", "", "a b", ".hidden", "-x"])
def test_a_name_that_would_leave_the_folder_of_the_cases_is_refused(run: Run, name: str) -> None:
    run("say", f"--case={name}", "mark the time").refused(3, "is not a case name", "letters, digits")
    assert not list(cases_folder().parent.rglob("*.case"))


def test_one_slip_in_a_definition_does_not_hide_the_others(run: Run) -> None:
    """Unknown keys, values out of range, references that lead nowhere and unreadable phrases, all in one go."""
    ran = run("procedures", "check", Path(__file__).parent / "broken-everywhere.toml")
    assert ran.code == 3
    for where in (
        "titel: ", "limits.gastric_volume.mx: ", "limits.gastric_volume.source: ", "limits.traction_mass.level: ",
        "slots.volume: ", "kind[55].say[0].phrases[0]: there is no slot", "kind[55].say[0].phrases[0]: column 18",
        "kind[55].say[0].phrases[1]: ", "order[8].first.kind: ", "order[8].then.site: ",
    ):  # fmt: skip
        assert where in ran.out, where
