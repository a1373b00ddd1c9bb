"""The key with which a machine vouches for its cases: made once, kept for its owner, and never given away."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from log.basics.errors import StoreError
from log.exports import FORMATS
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.store import case as store
from log.store.folder import case_names
from log.store.keys import key_path, signer
from log.summaries.whole import whole
from tests.bench.killing import PROGRAM

STARTING = """
import sys, time
from pathlib import Path
from log.store.keys import signer
while not Path(sys.argv[1]).exists():
    pass
print(signer().public_key)
"""
"""A program that makes the key as soon as it may."""


def test_the_key_is_made_once_and_for_its_owner_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "new" / "folder" / "key"))
    before = os.umask(0)
    try:
        first = signer().public_key
    finally:
        os.umask(before)
    content = key_path().read_bytes()
    assert signer().public_key == first
    assert key_path().read_bytes() == content
    assert [path.name for path in key_path().parent.iterdir()] == ["key"], "no draft is left"
    if os.name == "posix":
        assert stat.S_IMODE(key_path().stat().st_mode) == 0o600
        for folder in (tmp_path / "new", tmp_path / "new" / "folder"):
            assert stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.slow
def test_programs_that_start_at_once_have_the_same_key(tmp_path: Path) -> None:
    command = [sys.executable, "-c", STARTING, str(tmp_path / "now")]
    programs = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    (tmp_path / "now").touch()
    keys = {program.communicate()[0] for program in programs}
    assert keys == {f"{signer().public_key}\n"}
    assert all(program.returncode == 0 for program in programs)


def test_a_draft_of_a_program_that_died_is_in_nobodys_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "key"))
    for name in (f"key.{os.getpid()}", ".key.draft"):
        (tmp_path / name).write_text("half a k")
    assert len(signer().public_key) == 64


@pytest.mark.parametrize("content", [b"", b"\n", b"00" * 31, b"00" * 33, b"no key", b"\xff" * 64, b"00" * 10_000])
def test_a_damaged_key_is_reported_in_one_line_and_nothing_is_made_in_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes
) -> None:
    path = tmp_path / "key"
    path.write_bytes(content)
    monkeypatch.setenv("TAMPONADE_KEY", str(path))
    with pytest.raises(StoreError, match="not a signing key - put the right file back") as error:
        signer()
    assert str(error.value).startswith(f"{path}: ")
    assert "\n" not in str(error.value)
    assert path.read_bytes() == content


def test_a_case_is_not_begun_with_a_damaged_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "key").touch()
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "key"))
    say = [*PROGRAM, "say", "--cases", str(tmp_path / "cases"), "--case", "case", "mark the time"]
    done = subprocess.run(say, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (6, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith(f"tamponade: {tmp_path / 'key'}: not a signing key")
    assert case_names(tmp_path / "cases") == ()


def test_a_place_where_no_key_can_be_made_is_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "file" / "key"))
    with pytest.raises(StoreError, match="name another file in TAMPONADE_KEY"):
        signer()


def test_the_private_part_is_in_no_case_and_in_no_export(tmp_path: Path) -> None:
    session = open_case(tmp_path, "case", load("three-lumen"), "typed", Keeping())
    session.close(0.0, "end of typing")
    secret = key_path().read_text().strip()
    forms = [form.encode() for form in (secret, secret.upper())] + [bytes.fromhex(secret)]
    told = whole(store.read(tmp_path, "case"))
    written = [chosen.write(told) for chosen in FORMATS.values()]
    everything = [text.encode() if isinstance(text, str) else text for text in written]
    everything += [path.read_bytes() for path in tmp_path.glob("case.case*")]
    assert len(everything) > len(FORMATS)
    for content in everything:
        assert not any(form in content for form in forms)
    assert secret not in repr(signer())
