"""Many cases compared: the one SQL file against the record and the course of each case, and what comes from outside."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from log.basics.entry import Entry, Question, Understood
from log.basics.errors import TamponadeError
from log.basics.patterns import LEVELS
from log.definition.procedure import Procedure
from log.exports.deidentify import deidentified
from log.exports.jsonl import as_jsonl
from log.exports.review import Plain, review
from log.exports.review import duckdb as on_duckdb
from log.exports.review.engine import Facts, Tables, sql
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseOpened,
    ClockCorrected,
    EntryAmended,
    EntryLogged,
    EntryStruck,
    Fact,
    QuestionAnswered,
)
from log.facts.line import Line
from log.facts.record import fold
from log.rules.course import course_of
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.scribe.session import TYPED
from tests.any_case import CASES, Action, facts_played
from tests.cases import BEGAN, SIGNER, case_of, definition, opened, whole_of
from tui.cli import main

duckdb = pytest.importorskip("duckdb")

HOUR = timedelta(hours=1)
HOSTILE = "a'b\"; DROP TABLE review; -- *[x]?{y}"


def procedure() -> Procedure:
    return definition()[0].procedure


def exported(folder: Path, facts: Sequence[Fact], name: str = "") -> Path:
    assert isinstance(facts[0], CaseOpened)
    folder.mkdir(exist_ok=True, parents=True)
    path = folder / f"{name or facts[0].case}.jsonl"
    path.write_text(as_jsonl(whole_of(facts)), encoding="utf-8")
    return path


def by_hand(facts: Sequence[Fact]) -> Plain:
    """What the review should say of a case, from the record and the course alone."""
    record = fold(facts)
    assert record.opened is not None
    standing = record.standing
    tube_in = _first(record.standing, lambda e: e.kind == "tube" and e.value == "in")
    asked = _first(standing, lambda e: e.kind == "xray" and e.value in ("requested", "taken"))
    confirmed = _first(standing, lambda e: e.kind == "xray" and e.value == "confirmed")
    air = oesophageal = of_tubes_before = since = in_since = None
    dwell, tubes = timedelta(0), 0
    steps = course_of(procedure(), replace(record, lines=standing)).steps  # air that was only asked about is none here
    for step in steps:
        now = step.line.said_at
        if air is None and _is_gastric_air(step.entry):
            air = now
        before, after = step.before.balloon("oesophageal"), step.after.balloon("oesophageal")
        out = step.entry.kind == "tube" and step.entry.value == "out"
        if step.after.tube_in and not step.before.tube_in:  # air from before was for a test
            oesophageal, since = of_tubes_before, None
        elif since is not None and (out or not after.up):
            oesophageal, since = max(oesophageal or timedelta(0), now - since), None
        elif since is None and not out and (after.volume > before.volume or (after.said_up and not before.said_up)):
            since = now
        of_tubes_before = oesophageal if out else of_tubes_before
        if step.after.tube_in and in_since is None:
            in_since, tubes = now, tubes + 1
        elif in_since is not None and not step.after.tube_in:
            dwell, in_since = dwell + (now - in_since), None
    end = standing[-1].said_at if standing else BEGAN
    if since is not None:
        oesophageal = max(oesophageal or timedelta(0), end - since)
    if in_since is not None:
        dwell += end - in_since
    start = tube_in or record.opened.logged_at
    raised = [found.raised.level for found in record.findings]
    still = [found.level for found in record.open_findings]
    gaps = [fact.seconds for fact in facts if isinstance(fact, CaptureGap)]
    tube_spoken_of = any(step.entry.kind == "tube" and step.entry.value in ("in", "out") for step in steps)
    return {
        "case": record.opened.case,
        "began": record.opened.logged_at.isoformat(),
        "counted_from": "tube in" if tube_in else "opening",
        "to_gastric_s": _seconds(start, air),
        "to_xray_s": _seconds(start, confirmed),
        "xray_delay_s": _seconds(asked, confirmed) if asked and confirmed and asked <= confirmed else None,
        "tubes": tubes,
        "dwell_s": dwell.total_seconds() if tube_in else None,
        "still_in": in_since is not None if tube_spoken_of else None,
        "oesophageal_s": oesophageal.total_seconds() if oesophageal is not None else None,
        **{f"{level}_raised": raised.count(level) for level in LEVELS},
        **{f"{level}_open": still.count(level) for level in LEVELS},
        "answered": sum(isinstance(fact, QuestionAnswered) for fact in facts),
        "amended": sum(isinstance(fact, EntryAmended) for fact in facts),
        "struck": sum(isinstance(fact, EntryStruck) for fact in facts),
        "late": sum(isinstance(fact, EntryLogged) and fact.late_reason != "" for fact in facts),
        "not_confirmed": sum(line.status == "asked" for line in record.lines),
        "gaps": len(gaps),
        "gap_s": pytest.approx(sum(gaps)),
        **_registry(standing, tube_in, end),
        "site": None,
        "month": f"{record.opened.logged_at:%Y-%m}",
    }


DEFINITIVE = ("endoscopy", "shunt", "stent", "surgery", "transfer", "no further treatment")


def _registry(standing: Sequence[Line], tube_in: datetime | None, end: datetime) -> Plain:
    def last(kind: str, *values: str, until: datetime = end) -> str | None:
        lines = [li.entry.value for li in standing if li.entry.kind == kind and li.said_at <= until]
        words = [value for value in lines if isinstance(value, str) and (not values or value in values)]
        return words[-1] if words else None

    bleeding = [line.entry.value for line in standing if line.entry.kind == "bleeding"]
    troubles = {line.entry.detail for line in standing if line.entry.kind == "trouble" and line.entry.detail}
    day = tube_in + timedelta(days=1) if tube_in else None
    control = last("bleeding", until=day) if day is not None and end >= day else None
    again = [
        now == "restarted" or (before, now) == ("stopped", "continuing") for before, now in pairwise(["", *bleeding])
    ]
    return {
        "indication": last("indication"),
        "therapy": last("decision", *DEFINITIVE),
        "controlled_24h": control == "stopped" if control is not None else None,
        "rebled": any(again) if bleeding else None,
        "complications": "; ".join(sorted(troubles)) or None,
        "outcome": last("outcome"),
    }


def test_what_a_registry_asks_for_is_in_the_row(tmp_path: Path) -> None:
    said = (
        (0, "indication gastric varices"),
        (10, "tube in"),
        (20, "bleeding stopped"),
        (30, "stridor"),
        (40, "capnography lost"),
        (50, "stridor"),
        (60, "decision oesophageal balloon"),
        (70, "decision shunt"),
        (86_409, "bleeding again"),
        (86_411, "outcome transferred"),
    )
    case = case_of(*said)
    path = tmp_path / "one.jsonl"
    path.write_text(as_jsonl(case), encoding="utf-8")
    [row] = review([path]).cases
    assert row["indication"] == "gastric varices" and row["therapy"] == "shunt" and row["outcome"] == "transferred"
    assert row["complications"] == "capnography lost; stridor"
    assert row["controlled_24h"] is False and row["rebled"] is True
    path.write_text(as_jsonl(case_of((0, "tube in"), (9, "bleeding stopped"))), encoding="utf-8")
    [early] = review([path]).cases
    assert early["controlled_24h"] is None and early["rebled"] is False and early["therapy"] is None


def _first(lines: Sequence[Any], fits: Callable[[Entry], bool]) -> datetime | None:
    return next((line.said_at for line in lines if fits(line.entry)), None)


def _seconds(start: datetime | None, end: datetime | None) -> float | None:
    return (end - start).total_seconds() if start is not None and end is not None else None


def _is_gastric_air(entry: Entry) -> bool:
    some = entry.kind in ("volume_in", "volume_total") and bool(entry.number)
    return entry.site in ("gastric", "both") and (some or (entry.kind == "balloon" and entry.value != "down"))


def compared(found: Plain) -> Plain:
    return {name: value for name, value in found.items() if name != "file"}


@pytest.mark.slow
@given(st.lists(CASES, min_size=2, max_size=4))
@settings(deadline=None, max_examples=5)
def test_the_sql_says_what_the_record_and_the_course_say(
    tmp_path_factory: pytest.TempPathFactory, drawn: list[list[Action]]
) -> None:
    folder = tmp_path_factory.mktemp("exports")
    begun = [opened(case=f"case-{n}", label="") for n in range(len(drawn))]
    cases = {first.case: facts_played(procedure(), actions, first) for actions, first in zip(drawn, begun, strict=True)}
    result = review([exported(folder, facts) for facts in cases.values()])
    assert not result.unusable
    assert not result.left_out
    assert {case["case"]: compared(case) for case in result.cases} == {
        name: by_hand(facts) for name, facts in cases.items()
    }
    assert result.of_all["cases"] == len(cases)
    without = [exported_without_identity(folder, facts) for facts in cases.values()]
    dates = {"case": None, "began": "2026", "month": "2026"}
    assert sorted((compared(case) for case in review(without).cases), key=str) == sorted(
        ({**compared(case), **dates} for case in result.cases), key=str
    ), "without dates the same"


def exported_without_identity(folder: Path, facts: Sequence[Fact]) -> Path:
    assert isinstance(facts[0], CaseOpened)
    path = folder / f"without {facts[0].case}.jsonl"
    path.write_text(as_jsonl(deidentified(whole_of(facts))[0]), encoding="utf-8")
    return path


# ---- one case that can be worked out in the head ----------------------------------------------------------------


def watch(name: str = "night", label: str = "") -> list[Fact]:
    """Tube in at 1 min, air at 4, film at 5 and 9, confirmed at 15, oesophageal up from 20 to 50, tube out at 60."""
    facts: list[Fact] = [opened(case=name, label=label)]
    for number, (minute, entry) in enumerate(
        (
            (1, Entry(kind="tube", value="in")),
            (4, Entry(kind="volume_in", site="gastric", value=50, unit="mL")),
            (5, Entry(kind="xray", value="requested")),
            (9, Entry(kind="xray", value="taken")),
            (15, Entry(kind="xray", value="confirmed")),
            (20, Entry(kind="pressure", site="oesophageal", value=30, unit="mmHg")),
            (50, Entry(kind="balloon", site="oesophageal", value="down")),
            (60, Entry(kind="tube", value="out")),
        ),
        start=1,
    ):
        at = BEGAN + timedelta(minutes=minute)
        facts.append(
            EntryLogged.model_validate(
                {"logged_at": at, "said_at": at, "number": number, "entry": entry, "origin": {"heard": "as said"}}
            )
        )
    return [*facts, CaseClosed(logged_at=BEGAN + timedelta(hours=2), reason="end of typing")]


EXPECTED = {
    "counted_from": "tube in",
    "to_gastric_s": 180.0,
    "to_xray_s": 840.0,
    "xray_delay_s": 600.0,
    "dwell_s": 3540.0,
    "still_in": False,
    "oesophageal_s": 1800.0,
}


def test_a_case_that_can_be_worked_out_in_the_head(tmp_path: Path) -> None:
    (case,) = review([exported(tmp_path, watch())]).cases
    assert {name: case[name] for name in EXPECTED} == EXPECTED


def test_air_that_was_only_asked_about_is_none_and_two_tubes_are_one_row(tmp_path: Path) -> None:
    """First tube in from 10 to 1,000 s, oesophageal balloon up from 100 to 400; second from 2,000 to 2,600, up from
    2,100 to 2,600. The open question at 60 s is about air that nobody confirmed."""
    maybe = Question(
        candidates=tuple(Entry(kind="volume_in", site="oesophageal", value=v, unit="mL") for v in (15, 50)),
        why="sound alike",
        text="15 and 50 sound alike",
    )
    case = case_of(
        (10, "tube in"),
        (60, maybe),
        (100, "oesophageal four zero in"),
        (400, "oesophageal balloon down"),
        (1_000, "tube out"),
        (2_000, "tube in"),
        (2_100, "oesophageal four zero in"),
        (2_200, "blood pressure nine zero over six zero"),
        (2_201, "scratch that"),
        (2_202, "put it back"),
        (2_600, "tube out"),
        (2_601, "scratch that"),
        (2_602, "put it back"),
    )
    row = review([exported(tmp_path, [link.fact for link in case.links])]).cases[0]
    assert (row["tubes"], row["dwell_s"], row["oesophageal_s"]) == (2, 990 + 600, 500)
    assert (row["not_confirmed"], row["struck"], row["still_in"]) == (1, 2, False)


def test_a_corrected_clock_moves_the_rows(tmp_path: Path) -> None:
    """The watch began an hour too early by its clock; what was logged after the correction is on the right one."""
    facts = watch()
    later = BEGAN + timedelta(hours=3)
    corrected = ClockCorrected(logged_at=later, by_s=3600, moves=len(facts), reason="slow", author="scribe")
    again = EntryLogged.model_validate(
        {"logged_at": later, "said_at": later, "number": 9, "entry": {"kind": "tube", "value": "in"}, "origin": {}}
    )
    end = again.model_copy(update={"number": 10, "said_at": later + HOUR, "logged_at": later + HOUR})
    result = review([exported(tmp_path, [*facts, corrected, again, end])])
    assert not result.unusable
    [row] = result.cases
    assert row["began"] == "2026-10-04T15:00:00+02:00"
    assert {name: row[name] for name in EXPECTED} == EXPECTED | {"dwell_s": 3540 + 3600, "still_in": True}


# ---- the recipe in the file's own header --------------------------------------------------------------------------


def recipe() -> str:
    """The statement that the header gives to choose folders."""
    found = re.search(r'-cmd "(SET VARIABLE facts = .*?)" -cmd ".read facts.sql" -f review\.sql', sql("facts"))
    assert found is not None
    return found[1]


@pytest.mark.parametrize("choose", ["", recipe()], ids=["in the folder", "chosen folders"])
def test_duckdb_alone_runs_the_file_on_exports(choose: str, tmp_path: Path) -> None:
    folders = ("north", "south") if choose else ("",)
    for folder in folders:
        exported(tmp_path / folder, watch(f"{folder}night"), "night")
    rows = alone(tmp_path, choose)
    ours = review([tmp_path / folder / "night.jsonl" for folder in folders]).cases
    assert [{**row, "file": ""} for row in rows] == [{**case, "file": ""} for case in ours]
    assert [Path(row["file"]).parent.name for row in rows] == list(folders)


def alone(folder: Path, choose: str) -> list[Plain]:
    """The review by DuckDB's own command line where it is installed, else by its Python module; nothing of ours."""
    facts, file = (str(Path(on_duckdb.__file__).with_name(f"{name}.sql")) for name in ("facts", "review"))
    if shutil.which("duckdb"):
        command = ["duckdb", "-json", *(["-cmd", choose] if choose else []), "-cmd", f".read {facts}", "-f", file]
    else:
        program = (
            "import duckdb, json, sys; c = duckdb.connect(); c.execute(sys.argv[1] or 'SELECT 1'); "
            "[c.execute(open(file).read()).fetchall() for file in sys.argv[2:]]; "
            "r = c.sql('SELECT * EXCLUDE (label) FROM review'); "
            "print(json.dumps([dict(zip(r.columns, row)) for row in r.fetchall()]))"
        )
        command = [sys.executable, "-I", "-c", program, choose, facts, file]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True, timeout=60)
    rows, _ = json.JSONDecoder().raw_decode(done.stdout)
    return [{**row, "file": row["file"] if os.sep in row["file"] else f"/{row['file']}"} for row in rows]


# ---- what comes from outside --------------------------------------------------------------------------------------


def test_two_files_of_the_same_case_are_one(tmp_path: Path) -> None:
    facts = watch()
    older, newer = exported(tmp_path, facts[:5], "older"), exported(tmp_path, facts, "newer")
    for order in ([older, newer], [newer, older]):
        result = review(order)
        assert [case["file"] for case in result.cases] == [str(newer)]
        assert len(result.left_out) == 1
        assert result.left_out[0].startswith(f"{older}: the same case as {newer}")


@pytest.mark.parametrize("without", [False, True], ids=["whole", "without identity"])
@pytest.mark.parametrize(
    ("line", "instead"),
    [(3, "{"), (3, "[]"), (3, '{"fact": "x", "seq": 2}'), (3, None), (4, "\ud800"), (4, '{"seq": 3}')],
)
def test_a_broken_line_is_named_and_does_not_keep_the_others_out(
    without: bool, line: int, instead: str | None, tmp_path: Path
) -> None:
    whole_one = exported(tmp_path, watch("good"))
    broken = (exported_without_identity if without else exported)(tmp_path, watch("bad"))
    lines = broken.read_text(encoding="utf-8").splitlines()
    lines[line - 1 : line] = [] if instead is None else [instead]
    broken.write_bytes("".join(f"{text}\n" for text in lines).encode(errors="surrogatepass"))
    result = review([broken, whole_one])
    assert [case["case"] for case in result.cases] == ["good"]
    (told,) = result.unusable
    assert str(broken) in str(told)
    assert re.search(rf"line {line}\b|UTF-8", str(told)), told


@pytest.mark.parametrize("number", [0, 9, 10**30, -1])
def test_a_fact_about_a_line_that_is_not_there_is_named(number: int, tmp_path: Path) -> None:
    path = exported_without_identity(tmp_path, watch())
    raised = {"fact": "finding_raised", "logged_at": "PT7200.000S", "rule": "x", "number": number, "level": "high"}
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps({**raised, "message": "", "source": "", "seq": 11}) + "\n")
    (told,) = review([path]).unusable
    assert "fact 11 is about a line that is not there" in str(told)


def test_nothing_but_what_is_needed_gets_as_far_as_duckdb(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []

    def look(facts: Facts, url: str) -> Tables:
        seen.extend(path.read_text() for path in sorted(facts.folder.glob("*.jsonl")))
        assert facts.folder.stat().st_mode & 0o77 == 0
        return tables(facts, url)

    tables = on_duckdb.tables
    monkeypatch.setattr(on_duckdb, "tables", look)
    review([exported(tmp_path, watch())])
    assert "volume_in" in seen[0]
    for text in ("as said", "cautions", "definition", "signature", SIGNER.public_key):
        assert text not in seen[0]


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM read_text('{outside}')",
        "COPY (SELECT 1) TO '{outside}.csv'",
        "ATTACH '{outside}.db'",
        "SELECT * FROM read_text('https://example.invalid/x')",
        "INSTALL httpfs",
        "LOAD httpfs",
        "SET enable_external_access = true",
    ],
)
def test_duckdb_gets_no_further_than_its_folder(
    statement: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_text("x")
    monkeypatch.setattr(on_duckdb, "sql", lambda name: statement.format(outside=outside))
    with pytest.raises(TamponadeError, match="DuckDB failed"):
        review([exported(tmp_path, watch())])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["night.jsonl", "outside.txt"]


# ---- the command --------------------------------------------------------------------------------------------------


Ran = tuple[int, str, str]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    def ran(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["tamponade", "review", *map(str, arguments)])
        capsys.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0
        return (code, *capsys.readouterr())

    return ran


def kept(folder: Path, name: str, encrypt: bool = False) -> Path:
    session = open_case(folder, name, load("three-lumen"), TYPED, Keeping(label="bay 4", encrypt=encrypt), BEGAN)
    at = Understood(items=(Entry(kind="volume_in", site="gastric", value=50, unit="mL"),))
    session.take(at, 60, 60, watch()[1].origin)  # type: ignore[union-attr]
    session.close(90, "end of typing")
    return session.case.path


def test_a_folder_of_cases_and_exports_is_a_table(run: Callable[..., Ran], tmp_path: Path) -> None:
    kept(tmp_path, "evening")
    exported(tmp_path, watch(label="[bold]bay[/] 5"))
    code, out, err = run(tmp_path)
    assert (code, err) == (0, "")
    assert re.search(r"night +2026-10-04 14:00 +0:03:00 +0:14:00 +0:10:00 +0:59:00 +0:30:00", out)
    assert re.search(r"evening +2026-10-04 14:00 +0:01:00o ", out)
    assert re.search(r"2 cases +0:02:00 ", out), "the median"
    assert "bay" not in out
    assert "[bold]bay[/] 5" in run(tmp_path, "--label")[1]


def test_the_rows_as_csv_json_and_parquet(run: Callable[..., Ran], tmp_path: Path) -> None:
    exported(tmp_path, watch(label="=1+1"))
    target = tmp_path / HOSTILE
    code, out, err = run(tmp_path, "--json", "--label", "--parquet", target)
    assert (code, err) == (0, "")
    said = json.loads(out)
    assert said["cases"][0] | EXPECTED == said["cases"][0]
    assert said["all"]["dwell_s"] == EXPECTED["dwell_s"]
    parquet = duckdb.connect().read_parquet(str(copied(target)))
    assert [dict(zip(parquet.columns, row, strict=True)) for row in parquet.fetchall()] == said["cases"]
    assert target.stat().st_mode & 0o77 == 0
    (row,) = csv.DictReader(io.StringIO(run(tmp_path, "--csv", "--label")[1], newline=""))
    assert row["label"] == "'=1+1", "no spreadsheet calculates it"
    assert float(row["to_gastric_s"]) == 180
    assert "label" not in json.loads(run(tmp_path, "--json")[1])["cases"][0]
    assert run(tmp_path, "--json", "--csv")[0] == 2


def copied(path: Path) -> Path:
    return Path(shutil.copy(path, path.with_name("copy.parquet")))


def test_hostile_names_and_labels_are_only_text(
    run: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    temporary = tmp_path / "t'm; p"
    temporary.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    folder = tmp_path / HOSTILE
    path = exported(folder, watch(label="x\x1b[2J\x00'; DROP TABLE review; --"), HOSTILE)
    exported_without_identity(folder, watch(label="y"))
    code, out, err = run(folder, "--json", "--label")
    assert (code, err) == (0, "")
    cases = {case["file"]: case["label"] for case in json.loads(out)["cases"]}
    assert cases[str(path)] == "x\x1b[2J\x00'; DROP TABLE review; --"
    code, out, _ = run(folder, "--label")
    assert code == 0
    assert "\x1b[2J" not in out
    assert list(temporary.iterdir()) == [], "nothing is left behind"


def test_what_cannot_be_used_is_named_and_the_exit_code_says_so(run: Callable[..., Ran], tmp_path: Path) -> None:
    exported(tmp_path, watch())
    (tmp_path / "torn.jsonl").write_text('{"format": "tamponade-log facts", "version": 2, "cautions": []}\n')
    (tmp_path / "damaged.case").write_bytes(b"SQLite format 3\0" + bytes(99))
    kept(tmp_path, "ours")
    code, out, err = run(tmp_path)
    assert code == 3
    assert err.count("\n") == 2
    assert "torn.jsonl: breaks off" in err
    assert "damaged.case" in err
    assert "night" in out
    assert "ours" in out
    assert run(tmp_path / "torn.jsonl")[:2] == (3, "")


def test_an_encrypted_case_needs_its_passphrase(
    run: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("sqlcipher3")
    monkeypatch.setenv("TAMPONADE_PASSPHRASE", "open sesame")
    path = kept(tmp_path, "hidden", encrypt=True)
    assert "hidden" in run(path)[1]
    monkeypatch.delenv("TAMPONADE_PASSPHRASE")
    code, _, err = run(path)
    assert code == 3
    assert "TAMPONADE_PASSPHRASE_FILE" in err


def test_an_empty_folder_and_a_folder_that_is_not_there(run: Callable[..., Ran], tmp_path: Path) -> None:
    code, out, err = run(tmp_path)
    assert (code, out) == (3, "")
    assert "no cases and no exports here" in err
    assert run(tmp_path / "none")[0] == 3
    assert run()[0] == 3, "nor are there any on this machine"


def test_without_duckdb_it_says_how_to_get_it(
    run: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exported(tmp_path, watch())
    monkeypatch.setitem(sys.modules, "log.exports.review.duckdb", None)
    code, out, err = run(tmp_path)
    assert (code, out) == (TamponadeError.exit_code, "")
    assert "pip install 'tamponade-log[review]'" in err
