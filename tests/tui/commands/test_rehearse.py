"""Whole rehearsals, typed by teams of which it is known what they forget, through the program as people run it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from log.exports.review.engine import sql
from log.facts.events import CaseOpened, EntryLogged, SimulationPlayed
from log.facts.simulation import MARK
from log.rehearsal.load import scenarios
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.log.rehearsal.teams import TEAMS, team
from tests.tui.conftest import Run, recording

PERFECT = team(next(path for path in TEAMS if path.stem == "straightforward-perfect"))


def rehearsed(run: Run, cases: Path, scenario: str, script: str, name: str = "night-1") -> dict[str, Any]:
    """The score of a run."""
    ran = run("rehearse", scenario, "--plain", "--json", "--cases", cases, "--case", name, stdin=script)
    assert ran.code == 0, ran
    found = json.loads(ran.out)
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("path", TEAMS, ids=lambda path: path.stem)
def test_the_score_of_a_team_is_the_one_that_was_worked_out(path: Path, tmp_path: Path, run: Run) -> None:
    expected = team(path)
    found = rehearsed(run, tmp_path, expected.scenario, expected.script)
    counts = {section["id"]: (section["kept"], section["of"]) for section in found["sections"]}
    not_kept = [
        (section["id"], line["about"])
        for section in found["sections"]
        for line in section["lines"]
        if line["kept"] is False
    ]
    assert (counts, sorted(not_kept)) == (expected.counts, sorted(expected.not_kept))
    assert found["played_to_its_end"]
    assert not verify(tmp_path / f"night-1{SUFFIX}").problems


def test_every_scenario_has_a_perfect_a_forgetful_and_a_wrong_order_team() -> None:
    wanted = {f"{name}-{how}" for name in scenarios() for how in ("perfect", "forgetful", "wrong-order")}
    assert {path.stem for path in TEAMS} == wanted


def test_a_run_comes_out_the_same_again_and_the_kept_case_has_the_same_score(tmp_path: Path, run: Run) -> None:
    first = rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script, "one")
    second = rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script, "two")
    again = json.loads(run("rehearse", PERFECT.scenario, "--score", "one", "--json", "--cases", tmp_path).done())
    assert again == first
    assert {**second, "case": "one"} == first
    facts = [
        [(f.fact, f.logged_at - kept[0].logged_at) for f in kept]
        for kept in (store.read(tmp_path, name).facts for name in ("one", "two"))
    ]
    assert facts[0] == facts[1]


def test_what_is_played_is_a_fact_in_its_place_and_no_entry(tmp_path: Path, run: Run) -> None:
    rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script)
    facts = store.read(tmp_path, "night-1").facts
    assert isinstance(facts[0], CaseOpened)
    assert facts[0].simulation == "straightforward"
    played = [fact for fact in facts if isinstance(fact, SimulationPlayed)]
    film = next(fact for fact in played if fact.event == "film")
    assert (film.said_at - facts[0].logged_at).total_seconds() == 145  # 20 s after the first air, said at 2:05
    assert sum(isinstance(fact, EntryLogged) for fact in facts) == 21
    assert [fact.said_at for fact in played] == sorted(fact.said_at for fact in played)


def test_the_lines_say_first_and_last_that_it_is_a_simulation_and_why_each_counts(tmp_path: Path, run: Run) -> None:
    out = run(
        "rehearse", "straightforward", "--plain", "--cases", tmp_path, stdin="00:10 airway secured\n01:00\n"
    ).done()
    assert out.startswith(MARK)
    assert out.count(MARK) >= 4
    assert ">> PLAYED: Bright red blood from the mouth." in out
    assert "The rehearsal was left before its end" in out
    assert "wanted entries logged: 1 of 16" in out
    assert 'NO  gastric leak test: not logged; say: "gastric balloon leak test passed"' in out
    assert "Not a medical device" in out


def test_without_a_scenario_the_shipped_ones_are_listed(run: Run) -> None:
    out = run("rehearse").done()
    assert MARK in out
    assert all(name in out for name in scenarios())


def test_a_recording_is_a_team_on_its_own_clock(tmp_path: Path, clip_pcm: bytes, ears_at_hand: None, run: Run) -> None:
    audio = recording(tmp_path / "team.wav", clip_pcm)
    ran = run(
        "rehearse", "misplaced", "--plain", "--json", "--audio", audio, "--lead-word", "none", "--cases", tmp_path
    )
    assert ran.code == 0, ran
    assert json.loads(ran.out)["played_to_its_end"] is False
    facts = store.read(tmp_path, json.loads(ran.out)["case"]).facts
    kinds = [fact.fact for fact in facts]
    assert kinds.index("simulation_played") < kinds.index("entry_logged")
    entry = next(fact for fact in facts if isinstance(fact, EntryLogged))
    assert (entry.entry.kind, entry.entry.value) == ("pressure", 20)


# ---- what cannot be used is one line ----------------------------------------------------------------------------


def test_an_unknown_scenario_names_the_shipped_ones(tmp_path: Path, run: Run) -> None:
    run("rehearse", "nowhere", "--plain", "--cases", tmp_path).refused(
        3, 'there is no scenario named "nowhere"', "misplaced"
    )
    assert not list(tmp_path.iterdir())


def test_a_broken_scenario_leaves_no_case_behind(tmp_path: Path, run: Run) -> None:
    broken = tmp_path / "mine.toml"
    broken.write_text('id = "mine"\ntitle = "Mine"\n')
    run("rehearse", broken, "--plain", "--cases", tmp_path / "cases").refused(3, "mine.toml: story: Field required")
    assert not (tmp_path / "cases").exists()


def test_a_rehearsal_never_goes_on_with_another_case(tmp_path: Path, run: Run) -> None:
    run("say", "--cases", tmp_path, "--case", "real-1", "tube passed").done()
    before = store.read(tmp_path, "real-1").links
    told = run("rehearse", "misplaced", "--plain", "--json", "--cases", tmp_path, "--case", "real-1", stdin="tube in\n")
    assert told.code == 3
    assert "there is a case real-1 already" in told.err
    assert store.read(tmp_path, "real-1").links == before


def test_a_case_is_only_counted_by_its_own_scenario(tmp_path: Path, run: Run) -> None:
    run("say", "--cases", tmp_path, "--case", "real-1", "tube passed").done()
    rehearsed(run, tmp_path, "misplaced", "00:10 airway secured\n", "sim-1")
    for name, told in (("real-1", "is no rehearsal"), ("sim-1", "was kept by misplaced")):
        run("rehearse", "straightforward", "--score", name, "--cases", tmp_path).refused(3, told)


def test_lines_that_go_back_in_time_are_refused_and_what_was_said_is_kept(tmp_path: Path, run: Run) -> None:
    script = "02:00 airway secured\n01:00 tube in\n"
    ran = run("rehearse", "misplaced", "--plain", "--json", "--cases", tmp_path, "--case", "a", stdin=script)
    assert ran.code == 3
    assert "the lines: line 2: 01:00 is before the line above - put the lines in order" in ran.err
    assert [f.fact for f in store.read(tmp_path, "a").facts].count("entry_logged") == 1


def test_a_simulation_is_told_apart_wherever_cases_are_listed_or_compared(tmp_path: Path, run: Run) -> None:
    pytest.importorskip("duckdb")
    rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script)
    assert MARK in run("cases", "--cases", tmp_path).done()
    assert MARK in run("show", "night-1", "--cases", tmp_path).done()
    assert run("watch", "night-1", "--cases", tmp_path).done().startswith(MARK)
    assert MARK in json.loads(run("watch", "night-1", "--json", "--cases", tmp_path).done())["simulation"]
    run("watch", "night-1", "--calendar", tmp_path / "x.ics", "--cases", tmp_path).refused(3, "have no reminders")
    assert f"a rehearsal: {MARK}" in run("review", tmp_path).err
    more = run("say", "--cases", tmp_path, "--case", "night-1", "tube secured").done()
    assert more.startswith(MARK), "whoever resumes it is shown the mark too"


def test_review_sql_alone_leaves_a_rehearsal_out_as_well(tmp_path: Path, run: Run) -> None:
    duckdb = pytest.importorskip("duckdb")
    rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script)
    run("say", "--cases", tmp_path, "--case", "real-1", "tube passed").done()
    for name, how in (("night-1", ()), ("night-1", ("--deidentify",)), ("real-1", ())):
        out = tmp_path / f"out{len(how)}"
        assert run("export", name, "--to", "jsonl", "--out", out, "--cases", tmp_path, *how).code == 0
    with duckdb.connect() as connection:
        connection.execute("SET VARIABLE facts = ?", [[f"{tmp_path}/out*/*.jsonl"]]).fetchall()
        for name in ("facts", "review"):
            connection.execute(sql(name)).fetchall()
        assert [row[0] for row in connection.sql('SELECT "case" FROM review').fetchall()] == ["real-1"]


def test_what_a_transfer_would_need_says_so_too(tmp_path: Path, run: Run) -> None:
    rehearsed(run, tmp_path, PERFECT.scenario, PERFECT.script)
    assert MARK in run("transfer", "night-1", "--altitude-ft", 8000, "--cases", tmp_path).done()
