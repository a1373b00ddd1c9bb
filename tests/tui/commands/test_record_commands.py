"""The commands around the record: correct it, listen again, check it, take it elsewhere, remove what identifies."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from log.basics.errors import InputError
from log.exports import FORMATS
from log.facts.events import CaseOpened, EntryLogged, SoundsRemoved, SpeechKept
from log.store import case as store
from log.store.folder import cases_folder, find_case
from log.store.identifiers import Identifiers
from log.store.verify import verify
from tests.tui.conftest import Run, recording
from tui.cli import tamponade
from tui.commands.correct import _asked
from tui.views.times import moment
from voice.sound.segment import SAMPLE_RATE

AUTHOR = ("--author", "scribe A")
WHY = (*AUTHOR, "--reason", "misread")


def said(run: Run, *words: str, case: str = "bay-4") -> None:
    run("say", "--case", case, *words).done()


def path_of(case: str = "bay-4") -> Path:
    return find_case(cases_folder(), case)


# Corrections


def test_a_line_is_struck_amended_and_entered_late(run: Run) -> None:
    said(run, "gastric in five zero", "tube at five two at the lips")
    assert "STRUCK      2" in run("strike", "bay-4", 2, *WHY).done()
    assert "40 mL" in run("amend", "bay-4", 1, "gastric in four zero", *WHY).done()
    assert "AMENDED     1" in run("amend", "bay-4", 1, "--at", "2026-01-01T03:00:00+00:00", *WHY).done()
    assert "logged      3" in run("late", "bay-4", "airway secured", "--at", "2026-01-01T02:00:00+00:00", *WHY).done()
    note = run("show", "bay-4").done()
    for told in ("~~tube depth 52 cm", "~~50 mL~~ 40 mL", "time was", "**late entry**", "scribe A, typed", "misread"):
        assert told in note
    assert "verified" in run("verify", "bay-4").done()


def test_a_case_is_moved_and_moved_back(run: Run) -> None:
    said(run, "airway secured", "tube in")
    opened = json.loads(run("show", "bay-4", "--json").done())["lines"][0]["at"]
    moved = run("shift", "bay-4", "--by", "-1:30", "--reason", "slow laptop").done()
    assert re.search(r"times of facts 1 to \d+ moved by -1:30; the log was opened \d{4}-", moved)
    shown = json.loads(run("show", "bay-4", "--json").done())
    assert datetime.fromisoformat(opened) - datetime.fromisoformat(shown["lines"][0]["at"]) == timedelta(minutes=90)
    assert shown["clock_corrected"][0]["author"] == "scribe"
    assert "moved by -1:30 (scribe: slow laptop)" in re.sub(r"\s+", " ", run("handover", "bay-4").done())
    run("shift", "bay-4", "--by", "+1:30", "--reason", "it was right").done()
    assert json.loads(run("show", "bay-4", "--json").done())["lines"][0]["at"] == opened
    assert "verified" in run("verify", "bay-4").done()
    run("shift", "bay-4", "--by", "+9:00", "--reason", "x").refused(3, "has not come yet")
    for by in ("1:00", "+0:00", "-0:60", "+1", "+9999999:00", "soon"):
        run("shift", "bay-4", "--by", by, "--reason", "x").refused(3, "is not a shift")


def test_a_child_is_recorded_without_limits_where_nobody_has_set_them(run: Run) -> None:
    child = ("--definition", "three-lumen-child", "--case", "bay-9")
    run("say", *child, "tube in").refused(3, "--record-only")
    assert "RECORD ONLY" in run("say", *child, "--record-only", "tube in", "gastric in seven zero zero").done()
    for command in ("show", "handover", "debrief", "watch"):
        assert "RECORD ONLY" in run(command, "bay-9").done(), command
    run("say", "--case", "bay-8", "--record-only", "tube in").refused(3, "has limits")


def test_an_open_question_is_answered_by_hand(run: Run) -> None:
    said(run, "gastric in fifty")
    assert "answered    1" in run("amend", "bay-4", 1, "gastric in one five", *WHY).done()


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("strike", "bay-4", 9, *WHY), 3, "the log has no line 9"),
        (("amend", "bay-4", 1, "good morning", *WHY), 3, "is not one entry"),
        (("amend", "bay-4", 1, "scratch that", *WHY), 3, "is a command, not an entry"),
        (("amend", "bay-4", 1, "gastric in five zero", *WHY), 3, "says that already"),
        (("late", "bay-4", "airway secured", "--at", "25:99", *WHY), 3, "is not a time"),
        (("late", "bay-4", "airway secured", "--at", "2199-01-01T00:00:00Z", *WHY), 3, "has not come yet"),
        (("strike", "bay-4", 1, "--author", " ", "--reason", "x"), 3, "a correction needs an author"),
        (("identify", "bay-4", "--forget", "x", *AUTHOR), 3, "has no block of identifiers"),
        (("sound", "bay-4", "--out", "out"), 3, "no sound was kept"),
        (("verify", "nobody"), 3, "there is no case named"),
        (("import", "nothing.jsonl"), 3, "there is no such file"),
        (("export", "bay-4", "--to", "note", "--out", "/dev/null/x"), 6, "/dev/null"),
    ],
)
def test_what_cannot_be_done_is_reported_in_one_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[object, ...], code: int, told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    said(run, "gastric in five zero")
    run(*arguments).refused(code, told)
    assert verify(path_of()).problems == ()


@pytest.mark.parametrize(
    "arguments", [("strike", "x", 1, *AUTHOR), ("amend", "x", 1, *WHY), ("identify", "x", *AUTHOR), ("late", "x", "y")]
)
def test_a_correction_that_says_too_little_is_a_usage_error(run: Run, arguments: tuple[object, ...]) -> None:
    assert run(*arguments).code == 2


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("03:10", "2026-03-04T03:10:00+01:00"),
        ("3:10:05", "2026-03-04T03:10:05+01:00"),
        ("23:59", "2026-03-03T23:59:00+01:00"),
        ("2026-03-01T10:00:00Z", "2026-03-01T10:00:00+00:00"),
    ],
)
def test_a_time_is_the_last_one_that_fits(text: str, wanted: str) -> None:
    now = datetime(2026, 3, 4, 4, 0, tzinfo=timezone(timedelta(hours=1)))
    assert moment(text, now) == datetime.fromisoformat(wanted)
    with pytest.raises(InputError):
        moment("soon", now)


# Sound


@pytest.mark.usefixtures("ears_at_hand")
def test_sound_is_kept_with_its_line_and_can_be_heard_again(run: Run, clip_pcm: bytes, tmp_path: Path) -> None:
    run("replay", recording(tmp_path / "room.wav", clip_pcm), "--case", "bay-4", "--author", "Dr A").done()
    (entry,) = (f for f in store.read(cases_folder(), "bay-4").facts if isinstance(f, EntryLogged))
    assert entry.origin.author == "Dr A"
    assert entry.origin.sound is not None
    (written,) = run("sound", "bay-4", 1, "--out", tmp_path / "heard").done().splitlines()
    sound, rate = soundfile.read(written, dtype="int16")
    assert rate == SAMPLE_RATE
    assert len(sound) / rate == pytest.approx(entry.origin.sound.seconds)
    recorded, _ = soundfile.read(tmp_path / "room.wav", dtype="int16")
    assert sound.tobytes() in recorded.tobytes(), "without loss"


@pytest.mark.usefixtures("ears_at_hand")
@pytest.mark.parametrize(("keep", "kept"), [("none", 0), ("utterances", 1), ("all", 1)])
def test_how_much_sound_is_kept_is_chosen(run: Run, clip_pcm: bytes, tmp_path: Path, keep: str, kept: int) -> None:
    path = recording(tmp_path / "room.wav", clip_pcm)
    run("replay", path, "--case", "bay-4", "--keep-audio", keep).done()
    assert verify(path_of()).sounds == kept
    opened = store.read(cases_folder(), "bay-4").facts[0]
    assert isinstance(opened, CaseOpened) and opened.keep_sound == keep


@pytest.mark.usefixtures("ears_at_hand")
def test_talk_in_the_room_is_kept_only_where_all_sound_is(run: Run, tmp_path: Path, clip_pcm: bytes) -> None:
    """Something spoken that no phrase fits: half of the clip, backwards."""
    talk = np.frombuffer(clip_pcm, "<i2")[::-1]
    path = tmp_path / "talk.wav"
    soundfile.write(path, np.concatenate([np.zeros(SAMPLE_RATE, np.int16), talk]), SAMPLE_RATE)
    for keep in ("utterances", "all"):
        run("replay", path, "--case", keep, "--keep-audio", keep)
    heard = {
        keep: [f for f in store.read(cases_folder(), keep).facts if isinstance(f, SpeechKept)]
        for keep in ("utterances", "all")
    }
    assert heard["utterances"] == []
    assert all(fact.origin.sound is not None for fact in heard["all"])
    assert verify(path_of("all")).problems == ()
    assert verify(path_of("all")).sounds >= len(heard["all"]) > 0


@pytest.mark.usefixtures("ears_at_hand")
def test_old_sound_is_removed_and_the_log_says_so(run: Run, clip_pcm: bytes, tmp_path: Path) -> None:
    run("replay", recording(tmp_path / "room.wav", clip_pcm), "--case", "bay-4").done()
    assert "to remove: nothing" in run("cases", "prune", "--older-than", 30, *AUTHOR).done()
    assert "to remove: sounds (1)" in run("cases", "prune", "--older-than", 0, "--dry-run", *AUTHOR).done()
    assert b"fLaC" in path_of().read_bytes()
    assert "removed: sounds (1)" in run("cases", "prune", "--older-than", 0, "--reason", "thirty days", *AUTHOR).done()
    assert b"fLaC" not in path_of().read_bytes()
    (gone,) = (f for f in store.read(cases_folder(), "bay-4").facts if isinstance(f, SoundsRemoved))
    assert (gone.author, gone.reason, len(gone.sha256)) == ("scribe A", "thirty days", 1)
    assert "verified" in run("verify", "bay-4").done()
    assert "1 sound" in run("show", "bay-4").done()
    assert "its sound was removed" in run("sound", "bay-4", "--out", tmp_path / "none").err


# Exports that are there already


def test_an_export_that_was_filled_in_is_not_replaced_without_a_word(run: Run, tmp_path: Path) -> None:
    said(run, "gastric in five zero")
    once = run("export", "bay-4", "--to", "note", "--to", "csv", "--out", tmp_path).done()
    assert run("export", "bay-4", "--to", "note", "--to", "csv", "--out", tmp_path).done() == once
    note, table = map(Path, once.splitlines())
    note.write_text(filled := note.read_text(encoding="utf-8") + "\nSigned: A. Nonymous\n", encoding="utf-8")
    table.unlink()
    ran = run("export", "bay-4", "--to", "csv", "--to", "note", "--out", tmp_path)
    ran.refused(3, f"{note}: is there already and is not what would be written", "--force")
    assert note.read_text(encoding="utf-8") == filled and not table.exists()
    run("export", "bay-4", "--to", "note", "--out", tmp_path, "--force").done()
    assert "Signed: A. Nonymous" not in note.read_text(encoding="utf-8")


# Identifiers


def test_identifiers_stand_in_the_note_and_can_be_removed(run: Run) -> None:
    said(run, "gastric in five zero")
    run("identify", "bay-4", "--patient-first", "A. Nonymous", "--device-lot", "LOT 7", *AUTHOR).done()
    run("identify", "bay-4", "--patient-first", "A. N. Other", *AUTHOR).done()
    note = run("show", "bay-4").done()
    assert "A. N. Other" in note and "A. Nonymous" not in note
    assert "A. N. Other" not in run("export", "bay-4", "--to", "jsonl").done()
    assert "verified" in run("verify", "bay-4").done()
    run("identify", "bay-4", *AUTHOR, stdin="A. N. Asked\n\nBay 4\n").done()
    note = run("show", "bay-4").done()
    assert "A. N. Asked" in note and "Bay 4" in note and "A. N. Other" not in note
    assert run("identify", "bay-4", *AUTHOR).code == 2
    run("identify", "bay-4", "--forget", "asked for by the patient", *AUTHOR).done()
    assert "A. N. Other" not in run("show", "bay-4").done()
    assert b"A. N. Other" not in path_of().read_bytes()
    assert "verified" in run("verify", "bay-4").done()


class Terminal(io.StringIO):
    """Somebody sits in front of it."""

    def isatty(self) -> bool:
        """Yes."""
        return True


def test_names_are_asked_for_so_that_none_has_to_stand_among_the_arguments(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def prompt(text: str, **options: object) -> str:
        assert options["err"], "not among what is written to a file"
        asked.append(text)
        return "A. Nonymous" if text == "patient first" else ""

    monkeypatch.setattr("click.prompt", prompt)
    monkeypatch.setattr("sys.stdin", Terminal())
    given = _asked(name for name in Identifiers.model_fields if name != "salt")
    assert {name: text for name, text in given.items() if text} == {"patient_first": "A. Nonymous"}
    assert len(asked) == len(Identifiers.model_fields) - 1


# Exports and import


def test_everything_is_written_at_once_and_the_same_again(run: Run, tmp_path: Path) -> None:
    said(run, "gastric in five zero", "oesophageal pressure four eight")
    first = [
        Path(line) for line in run("export", "bay-4", "--to", "all", "--out", tmp_path / "one").done().splitlines()
    ]
    second = [
        Path(line) for line in run("export", "bay-4", "--to", "all", "--out", tmp_path / "two").done().splitlines()
    ]
    assert [path.name for path in first] == [f"bay-4{export.suffix}" for export in FORMATS.values()]
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]
    head = store.read(cases_folder(), "bay-4").head
    assert head is not None
    for path in first:
        if path.name in ("bay-4.md", "bay-4.jsonl"):
            assert head.public_key in path.read_text(encoding="utf-8")


def test_a_pdf_goes_to_a_pipe_as_bytes(run: Run) -> None:
    said(run, "gastric in five zero")
    result = CliRunner().invoke(tamponade, ["export", "bay-4", "--to", "pdf", "--paper", "letter"])
    assert result.exit_code == 0
    pypdf = pytest.importorskip("pypdf")
    page = pypdf.PdfReader(io.BytesIO(result.stdout_bytes)).pages[0]
    assert [float(side) for side in page.mediabox[2:]] == [612.0, 792.0], "US Letter: 8.5 by 11 inches of 72 points"


def test_a_case_without_identity_is_named_as_such(run: Run, tmp_path: Path) -> None:
    run("say", "--case", "bay-4", "--label", "Quillfeather", "gastric in five zero").done()
    ran = run("export", "bay-4", "--to", "all", "--deidentify", "--out", tmp_path)
    assert ran.code == 0
    assert "yours to judge" in ran.err
    for line in ran.out.splitlines():
        assert Path(line).name.startswith("case.")
        assert b"Quillfeather" not in Path(line).read_bytes()


def test_a_case_is_taken_to_another_folder_and_checked_against_a_note(run: Run, tmp_path: Path) -> None:
    said(run, "gastric in five zero")
    run("export", "bay-4", "--to", "jsonl", "--out", tmp_path).done()
    assert "a new case" in run("import", tmp_path / "bay-4.jsonl", "--cases", tmp_path / "other").done()
    assert "nothing new" in run("import", tmp_path / "bay-4.jsonl", "--cases", tmp_path / "other").done()
    note = run("show", "bay-4").done()
    head, key = re.findall(r"\| ([0-9a-f]{64}) \|", note)[-2:]
    said(run, "mark the time")
    assert "verified" in run("verify", "bay-4", "--head", head, "--key", key).done()
    stranger = run("verify", "bay-4", "--head", "0" * 64)
    assert stranger.code == 7
    stranger.refused(7, "does not verify", "no single fact is to blame")


def test_the_summary_of_a_case_is_listed_without_reading_it(run: Run) -> None:
    said(run, "gastric in fifty", "oesophageal pressure four eight")
    (line,) = run("cases").done().splitlines()
    assert line.startswith("bay-4  ")
    assert "2 entries, 1 not confirmed" in line


def test_the_json_lines_of_a_case_are_json(run: Run) -> None:
    said(run, "gastric in five zero")
    lines = [json.loads(line) for line in run("export", "bay-4", "--to", "jsonl").done().splitlines()]
    assert lines[0]["format"] == "tamponade-log facts"
    assert datetime.fromisoformat(lines[1]["logged_at"]) <= datetime.now(UTC) + timedelta(seconds=1)
