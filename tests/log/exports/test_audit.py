"""The trail has a row for every fact, whichever kind it is: who did what, when, and what it was before."""

from __future__ import annotations

import csv
import io
from typing import get_args

from log.facts.events import Fact
from tests.log.exports.written import case, text_of


def test_there_is_a_fact_of_every_kind() -> None:
    assert {type(link.fact) for link in case("every kind of fact").links} == set(get_args(get_args(Fact)[0]))


def test_each_has_its_row_with_its_author_and_what_it_was_before() -> None:
    rows = list(csv.DictReader(io.StringIO(text_of("every kind of fact", "audit"), newline="")))
    assert [int(row["fact"]) for row in rows] == list(range(1, len(case("every kind of fact").links) + 1))
    done = [tuple(row[name] for name in ("author", "what", "line", "before", "after", "reason")) for row in rows]
    asked = "gastric volume in 50 mL or gastric volume in 15 mL?"
    before, after = (
        "oesophageal pressure 60 mmHg at 2026-10-04T14:01:50",
        "oesophageal pressure 50 mmHg at 2026-10-04T14:01:45",
    )
    for wanted in (
        ("scribe", "case opened", "", "", "20261004-140000", ""),
        ("scribe", "entry logged", "1", "", "tube in", ""),
        ("scribe", "entry asked", "3", "", asked, "50 and 15 sound alike"),
        ("scribe", "answered", "3", asked, "gastric volume in 50 mL", ""),
        ("scribe", "not understood", "", "", "mind the cable", "nothing recognised"),
        ("nurse", "amended", "4", f"{before}.000+02:00", f"{after}.000+02:00", "misread"),
        ("nurse", "struck", "5", "gastric volume in 150 mL", "", "not done"),
        ("the program", "finding raised", "", "", "low: hours", "[derived] none"),
        ("the program", "finding settled", "", "hours", "", "over"),
        ("nurse", "note written", "", "", "the ward is cold", ""),
        ("nurse", "spoken note kept", "2", "", "6.0 s of sound, to be transcribed", ""),
        ("nurse", "spoken note transcribed", "2", "", "the family agrees", ""),
        ("nurse", "spoken note transcribed", "2", "the family agrees", "the family agree", ""),
        ("the program", "other speech kept", "", "", "talk", ""),
        ("nurse", "listening changed", "", "", 'lead word "log"', ""),
        ("records", "sounds removed", "", "1 sound", "", "asked for"),
        ("nurse", "identifiers given", "", "", "", ""),
        ("records", "identifiers removed", "", "", "", "kept long enough"),
        ("the program", "played to the team", "", "", "The film is back.", ""),
        ("the program", "case closed", "", "", "", "end of typing"),
        ("night", "case resumed", "", "", "typed", ""),
    ):
        assert wanted in done
    assert {(row[1], row[2], row[5]) for row in done if row[0] == "nurse"} >= {("finding acknowledged", "1", "known")}
