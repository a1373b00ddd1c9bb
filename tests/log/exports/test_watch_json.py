"""The watch for other programs: what is due, how long balloons have been up, and what the pressures do."""

from __future__ import annotations

from datetime import timedelta

from log.exports.watch_json import plain
from log.watch.due import watch
from tests.cases import BEGAN, PLACED, case_of


def test_balloons_and_what_is_due() -> None:
    case = case_of(*PLACED)
    told = plain(case.procedure, "bay-4", watch(case.course, BEGAN + timedelta(hours=2)))
    assert (told["case"], told["now"], told["placed"]) == ("bay-4", "2026-10-04T16:00:00+02:00", True)
    assert told["balloons"] == [
        {
            "site": "gastric",
            "up_since": "2026-10-04T14:01:20+02:00",
            "up_in_all_h": 1.98,
            "volume_mL": 250,
            "pressure_mmHg": None,
        },
        {
            "site": "oesophageal",
            "up_since": "2026-10-04T14:04:00+02:00",
            "up_in_all_h": 1.93,
            "volume_mL": 40,
            "pressure_mmHg": 35,
        },
    ]
    assert isinstance(told["items"], list)
    assert {item["when"] for item in told["items"]} <= {"overdue", "due", "next"}
    assert told["cautions"] == list(case.procedure.cautions)


def test_a_pressure_that_falls_leaves_its_range_at_a_time() -> None:
    falling = [(3600 * hour, f"oesophageal pressure three {6 - hour}") for hour in range(1, 7)]
    case = case_of(*PLACED, *falling)
    told = plain(case.procedure, "bay-4", watch(case.course, BEGAN + timedelta(hours=7)))
    assert isinstance(told["trends"], list)
    [trend] = [one for one in told["trends"] if one["site"] == "oesophageal"]
    assert trend["mmHg_per_h"]["median"] == -1
    assert (trend["leaves_range"]["side"], trend["leaves_range"]["bound_mmHg"]) == ("low", 25)


def test_without_a_tube_there_is_nothing() -> None:
    case = case_of((10, "airway secured"))
    told = plain(case.procedure, "bay-4", watch(case.course, BEGAN))
    assert (told["placed"], told["items"], told["step_down"]) == (False, [], None)
