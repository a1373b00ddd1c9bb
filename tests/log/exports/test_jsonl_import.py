"""A case goes from one machine to another as JSON Lines and is the same case there, or is refused with the line."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from log.basics.entry import Entry, NotUnderstood, Question, Understood
from log.basics.errors import IncompleteInput, InputError, TamponadeError
from log.exports.jsonl import as_jsonl
from log.exports.jsonl_import import import_case, read_jsonl
from log.facts.events import CaptureGap, CaseClosed, EntryStruck
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.definitions import load
from log.scribe.correct import Correction
from log.scribe.opening import Keeping, open_case, resume
from log.scribe.session import TYPED, Session
from log.store import case as store
from log.store.chain import linked
from log.store.keys import signer
from log.store.verify import verify
from log.summaries.whole import whole

BEGAN = datetime(2026, 3, 4, 2, 0, tzinfo=UTC)
IN_FORCE = load("three-lumen")

NUMBERS = st.integers(0, 700) | st.floats(0, 700, allow_nan=False).map(lambda value: round(value, 3))
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
ENTRIES = st.builds(
    Entry,
    kind=st.sampled_from(["volume_in", "volume_out", "pressure", "depth", "traction", "aspirate"]),
    site=st.sampled_from([None, "gastric", "oesophageal", "both"]),
    value=NUMBERS,
    unit=st.sampled_from(["mL", "mmHg", "cm", "kg"]),
    detail=st.none() | TEXT,
)
SAID = (
    ENTRIES.map(lambda entry: Understood(items=(entry,)))
    | st.lists(ENTRIES, min_size=2, max_size=2).map(
        lambda two: Understood(items=(Question(candidates=tuple(two), why="sound alike", text="sound alike"),))
    )
    | st.sampled_from([Understood(items=(Entry(kind=kind),)) for kind in ("confirm", "undo")])
    | TEXT.map(lambda words: NotUnderstood(heard=words))
)


def begun(folder: Path, name: str = "night") -> Session:
    return open_case(folder, name, IN_FORCE, TYPED, Keeping(label="bay 4"), BEGAN)


def exported(folder: Path, name: str = "night") -> str:
    return as_jsonl(whole(store.read(folder, name)))


def a_case(folder: Path, entries: int = 3) -> str:
    """A case with some entries, and its export."""
    session = begun(folder)
    for number in range(entries):
        entry = Entry(kind="pressure", site="oesophageal", value=20 + number, unit="mmHg")
        session.take(Understood(items=(entry,)), number, number + 1, Origin(heard="as said", author="Zoë"))
    session.close(60, "end of typing")
    return exported(folder)


@pytest.mark.slow
@given(st.lists(st.tuples(SAID, TEXT), max_size=8), st.booleans())
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_an_imported_case_is_the_same_case(
    tmp_path_factory: pytest.TempPathFactory, said: list[tuple[Understood | NotUnderstood, str]], closed: bool
) -> None:
    """Same lines, same head, same record, and the export of the import is the export."""
    here, there = tmp_path_factory.mktemp("here"), tmp_path_factory.mktemp("there")
    session = begun(here)
    for second, (meaning, heard) in enumerate(said):
        session.take(meaning, second, second + 0.5, Origin(by="typed", heard=heard))
    if session.record.lines and session.record.line(1).status != "struck":
        session.strike(1, Correction("scribe", "why", BEGAN + timedelta(minutes=1)))
    if closed:
        session.close(70, "end of typing")
    else:
        session.case.close()
    text = exported(here)
    path = there / "x.jsonl"
    path.write_text(text, encoding="utf-8", newline="")

    imported = import_case(there, path)

    ours, theirs = store.read(here, "night"), store.read(there, "night")
    assert imported.outcome == "new"
    assert theirs.head == ours.head
    assert [link.text for link in theirs.links] == [link.text for link in ours.links]
    assert fold(theirs.facts) == fold(ours.facts)
    assert store.summary(imported.path) == store.summary(ours.path)
    assert exported(there) == text
    assert verify(imported.path).problems == ()


def test_an_import_can_be_gone_on_with_and_verifies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the other machine another key vouches for what comes after."""
    path = tmp_path / "x.jsonl"
    path.write_text(a_case(tmp_path / "here"), encoding="utf-8")
    theirs = signer().public_key
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "other-key"))
    import_case(tmp_path / "there", path, word_for=[theirs])
    session = open_case(tmp_path / "there", "night", IN_FORCE, TYPED, Keeping(), BEGAN + timedelta(hours=1))
    session.close(1, "end of typing")
    report = verify(session.case.path)
    assert report.problems == ()
    keys = {getattr(fact, "public_key", None) for fact in store.read(tmp_path / "there", "night").facts} - {None}
    assert len(keys) == 2


def test_importing_twice_changes_nothing_and_a_longer_export_adds(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    path.write_text(a_case(tmp_path / "here"), encoding="utf-8")
    assert import_case(tmp_path / "there", path).outcome == "new"
    assert import_case(tmp_path / "there", path).outcome == "known"
    session = open_case(tmp_path / "here", "night", IN_FORCE, TYPED, Keeping(), BEGAN + timedelta(hours=1))
    session.close(1, "end of typing")
    path.write_text(exported(tmp_path / "here"), encoding="utf-8")
    longer = import_case(tmp_path / "there", path)
    assert (longer.outcome, longer.facts) == ("longer", 2)
    assert exported(tmp_path / "there") == exported(tmp_path / "here")
    assert verify(longer.path).problems == ()


def test_two_different_cases_of_one_name_are_not_mixed(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    path.write_text(a_case(tmp_path / "here"), encoding="utf-8")
    before = a_case(tmp_path / "there", entries=1)
    with pytest.raises(InputError, match="fact 3 is not the one that case night has here"):
        import_case(tmp_path / "there", path)
    assert exported(tmp_path / "there") == before


def broken(text: str) -> dict[str, tuple[str, str]]:
    """What can have happened to an export, and how it is reported."""
    lines = text.splitlines(keepends=True)
    head = json.loads(lines[-1])["head"]

    def put(number: int, line: str) -> str:
        return "".join([*lines[: number - 1], line, *lines[number:]])

    return {
        "a changed value": (text.replace('"value":21', '"value":31'), "line 4: fact 3: "),
        "a line left out": ("".join([*lines[:2], *lines[3:]]), "line 3: fact 2: "),
        "lines swapped": ("".join([*lines[:2], lines[3], lines[2], *lines[4:]]), "line"),
        "no end": ("".join(lines[:-1]), "the signed head at its end is missing"),
        "cut in the middle": (text[: len(text) // 2], "the signed head at its end is missing"),
        "a shorter chain under the old head": ("".join([*lines[:-2], lines[-1]]), "the head signs"),
        "another head": (put(len(lines), json.dumps({"head": {**head, "facts": head["facts"] - 1}})), "signature"),
        "not JSON": (put(3, "gastric in fifty\n"), "line 3: Expecting value"),
        "an array": (put(3, "[]\n"), "line 3: not a JSON object"),
        "nested without end": (put(3, "[" * 100_000 + "\n"), "line 3:"),
        "another file": ("gastric in fifty\n", "not the facts of a case"),
        "nothing": ("", "not the facts of a case"),
        "another version": (put(1, '{"format": "tamponade-log facts", "version": 9}\n'), "version 9, wanted 2"),
    }


@pytest.mark.parametrize("what", broken('{"head": {"facts": 1}}\n' * 6))
def test_a_file_that_was_changed_is_refused_with_its_line_and_nothing_is_kept(tmp_path: Path, what: str) -> None:
    text, told = broken(a_case(tmp_path / "here"))[what]
    path = tmp_path / "x.jsonl"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        import_case(tmp_path / "there", path)
    assert str(error.value).startswith(str(path))
    assert told in str(error.value)
    assert error.value.remedy
    assert not list((tmp_path / "there").glob("*.case*"))


def test_a_file_that_breaks_off_has_an_exit_code_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    path.write_text("".join(a_case(tmp_path / "here").splitlines(keepends=True)[:-1]), encoding="utf-8")
    with pytest.raises(IncompleteInput) as error:
        read_jsonl(path)
    assert error.value.exit_code == 4


@pytest.mark.parametrize("name", ["../outside", "a/b", "", ".hidden", "x" * 200, "night.case", "a\x00b"])
def test_the_name_in_a_file_cannot_lead_out_of_the_folder(tmp_path: Path, name: str) -> None:
    """A well-formed, well-signed file of somebody who means harm."""
    a_case(tmp_path / "here")
    first = store.read(tmp_path / "here", "night").facts[0]
    facts = [first.model_copy(update={"case": name}), CaseClosed(logged_at=BEGAN, reason="over")]
    links = linked(facts)
    head = signer().head(name, len(links), links[-1].sha256)
    opening = as_jsonl(whole(store.read(tmp_path / "here", "night"))).splitlines()[0]
    path = tmp_path / "x.jsonl"
    end = json.dumps({"head": head.model_dump()})
    path.write_text("\n".join([opening, *(link.text for link in links), end]), encoding="utf-8")
    with pytest.raises(TamponadeError):
        import_case(tmp_path / "there", path)
    assert sorted(p.name for p in tmp_path.iterdir() if p.name not in ("xdg_data_home",)) == ["here", "x.jsonl"]


def test_a_line_about_nothing_is_refused(tmp_path: Path) -> None:
    """Chained and signed, but it strikes a line that was never there."""
    text = a_case(tmp_path / "here", entries=0)
    facts = list(store.read(tmp_path / "here", "night").facts)
    facts.append(EntryStruck(logged_at=BEGAN + timedelta(hours=1), number=9, said_at=BEGAN, reason="", origin=Origin()))
    facts.append(CaptureGap(logged_at=BEGAN + timedelta(hours=1), began_at=BEGAN, seconds=1, reason=""))
    links = linked(facts)
    head = signer().head("night", len(links), links[-1].sha256)
    path = tmp_path / "x.jsonl"
    end = json.dumps({"head": head.model_dump()})
    path.write_text("\n".join([text.splitlines()[0], *(link.text for link in links), end]), encoding="utf-8")
    with pytest.raises(InputError, match="about a line that is not there"):
        import_case(tmp_path / "there", path)


def test_what_another_machine_signed_is_taken_with_its_key_only_and_known_from_then_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = open_case(tmp_path / "there", "night", IN_FORCE, TYPED, Keeping(), BEGAN)
    session.close(1.0, "end of typing")
    file = tmp_path / "night.jsonl"
    file.write_text(as_jsonl(whole(store.read(tmp_path / "there", "night"))), encoding="utf-8")
    theirs = signer().public_key
    monkeypatch.setenv("TAMPONADE_KEY", str(tmp_path / "another-key"))
    for word in ((), ("0" * 64,)):
        with pytest.raises(InputError, match=f"signed by another machine, with the key {theirs}"):
            import_case(tmp_path / "here", file, word_for=word)
    assert not (tmp_path / "here").exists()
    assert import_case(tmp_path / "here", file, word_for=[theirs.upper()]).outcome == "new"
    assert resume(tmp_path / "here", "night", TYPED, "scribe", BEGAN).doubts == ()
