"""What somebody else wrote into a case, on the screen of whoever looks at it."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from rich.console import Console

from log.exports.jsonl_import import import_case
from log.scribe.opening import resume
from log.scribe.session import TYPED
from tests.case_file import make
from tests.cases import SIGNER
from tests.log.hostile import STEERS, plain_facts, written
from tests.tui.conftest import Run
from tui.views.read_back import ReadBack

NAME = "20261004-140000"


@pytest.mark.parametrize(
    "command",
    [
        ("cases",),
        ("show", NAME),
        ("verify", NAME, "--without-sound"),
        ("review",),
        *(("export", NAME, "--to", name) for name in ("note", "csv", "audit", "jsonl", "fhir", "timeline")),
        ("export", NAME, "--deidentify"),
        ("strike", NAME, "1", "--author", STEERS, "--reason", STEERS),
    ],
    ids=" ".join,
)
def test_nothing_in_a_case_steers_the_terminal(run: Run, tmp_path: Path, command: tuple[str, ...]) -> None:
    import_case(tmp_path / "cases", written(tmp_path / "x.jsonl", plain_facts(STEERS)), word_for=[SIGNER.public_key])
    ran = run(*command, "--cases", tmp_path / "cases")
    assert ran.code == 0, ran
    assert [c for c in ran.out + ran.err if not c.isprintable() and c not in "\r\n"] == []


def test_nothing_in_a_definition_steers_the_terminal(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text('extends = \'three-lumen\'\n"\\u001b[2J" = 1\n[parts]\nx = "\\u001b"\n', encoding="utf-8")
    ran = run("procedures", "check", path)
    assert ran.code == 3
    assert [c for c in ran.out + ran.err if not c.isprintable() and c != "\n"] == []


def test_what_a_definition_says_is_shown_and_not_obeyed(run: Run, tmp_path: Path) -> None:
    steers = json.dumps(f"[/] {STEERS}")
    path = tmp_path / "x.toml"
    path.write_text(
        f"extends = 'three-lumen'\nid = 'x'\ncautions = [{steers}]\n"
        f"[[clock]]\nid = 'mine'\ntitle = {steers}\nstarts = {{ kind = 'volume_in' }}\n"
        f"stops = [{{ kind = 'tube' }}]\n[sources]\nP1 = {steers}\n",
        encoding="utf-8",
    )
    said = ("oesophageal pressure three five", "gastric in five zero", "what's next")
    ran = [
        run(*command, "--cases", tmp_path)
        for command in (
            ("say", "--case", "one", "--definition", path, *said),
            ("show", "one"),
            ("watch", "one"),
            ("handover", "one"),
        )
    ]
    ran += [run("procedures", *command, path) for command in (("phrases",), ("show",), ("check",))]
    assert [one for one in ran if one.code] == []
    out = io.StringIO()
    read_back = ReadBack(resume(tmp_path, "one", TYPED, "scribe"), Console(file=out, width=100))
    read_back.start("[/]")
    read_back.end()
    read_back.session.case.close()
    procedure = read_back.session.procedure
    assert "[/]" in procedure.clock[-1].title and "[/]" in procedure.cautions[0]
    shown = "".join(one.out + one.err for one in ran) + out.getvalue()
    assert shown.count("[/]") > 5
    assert [c for c in shown if not c.isprintable() and c != "\n"] == []


@pytest.mark.parametrize("command", ["export", "sound", "cases", "import", "procedures check"])
def test_a_file_name_does_not_steer_the_terminal(run: Run, tmp_path: Path, command: str) -> None:
    (place := tmp_path / "\x1b[2J\u202e").mkdir()
    make(place)
    told = {
        "export": lambda: run("export", "case", "--cases", place, "--out", place),
        "sound": lambda: run("sound", "case", "--cases", place, "--out", place),
        "cases": lambda: run("cases", "--cases", place / "none"),
        "import": lambda: run("import", place / "x.jsonl", "--cases", place),
        "procedures check": lambda: run("procedures", "check", place / "x.toml"),
    }[command]()
    assert told.out + told.err
    assert [c for c in told.out + told.err if not c.isprintable() and c != "\n"] == []
