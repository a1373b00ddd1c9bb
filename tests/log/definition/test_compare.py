"""Two definitions side by side: changes are shown, the rest is not, in the order of a case."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from log.definition.compare import Difference, differences
from log.definition.load import shipped
from log.definition.override import Override, OverrideLimit, apply
from log.definition.procedure import Procedure
from log.definition.watch_plan import OverrideCheck, OverrideWatch
from log.rules.definitions import read_procedure
from tests.cases import procedure


def own(tmp_path: Path, text: str) -> Procedure:
    path = tmp_path / "own.toml"
    path.write_text(f'extends = "three-lumen"\n{text}', encoding="utf-8")
    return read_procedure(str(path))


THREE = procedure()


@pytest.mark.parametrize("name", shipped())
def test_nothing_differs_from_itself(name: str) -> None:
    assert differences(read_procedure(name), read_procedure(name)) == ()


def test_the_two_tubes_differ_where_their_files_say_so() -> None:
    found = differences(THREE, read_procedure("four-lumen"))
    assert Difference("limits", "gastric_volume", "bounds", "200 to 300 mL", "400 to 500 mL") in found
    assert Difference("tube", "", "lumens", "3", "4") in found
    assert {one.name for one in found if one.group == "steps"} == {
        *("gastric-full", "oesophageal-aspirate", "bleeding", "tube-in", "oesophageal-balloon"),
        *("companion-marked", "companion-gastric", "companion-back"),
    }
    new = next(one for one in found if one.name == "oesophageal-aspirate")
    assert (new.field, new.first) == ("", None)
    assert "say: oesophageal aspirate four zero" in (new.second or "")
    assert {one.group for one in found} == {"tube", "limits", "rules", "steps"}


def test_the_order_is_that_of_a_case_whatever_was_changed_first() -> None:
    groups = list(dict.fromkeys(one.group for one in differences(read_procedure("three-lumen-child"), THREE)))
    assert groups == ["tube", "limits", "rules", "watch", "steps", "numbers and choices", "sources"]


def test_turned_round_it_tells_the_same_the_other_way() -> None:
    there = differences(THREE, read_procedure("four-lumen"))
    back = differences(read_procedure("four-lumen"), THREE)
    turned = {Difference(one.group, one.name, one.field, one.second, one.first) for one in back}
    assert set(there) == turned


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "[limits.mark_migration]\nmax = 2.6",
            Difference("limits", "mark_migration", "bounds", "at most 2.5 cm", "at most 2.6 cm"),
        ),
        ('[limits.mark_migration]\nlevel = "low"', Difference("limits", "mark_migration", "level", "high", "low")),
        ('[rules.gastric_first]\nlevel = "low"', Difference("rules", "gastric_first", "level", "high", "low")),
        ('[tube]\nnote = ""', Difference("tube", "", "note", THREE.tube.note, "")),
        ('lead_word = "note"', Difference("words", "lead word", "", "log", "note")),
        ('[parts]\nlast = "last"', Difference("words", "part last", "", THREE.parts["last"], "last")),
        ("[watch.late]\nafter_min = 20", Difference("watch", "overdue", "after", "15 min", "20 min")),
        (
            "[slots.depth]\nplausible = [30, 70]",
            Difference("numbers and choices", "depth", "believable", "35 to 70", "30 to 70"),
        ),
    ],
)
def test_one_change_is_one_difference(tmp_path: Path, text: str, found: Difference) -> None:
    assert differences(THREE, own(tmp_path, text)) == (found,)


def test_a_phrase_that_is_gone_and_one_that_is_new(tmp_path: Path) -> None:
    changed = own(
        tmp_path,
        '[[kind]]\nid = "status"\ntitle = "How things stand"\nrole = "command"\n[[kind.say]]\nphrases = ["stand"]\n',
    )
    assert differences(THREE, changed) == (
        Difference("entries", "status", '"status"', "as said", None),
        Difference("entries", "status", '"stand"', None, "as said"),
    )


def test_what_an_override_changes_is_seen_against_the_definition_itself() -> None:
    local = Override(
        procedure="three-lumen",
        approved_by="unit",
        approved_on=date(2026, 3, 1),
        limits={"oesophageal_ceiling": OverrideLimit(max=40)},
        watch=OverrideWatch(checks={"mark": OverrideCheck(every_h=2)}),
        leave_out=("oesophageal-leak-test",),
    )
    found = differences(THREE, apply(THREE, local))
    assert Difference("limits", "oesophageal_ceiling", "bounds", "at most 45 mmHg", "at most 40 mmHg") in found
    assert Difference("watch", "mark", "every", "1 h", "2 h") in found
    gone = next(one for one in found if one.name == "oesophageal-leak-test")
    assert gone.second is None
    assert Difference("sources", "local", "", None, "local protocol approved by unit on 2026-03-01") in found
