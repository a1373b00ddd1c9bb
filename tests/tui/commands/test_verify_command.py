"""`tamponade verify`: what it prints, and the one line and exit code 7 when a case is not what was written down."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from log.basics.errors import InputError
from log.facts.record import fold
from log.scribe.opening import resume
from log.scribe.session import TYPED
from log.store import case as store
from log.store.folder import cases_folder
from log.store.keys import signer
from log.store.trust import foreign
from tests.case_file import SOUNDS, at, logged, make, tamper
from tests.tui.conftest import Run

VALUE = "UPDATE facts SET line = replace(line, '\"value\":36', '\"value\":30') WHERE seq = 3"


@pytest.fixture
def case() -> Path:
    return make(cases_folder())


Verify = Callable[..., tuple[int, str, str]]


@pytest.fixture
def verify(run: Run) -> Verify:
    """Exit code, standard output and standard error."""

    def verified(*arguments: str) -> tuple[int, str, str]:
        ran = run("verify", "case", *arguments)
        return ran.code, ran.out, ran.err

    return verified


def test_a_case_that_nobody_touched(case: Path, verify: Verify) -> None:
    head = store.read(case.parent, "case").links[-1].sha256
    key = signer().public_key
    code, out, err = verify("--head", head, "--key", key)
    assert (code, err) == (0, "")
    signed = f"signed   facts 1 to 6 by {key} (this machine)"
    assert out.startswith(f"facts    6\nhead     {head}\n{signed}\nsounds   2 as they were\nverified: ")


def test_a_changed_fact_is_named_in_one_line(case: Path, verify: Verify) -> None:
    tamper(case, VALUE)
    code, out, err = verify()
    assert code == 7
    assert err == (
        f"tamponade: {case}: does not verify; the first broken fact is 3 - "
        "keep the file as it is, and restore a backup\n"
    )
    assert "WRONG    fact 3: chain broken here" in out
    assert "verified" not in out


@pytest.mark.parametrize(("option", "told"), [("--head", "no fact has the"), ("--key", "vouched for by another key")])
def test_a_case_that_is_not_the_one_that_was_given_away(case: Path, option: str, told: str, verify: Verify) -> None:
    code, out, err = verify(option, "0" * 64)
    assert code == 7
    assert "no single fact is to blame" in err
    assert told in out


def test_a_missing_sound_is_missing_unless_it_is_not_asked_for(case: Path, verify: Verify) -> None:
    tamper(case, f"DELETE FROM beside WHERE sha256 = '{SOUNDS[1].sha256}'")
    code, out, _ = verify()
    assert (code, f"MISSING  sound {SOUNDS[1].sha256}" in out) == (7, True)
    code, out, err = verify("--without-sound")
    assert (code, err) == (0, "")
    assert f"not here sound {SOUNDS[1].sha256}" in out
    assert "sounds   1 as they were" in out


def test_without_sound_says_nothing_of_anything_else(case: Path, verify: Verify) -> None:
    tamper(case, VALUE)
    assert verify("--without-sound")[0] == 7


@pytest.mark.parametrize("content", [b"", b"no case\n" * 600])
def test_what_is_no_case_is_reported_in_one_line(case: Path, content: bytes, verify: Verify) -> None:
    case.write_bytes(content)
    code, out, err = verify()
    assert (code, out, err.count("\n")) == (3, "", 1)
    assert err.startswith(f"tamponade: {case}: not a ")


def test_a_case_that_is_being_written_verifies(case: Path, verify: Verify) -> None:
    with store.resume(case.parent, "case") as writing:
        facts = [*writing.facts(), logged(4, 30).model_copy(update={"logged_at": at(5)})]
        writing.append(facts[-1:], fold(facts).summary)
        code, out, err = verify()
    assert (code, err, out[:10]) == (0, "", "facts    7")


def test_a_case_from_another_machine_is_gone_on_with_once_somebody_gave_his_word(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, verify: Verify
) -> None:
    """As `tamponade import` and `say` meet it: named, refused with what to do, and then known."""
    theirs = signer().public_key
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "another-key"))
    code, out, _ = verify()
    assert code == 0 and f"signed   facts 1 to 6 by {theirs} (another machine)" in out
    with pytest.raises(InputError, match=f"signed by another machine, with the key {theirs}"):
        resume(case.parent, "case", TYPED, "operator")
    assert verify("--trust")[0] == 2
    assert verify("--key", "0" * 64, "--trust")[0] == 7
    code, out, err = verify("--key", theirs, "--trust")
    assert (code, err) == (0, "") and out.endswith("trusted: this machine goes on with the case\n")
    assert foreign(store.read(case.parent, "case").links) == ()
