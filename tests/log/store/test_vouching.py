"""What a case vouches for under several keys, against what has left the machine, and while it is being written."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.basics.errors import InputError, StoreError
from log.facts.events import CaseOpened, CaseResumed, EntryStruck
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.definitions import load
from log.scribe.opening import resume
from log.scribe.session import TYPED
from log.store import case as store
from log.store.chain import linked, parsed
from log.store.keys import Signer, signer
from log.store.own_heads import memory_path, remembered
from log.store.trust import foreign, trust
from log.store.verify import doubts, verify
from tests.case_file import at, body, changed, go_on, logged, make, opened, tamper, write_anew

# ---- against what has left the machine -----------------------------------------------------------------------------


def test_who_has_the_key_can_write_a_case_anew_and_a_fingerprint_that_was_given_away_tells(tmp_path: Path) -> None:
    path = make(tmp_path)
    given_away = store.read(tmp_path, "case").links[-1].sha256
    write_anew(path, changed([opened(), *body()], 3, lambda fact: logged(2, 30)), signer())
    (remembered_here,) = verify(path).problems
    assert str(remembered_here).startswith("fact 6: is not the fact that this machine wrote")
    memory_path().unlink()  # which whoever has the key may reach as well
    assert verify(path).problems == ()
    (told,) = verify(path, expected_head=given_away).problems
    assert str(told).startswith(f"no fact has the fingerprint {given_away}")


def test_a_stranger_who_writes_a_case_anew_under_his_own_key_is_found_by_the_key_that_was_given_away(
    tmp_path: Path,
) -> None:
    path, his = make(tmp_path), Signer(Ed25519PrivateKey.generate())
    ours = opened().public_key
    first = opened().model_copy(update={"public_key": his.public_key})
    write_anew(path, [first, *body()], his)
    assert verify(path).problems == ()
    assert [str(problem) for problem in verify(path, expected_keys=[ours]).problems] == [
        f"facts 1 to 6 are vouched for by another key, {his.public_key}"
    ]
    with pytest.raises(InputError, match=f"signed by another machine, with the key {his.public_key}") as refused:
        resume(tmp_path, "case", TYPED, "operator", at(9))
    assert refused.value.remedy.endswith(f"tamponade verify case --key {his.public_key} --trust")
    trust(store.read(tmp_path, "case").links[0].sha256, [his.public_key])
    assert foreign(store.read(tmp_path, "case").links) == ()


def test_a_stranger_does_not_become_this_machine_by_one_entry_that_is_made_here(tmp_path: Path) -> None:
    path, his = make(tmp_path), Signer(Ed25519PrivateKey.generate())
    write_anew(path, [opened().model_copy(update={"public_key": his.public_key}), *body()], his)
    go_on(path, logged(4, 38).model_copy(update={"logged_at": at(6)}))
    report = verify(path, expected_keys=[signer().public_key])
    assert [(one.first, one.last, one.public_key == his.public_key) for one in report.stretches] == [
        (1, 6, True),
        (7, 8, False),
    ]
    (problem,) = report.problems
    assert str(problem) == f"facts 1 to 6 are vouched for by another key, {his.public_key}"


# ---- against what this machine remembers ---------------------------------------------------------------------------


def gone_on(path: Path) -> None:
    """As `go_on`, at another moment with another entry."""
    go_on(path, logged(4, 39).model_copy(update={"logged_at": at(7)}))


@pytest.mark.parametrize(("then", "wrong"), [(None, "facts 7 to 8 were written"), (gone_on, "fact 8: is not the fact")])
def test_an_older_copy_and_what_goes_on_from_it_do_not_fit_what_this_machine_wrote(
    tmp_path: Path, then: Callable[[Path], None] | None, wrong: str
) -> None:
    path = make(tmp_path)
    shutil.copy(path, tmp_path / "old")
    go_on(path, logged(4, 38).model_copy(update={"logged_at": at(6)}))
    assert verify(path).problems == ()
    shutil.copy(tmp_path / "old", path)
    if then is not None:
        then(path)
    (problem,) = verify(path).problems
    assert str(problem).removeprefix("fact 7: ").startswith(wrong)
    assert [*map(str, doubts(store.read(tmp_path, "case").links, verify(path).head))] == [str(problem)]


def test_a_memory_that_is_damaged_or_cannot_be_written_costs_nothing_but_itself(tmp_path: Path) -> None:
    path = make(tmp_path)
    opening = store.read(tmp_path, "case").links[0].sha256
    with memory_path().open("ab") as file:
        file.write(b'{"opening": "' + opening.encode() + b'", "facts": \xff\n{"opening"')
    assert [one.facts for one in remembered(opening)] == [1, 6]
    memory_path().unlink()
    memory_path().mkdir()
    go_on(path, logged(4, 38).model_copy(update={"logged_at": at(6)}))
    assert remembered(opening) == () and verify(path).problems == ()


def test_an_old_state_that_was_put_back_whole_is_found_by_a_later_fingerprint_alone(tmp_path: Path) -> None:
    path = make(tmp_path)
    shutil.copy(path, tmp_path / "old")
    go_on(path, logged(4, 38).model_copy(update={"logged_at": at(6)}))
    links = store.read(tmp_path, "case").links
    for link in links:
        assert verify(path, expected_head=link.sha256.upper()).problems == (), "an export of any moment fits"
    shutil.copy(tmp_path / "old", path)
    memory_path().unlink()  # as on another machine
    assert verify(path).problems == ()
    assert verify(path, expected_head=links[5].sha256).problems == ()
    assert verify(path, expected_head=links[-1].sha256).problems


# ---- hand-overs between keys ---------------------------------------------------------------------------------------


@pytest.fixture
def handed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A case that two keys vouch for: the second from fact 7 on."""
    path = make(tmp_path)
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "second-key"))
    go_on(path)
    return path


def test_a_case_that_goes_on_under_another_key_verifies_under_both(handed_over: Path) -> None:
    facts = store.read(handed_over.parent, "case").facts
    keys = [fact.public_key for fact in facts if isinstance(fact, CaseOpened | CaseResumed)]
    assert len(set(keys)) == 2
    assert verify(handed_over, expected_keys=keys).problems == ()
    for key, (one, other) in zip(keys, (("7 to 7", keys[1]), ("1 to 6", keys[0])), strict=True):
        (problem,) = verify(handed_over, expected_keys=[key]).problems
        assert str(problem) == f"facts {one} are vouched for by another key, {other}"


@pytest.mark.parametrize("forged", ["", "00" * 64, "by the second key"])
def test_who_goes_on_with_what_the_key_before_did_not_sign_is_reported(handed_over: Path, forged: str) -> None:
    facts = store.read(handed_over.parent, "case").facts
    resumed = facts[-1]
    assert isinstance(resumed, CaseResumed)
    if forged == "by the second key":
        before = linked(facts[:-1])[-1]
        forged = signer().head("case", before.seq, before.sha256).signature
    write_anew(handed_over, [*facts[:-1], resumed.model_copy(update={"signature_before": forged})], signer())
    report = verify(handed_over)
    assert report.first_broken == 7
    assert "the previous key did not sign" in str(report.problems[0])


def test_the_second_key_cannot_change_what_the_first_vouched_for(handed_over: Path) -> None:
    facts = store.read(handed_over.parent, "case").facts
    write_anew(handed_over, changed(facts, 3, lambda fact: logged(2, 30)), signer())
    memory_path().unlink()
    assert verify(handed_over).first_broken == 7


# ---- while somebody writes -----------------------------------------------------------------------------------------


def test_a_case_verifies_at_any_moment_while_it_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the writer adds between two looks at the file is no tampering."""
    path = make(tmp_path)
    with store.resume(tmp_path, "case") as case:
        facts = [*case.facts()]

        def write_meanwhile(text: str) -> dict[str, object]:
            fact = logged(len(facts) - 2, 30).model_copy(update={"logged_at": at(10)})
            if len(facts) < 30:
                facts.append(fact)
                case.append([fact], fold(facts).summary)
            return parsed(text)

        monkeypatch.setattr("log.store.verify.parsed", write_meanwhile)
        report = verify(path)
    assert report.problems == ()
    assert len(facts) > report.facts == 6


# ---- what no writer goes on with -----------------------------------------------------------------------------------


def test_a_case_of_two_names_is_written_under_neither_and_read_under_both(tmp_path: Path) -> None:
    path = make(tmp_path)
    (tmp_path / "other.case").hardlink_to(path)
    for name in ("case", "other"):
        assert len(store.read(tmp_path, name).facts) == 6
        with pytest.raises(StoreError, match="has another name too"):
            store.resume(tmp_path, name)
    (tmp_path / "other.case").unlink()
    (tmp_path / "other.case").symlink_to(path)
    with store.resume(tmp_path, "other") as case, pytest.raises(StoreError, match="another program is writing"):
        assert case.path == path
        store.resume(tmp_path, "case")


def test_a_case_that_lacks_a_line_is_refused_to_every_writer_in_one_line(tmp_path: Path) -> None:
    struck = EntryStruck(logged_at=at(4), said_at=at(4), number=3, reason="x", origin=Origin(author="scribe"))
    first = opened(definition=load("three-lumen").text)
    with store.create(tmp_path, first) as case:
        facts = [*body()[:-1], struck]
        case.append(facts, fold([first, *facts]).summary)
    tamper(case.path, "DELETE FROM facts WHERE seq = 2")
    with pytest.raises(InputError, match="the log has no line 3 - check it with: tamponade verify"):
        resume(tmp_path, "case", TYPED, "operator", at(9))
    store.resume(tmp_path, "case").close()
