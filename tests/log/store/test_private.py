"""What is said at a bedside is nobody else's business: whatever the commands make, its owner alone can read it."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.bench.killing import PROGRAM

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX systems"),
]

COMMANDS = (
    "replay {clip} --case heard",
    "say --case typed 'gastric in five zero'",
    "identify heard --patient-first Somebody --author scribe",
    "identify heard --patient-first 'Somebody else' --author scribe",
    "strike typed 1 --author scribe --reason misheard",
    "export heard --to all --out {made}/exports/of/today",
    "export heard --to jsonl --out {made}/deidentified --deidentify",
    "sound heard --out {made}/sounds",
    "import {made}/exports/of/today/heard.jsonl --cases {made}/elsewhere/cases",
    "cases prune --older-than 0 --identifiers --author scribe",
    *(["review --parquet {made}/rows.parquet --html {made}/registry.html"] if find_spec("duckdb") else []),
)


def modes(folder: Path) -> dict[str, str]:
    """Everything below a folder whose permissions are not its owner's alone."""
    return {
        str(path.relative_to(folder)): oct(stat.S_IMODE(path.lstat().st_mode))
        for path in folder.rglob("*")
        if stat.S_IMODE(path.lstat().st_mode) != (0o700 if path.is_dir() else 0o600)
    }


ONE_BY_ONE = """
import os, shlex, sys
from tui.cli import main
os.umask(0)
ended, sys.stdout = sys.stdout, open(os.devnull, "w")
for line in sys.stdin:
    sys.argv = ["tamponade", *shlex.split(line)]
    code = 0
    try:
        main()
    except SystemExit as end:
        code = end.code or 0
    print(code, file=ended, flush=True)
"""
"""The program with a mask that hides nothing, for each line that it is given; says how each ended."""


def test_everything_the_commands_make_is_for_its_owner_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clip: Path
) -> None:
    made = tmp_path / "made"
    made.mkdir(mode=0o700)
    monkeypatch.setenv("TAMPONADE_CASES", str(made / "data" / "cases"))
    monkeypatch.setenv("TAMPONADE_KEY", str(made / "keys" / "mine" / "key"))
    command_line, pipe = [sys.executable, "-c", ONE_BY_ONE], subprocess.PIPE
    with subprocess.Popen(command_line, stdin=pipe, stdout=pipe, text=True, cwd=made) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        for command in COMMANDS:
            line = command.format(clip=clip, made=made)
            program.stdin.write(f"{line}\n")
            program.stdin.flush()
            assert program.stdout.readline() == "0\n", line
            assert modes(made) == {}, line
    names = {path.name for path in made.rglob("*")}
    assert {"heard.case", "typed.case", "heard.case.lock", "key", "heard.jsonl", "case.jsonl"} <= names


def test_the_files_of_a_case_that_is_being_written_are_too(tmp_path: Path) -> None:
    shell = 'umask 000; exec "$0" -c "$1" say --case case --cases "$2"'
    with subprocess.Popen(
        ["sh", "-c", shell, sys.executable, PROGRAM[2], str(tmp_path / "cases")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as writing:
        assert writing.stdin is not None
        assert writing.stdout is not None
        writing.stdin.write("mark the time\n")
        writing.stdin.flush()
        assert any("logged" in line for line in iter(writing.stdout.readline, ""))
        there = {path.name for path in (tmp_path / "cases").iterdir()}
        assert there == {"case.case", "case.case-wal", "case.case-shm", "case.case.lock"}
        wrong = modes(tmp_path)
        writing.kill()
    assert wrong == {}


def test_words_that_are_tried_out_are_on_no_disk_even_while_the_program_runs(tmp_path: Path) -> None:
    """`say` without a case waits for its second line, and may be killed there."""
    folders = {name: str(tmp_path / name.lower()) for name in ("TMPDIR", "XDG_DATA_HOME", "HOME", "TAMPONADE_CASES")}
    for folder in folders.values():
        Path(folder).mkdir()
    command = [*PROGRAM, "say"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ, **folders}, text=True
    ) as child:
        assert child.stdin is not None and child.stdout is not None
        child.stdin.write("gastric in sixty\n")
        child.stdin.flush()
        assert any("Volume in" in line for line in child.stdout)
        left = [path for path in tmp_path.rglob("*") if path.is_file() and b"sixty" in path.read_bytes()]
        names = {path.name for path in tmp_path.rglob("*")}
        child.kill()
    assert left == []
    assert not any(name.endswith((".case", "-wal")) for name in names), names
