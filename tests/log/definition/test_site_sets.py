"""A definition that leaves limits to the site: nothing is kept by it until the site has set every one of them."""

from __future__ import annotations

import pickle
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from log.definition.limits import Limit
from log.definition.load import BrokenDefinition, NotSet, in_force, read_override
from log.rules.definitions import examine, load, read_procedure

CHILD = "three-lumen-child"
SET = {
    "first_gastric_volume": "{ max = 20 }",
    "gastric_volume": "{ min = 60, max = 100 }",
    "oesophageal_pressure": "{ min = 20, max = 30 }",
    "oesophageal_ceiling": "{ max = 30 }",
    "insertion_depth": "{ min = 25 }",
    "traction_mass": "{ max = 0.3 }",
    "mark_migration": "{ max = 1 }",
    "head_up": "{ min = 30 }",
    "gastric_pressure_rise": "{ max = 7 }",
    "gastric_step": "{ max = 20 }",
    "oesophageal_start": "{ max = 22 }",
}
"""Invented, so that a test can tell them from every published figure."""


def local(tmp_path: Path, limits: dict[str, str]) -> Path:
    path = tmp_path / "child.toml"
    head = f'procedure = "{CHILD}"\napproved_by = "unit"\napproved_on = 2026-03-01\nreason = "children"\n[limits]\n'
    path.write_text(head + "".join(f"{name} = {text}\n" for name, text in limits.items()), encoding="utf-8")
    return path


def test_no_limit_for_a_child_is_shipped() -> None:
    procedure = read_procedure(CHILD)
    assert set(procedure.limits) == set(SET)
    for limit in procedure.limits.values():
        assert (limit.min, limit.max) == (None, None)
        assert limit.site_sets is not None
        assert limit.broken_by(1e6) is None
    assert procedure.watch is not None
    assert procedure.watch.step_down is None


def test_no_figure_for_adults_is_left_where_a_child_would_meet_it() -> None:
    """mL, mmHg, cm and kg: what the file of the three-lumen tube and the shared one say of them is not taken over."""
    procedure = read_procedure(CHILD)
    adults = read_procedure("three-lumen")
    told = [
        *(limit.advice for limit in procedure.limits.values()),
        *(rule.message for rule in procedure.rules.values()),
    ]
    told += [step.title for step in procedure.milestone] + [order.message for order in procedure.order]
    told += [due.message for clock in procedure.clock for due in clock.due]
    assert [text for text in told for unit in (" mL", " mmHg", " cm", " kg") if unit in text] == []
    assert adults.companion is not None and adults.companion.above_cm == 2
    assert procedure.companion is not None and procedure.companion.above_cm is None
    numbered = [step for step in adults.milestone if NUMBERS & {*step.say.split()}]
    assert len(numbered) == 12
    for step in numbered:
        own = next(one for one in procedure.milestone if one.id == step.id)
        assert own.say != step.say
        assert "example" in own.title or not NUMBERS & {*own.say.split()}


NUMBERS = {"zero", "one", "two", "three", "four", "five"}


def test_the_hint_is_what_the_reference_sheet_says() -> None:
    """Reference 1.1 and 1.10, P8: 50 mL at a time to a maximum of 150 mL."""
    procedure = read_procedure(CHILD)
    hint = procedure.limits["gastric_volume"].site_sets
    assert hint is not None
    assert "50 mL at a time to a maximum of 150 mL" in hint.message
    assert (hint.tag, hint.source) == ("published", ("P8",))


def test_without_an_override_nothing_can_be_kept_by_it() -> None:
    with pytest.raises(NotSet) as refused:
        load(CHILD)
    told = str(refused.value)
    assert "\n" not in told
    assert refused.value.exit_code == 3
    for wanted in (*SET, f"{CHILD}.toml", "--local", f"tamponade procedures show {CHILD}"):
        assert wanted in told
    assert str(pickle.loads(pickle.dumps(refused.value))) == told
    with pytest.raises(NotSet):
        in_force(read_procedure(CHILD), None)


@pytest.mark.parametrize("left", SET)
def test_every_single_limit_has_to_be_set(tmp_path: Path, left: str) -> None:
    path = local(tmp_path, {name: text for name, text in SET.items() if name != left})
    with pytest.raises(NotSet, match=f"no value is shipped for {left}, and"):
        load(CHILD, path)


def bounds() -> Iterator[tuple[str, str]]:
    for name, limit in read_procedure(CHILD).limits.items():
        assert limit.site_sets is not None
        for bound in limit.site_sets.wants:
            yield name, bound


@pytest.mark.parametrize(("name", "bound"), tuple(bounds()))
def test_every_wanted_bound_has_to_be_set(tmp_path: Path, name: str, bound: str) -> None:
    other = "min" if bound == "max" else "max"
    path = local(tmp_path, {**SET, name: f'{{ {other} = 0.1, level = "high" }}'})
    with pytest.raises(BrokenDefinition, match=rf"limits\.{name}: no {bound} is shipped: set {bound} as well"):
        load(CHILD, path)


def test_what_the_site_sets_is_in_force_and_tagged_so(tmp_path: Path) -> None:
    kept = load(CHILD, local(tmp_path, SET)).procedure
    limit = kept.limits["gastric_volume"]
    assert (limit.min, limit.max, limit.tag, limit.site_sets) == (60, 100, "local", None)
    assert limit.advice.endswith("(No value is shipped.)")
    assert limit.broken_by(100) is None
    assert limit.broken_by(100.5) == "above"
    assert "approved by unit on 2026-03-01" in kept.cite(limit)


def test_a_case_reads_its_own_copy_back(tmp_path: Path) -> None:
    kept = load(CHILD, local(tmp_path, SET))
    assert type(kept.procedure).model_validate_json(kept.text) == kept.procedure


# ---- definitions that leave something to the site, or do not take something over ------------------------------------


def test_a_limit_is_shipped_or_left_to_the_site_not_both() -> None:
    wanted = {"wants": ["max"], "message": "m", "tag": "derived"}
    limit: dict[str, Any] = {"about": "a", "unit": "mL", "level": "low", "tag": "local", "advice": "a"}
    assert Limit.model_validate({**limit, "site_sets": wanted}).bounds == "not set: your site has to"
    with pytest.raises(ValueError, match="has a bound, but says that the site sets it"):
        Limit.model_validate({**limit, "site_sets": wanted, "max": 1})
    with pytest.raises(ValueError, match="has neither min nor max"):
        Limit.model_validate(limit)
    with pytest.raises(ValueError, match="wants"):
        Limit.model_validate({**limit, "site_sets": {**wanted, "wants": []}})


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('extends = "three-lumen"\nwithout = ["limits.nothing"]', '"limits.nothing" is nothing that three-lumen has'),
        ('extends = "three-lumen"\nwithout = "limits"', "has to be a list of paths"),
        ('extends = "three-lumen"\nwithout = [1]', "has to be a list of paths"),
        ('without = ["limits.gastric_volume"]', "nothing is taken over"),
        ('extends = "three-lumen"\nwithout = ["limits.gastric_volume"]', "limits.gastric_volume: is missing"),
    ],
)
def test_what_is_not_taken_over_has_to_be_there(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(f'{text}\nid = "own"\n', encoding="utf-8")
    with pytest.raises(BrokenDefinition, match=told.replace("(", r"\(").replace(".", r"\.")):
        read_procedure(str(path))


def test_a_source_of_a_hint_has_to_be_known(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        f'extends = "{CHILD}"\nid = "own"\n[limits.gastric_volume.site_sets]\nsource = ["P99"]\n', encoding="utf-8"
    )
    assert examine(str(path))[1] == (("limits.gastric_volume.site_sets.source", 'there is no source named "P99"'),)


def test_an_override_may_set_them_one_by_one_and_still_be_read(tmp_path: Path) -> None:
    path = local(tmp_path, {"traction_mass": SET["traction_mass"]})
    assert read_override(path, read_procedure(CHILD)).limits["traction_mass"].max == 0.3


def test_the_file_has_no_bound_of_its_own() -> None:
    raw = tomllib.loads((files("log.definition") / "shipped" / f"{CHILD}.toml").read_text(encoding="utf-8"))
    assert [name for name, limit in raw["limits"].items() if {"min", "max"} & set(limit)] == []
