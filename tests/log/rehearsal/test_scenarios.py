"""The shipped scenarios hang together, and what is wrong with another is reported in one line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from log.basics.entry import Entry
from log.basics.errors import InputError
from log.definition.procedure import Procedure
from log.rehearsal.hangs_together import BRACES, scenario_problems
from log.rehearsal.load import check_scenario, read_scenario, scenarios
from log.rehearsal.scenario import LONGEST_TOLD, Scenario
from log.state.tube import matches
from tests.cases import definition
from voice.meaning.matcher import one_entry

SHIPPED = [read_scenario(name) for name in scenarios()]


def procedure_of(scenario: Scenario) -> Procedure:
    return definition(scenario.procedure)[0].procedure


@pytest.mark.parametrize("scenario", SHIPPED, ids=lambda scenario: scenario.id)
def test_every_name_in_a_shipped_scenario_is_there(scenario: Scenario) -> None:
    assert not list(scenario_problems(scenario, procedure_of(scenario)))
    assert scenario.id in scenarios()


@pytest.mark.parametrize("scenario", SHIPPED, ids=lambda scenario: scenario.id)
def test_what_is_wanted_can_be_said_as_the_scenario_says(scenario: Scenario) -> None:
    """The example is understood by the true matcher as the entry that is wanted: "down" and air in any words."""
    _, phrases = definition(scenario.procedure)
    for wanted in scenario.wanted:
        entry = one_entry(phrases, wanted.say)
        assert any(matches(pattern, entry) for pattern in wanted.entry), (wanted.id, entry)


@pytest.mark.parametrize("scenario", SHIPPED, ids=lambda scenario: scenario.id)
def test_a_wanted_value_is_one_that_its_event_shows(scenario: Scenario) -> None:
    for wanted in scenario.wanted:
        event = scenario.event_named(wanted.shown) if wanted.shown else None
        if event is not None:
            shown = [Entry(kind=s.kind, site=s.site, value=s.value) for s in event.shows]
            kinds = {pattern.kind for pattern in wanted.entry}
            assert any(entry.kind in kinds for entry in shown), wanted.id


@pytest.mark.parametrize("scenario", SHIPPED, ids=lambda scenario: scenario.id)
def test_fixed_numbers_lie_within_the_limits_unless_the_scenario_says_so(scenario: Scenario) -> None:
    """The depth that is shown before the first air, and the working pressure that the patient is held at."""
    limits = procedure_of(scenario).limits
    depths = [s.value for e in scenario.event for s in e.shows if s.kind == "depth" and isinstance(s.value, float)]
    assert depths
    assert all(limits["insertion_depth"].broken_by(float(depth)) is None for depth in depths)
    moved = [e.sets.mark_cm for e in scenario.event if e.sets is not None and e.sets.mark_cm is not None]
    beyond = [m for m in moved if limits["mark_migration"].broken_by(abs(m - scenario.patient.mark_cm)) is not None]
    leaks = [e for e in scenario.event if e.sets is not None and e.sets.leak_mmhg_per_h]
    assert bool(beyond or leaks) == bool(scenario.beyond_limits)


@pytest.mark.parametrize("scenario", SHIPPED, ids=lambda scenario: scenario.id)
def test_a_shipped_scenario_says_that_it_is_invented_and_fits_on_the_narrowest_screen(scenario: Scenario) -> None:
    assert "invented" in scenario.story
    assert all(len(event.tell) <= LONGEST_TOLD for event in scenario.event)
    text = (Path(__file__).parents[3] / "log" / "rehearsal" / "scenarios" / f"{scenario.id}.toml").read_text()
    assert text.startswith("# ")
    assert "invented" in text.partition("\n\n")[0]


# ---- what is wrong with one ----------------------------------------------------------------------------------------


SOUND = """
id = "mine"
title = "Mine"
story = "An invented patient."
procedure = "three-lumen"
[patient]
mark_cm = 52
mmhg_per_ml = 0.8
[[event]]
id = "film"
after = { entry = { kind = "volume_in", site = "gastric" } }
tell = "X-ray is back, {bleeding}."
shows = [{ kind = "xray", value = "confirmed" }]
[[event]]
id = "end"
at = 60
tell = "End."
ends = true
[[wanted]]
id = "airway"
title = "airway"
entry = [{ kind = "airway", value = "secured" }]
say = "airway secured"
since = "film"
"""


def told(tmp_path: Path, text: str) -> str:
    """What is said of such a file."""
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(InputError) as error:
        scenario = read_scenario(str(path))
        check_scenario(str(path), scenario, procedure_of(scenario))
    assert "\n" not in str(error.value)
    assert str(error.value).startswith(f"{path}: ")
    return str(error.value).removeprefix(f"{path}: ")


def test_the_sound_one_is_sound(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(SOUND)
    scenario = read_scenario(str(tmp_path / "mine.toml"))
    check_scenario("mine", scenario, procedure_of(scenario))


def spoilt() -> Iterator[tuple[str, str, str]]:
    """What is replaced by what, and what is said of it."""
    yield (
        'kind = "volume_in", site = "gastric"',
        'kind = "volume"',
        "event[0].after.entry.kind: there is no kind of entry named",
    )
    yield 'site = "gastric"', 'site = "duodenal"', "event[0].after.entry.site: volume_in is never said with the site"
    yield (
        'entry = { kind = "volume_in", site = "gastric" }',
        'milestone = "x"',
        "event[0].after.milestone: the definition",
    )
    yield (
        'entry = { kind = "volume_in", site = "gastric" }',
        'event = "x"',
        'event[0].after.event: there is no event named "x"',
    )
    yield "{bleeding}", "{pulse}", 'event[0].tell: the patient has no "{pulse}": write one of {pressure}'
    yield 'value = "confirmed"', 'value = "fine"', 'event[0].shows[0].value: xray is never said with the value "fine"'
    yield 'value = "secured"', 'value = "lost"', 'wanted[0].entry[0].value: airway is never said with the value "lost"'
    yield 'since = "film"', 'since = "x"', 'wanted[0].since: there is no event named "x"'
    yield 'since = "film"', 'follows = "airway"', 'wanted[0].follows: "airway" has to stand further up'
    yield 'since = "film"', '[[never]]\nrule = "x"\nwhy = "x"', "never[0].rule: the definition has no rule"
    yield 'since = "film"', '[[in_order]]\nfirst = "x"\nthen = "airway"\nwhy = "x"', "in_order[0].first: there is no"
    yield 'id = "end"', 'id = "film"', 'event[1].id: "film" stands twice'
    yield "ends = true", "", "event: none of them ends the rehearsal"
    yield "at = 60", "at = 60\nafter = { event = 'film' }", "event[1]: say when: either at or after"
    yield "at = 60", "at = 60\neach = true", "event[1]: each needs an entry to come after"
    yield "at = 60", "at = -1", "event[1].at: Input should be greater than or equal to 0"
    yield "mark_cm = 52", "mark_cm = 520", "patient.mark_cm: Input should be less than or equal to 80"
    yield "mark_cm = 52", "mark = 52", "patient.mark_cm: Field required (and 1 more)"
    yield "ends = true", "ends = true\nsped = 60", "event[1].sped: not a known key"
    yield 'tell = "End."', f'tell = "{"x" * 200}"', "event[1].tell: String should have at most 150 characters"
    yield 'id = "mine"', "id = ", "not valid TOML"


@pytest.mark.parametrize(("old", "new", "said"), [*spoilt()], ids=lambda text: text[:30])
def test_what_is_wrong_is_reported_in_one_line_with_its_place(old: str, new: str, said: str, tmp_path: Path) -> None:
    assert old in SOUND
    assert told(tmp_path, SOUND.replace(old, new, 1)).startswith(said)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 400_001, b"a." * 20_000 + b"a = 1", b"a = " + b"[" * 9000])
def test_a_file_that_is_no_text_too_long_or_too_deep_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"mine\.toml"):
        read_scenario(str(path))


def test_a_folder_and_a_file_that_is_not_there_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "not.toml"):
        with pytest.raises(InputError):
            read_scenario(str(path))


def test_braces_are_the_three_words_of_the_patient() -> None:
    used = {name for s in SHIPPED for e in s.event for name in BRACES.findall(e.tell)}
    assert used == {"pressure", "mark", "bleeding"}
