"""The life of a finding: which later line ends it, and how; and which does not."""

from __future__ import annotations

import pytest

from tests.cases import Spoken, case_of

UP: tuple[Spoken, ...] = (
    (10, "tube in"),
    (20, "tube at five five at the lips"),
    (30, "gastric in five zero"),
    (40, "x-ray confirms position"),
    (50, "gastric in one zero zero"),
    (80, "gastric in one zero zero"),
    (90, "traction one kilo weight"),
    (95, "mark at five two at the lips"),
    (97, "oesophageal in four zero"),
)


@pytest.mark.parametrize(
    ("rule", "begins", "leaves", "ends", "how"),
    [
        (
            "oesophageal_ceiling",
            "oesophageal pressure four six",
            "gastric pressure two zero",
            "oesophageal pressure four five",
            "back in range",
        ),
        (
            "oesophageal_ceiling",
            "oesophageal pressure four six",
            "oesophageal pressure four seven",
            "oesophageal balloon deflated",
            "ended",
        ),
        (
            "oesophageal_too_low",
            "oesophageal pressure one nine",
            "gastric pressure two zero",
            "oesophageal pressure two zero",
            "back in range",
        ),
        (
            "gastric_volume",
            "gastric in one five zero",
            "oesophageal in two zero",
            "gastric volume three zero zero",
            "back in range",
        ),
        ("gastric_volume", "gastric in one five zero", "gastric port clamped", "gastric balloon deflated", "ended"),
        (
            "mark_migration",
            "mark at four nine at the lips",
            "bleeding stopped",
            "mark at five zero at the lips",
            "back in range",
        ),
        (
            "mark_migration",
            "mark at four nine at the lips",
            "gastric port clamped",
            "gastric balloon deflated",
            "ended",
        ),
        (
            "traction_too_heavy",
            "traction three kilos weight",
            "gastric port clamped",
            "traction one kilo weight",
            "back in range",
        ),
        ("traction_too_heavy", "traction three kilos weight", "bleeding stopped", "traction off", "ended"),
        ("anchor_lost", "gastric pressure zero", "oesophageal pressure three zero", "tube out", "ended"),
    ],
)
def test_a_finding_ends_with_what_it_was_about(rule: str, begins: str, leaves: str, ends: str, how: str) -> None:
    begun = (*UP, (100, begins), (110, leaves))
    assert rule in {one.rule for one in case_of(*begun).record.open_findings}, "another reading does not end it"
    after = case_of(*begun, (120, ends)).record
    assert rule not in {one.rule for one in after.open_findings}
    [*_, settled] = (one.settled for one in after.findings if one.raised.rule == rule)
    assert settled is not None and (settled.ended, settled.by) == (how, after.lines[-1].number)


def test_a_volume_before_the_film_is_settled_by_the_film() -> None:
    early = (*UP[:2], (30, "gastric in one zero zero"))
    assert "first_gastric_volume" in {one.rule for one in case_of(*early).record.open_findings}
    shown = case_of(*early, (40, "x-ray confirms position")).record
    assert "first_gastric_volume" not in {one.rule for one in shown.open_findings}


def test_a_tube_too_high_at_its_first_air_is_settled_by_the_film() -> None:
    shallow = ((10, "tube in"), (20, "tube at four five at the lips"), (30, "gastric in five zero"))
    assert "insertion_depth" in {one.rule for one in case_of(*shallow).record.open_findings}
    shown = case_of(*shallow, (40, "x-ray confirms position")).record
    assert "insertion_depth" not in {one.rule for one in shown.open_findings}


H = 3600


@pytest.mark.parametrize(
    ("moment", "spoken"),
    [
        ("since-gastric-inflation-12h", ((13 * H, "bleeding stopped"), (14 * H, "gastric balloon deflated"))),
        ("since-gastric-inflation-12h", ((13 * H, "bleeding stopped"), (14 * H, "decision shunt"))),
        ("since-insertion-24h", ((25 * H, "bleeding stopped"), (26 * H, "tube out"))),
        (
            "since-gastric-pressure-check-1h",
            ((H, "gastric pressure two zero"), (3 * H, "bleeding stopped"), (4 * H, "gastric pressure two zero")),
        ),
    ],
)
def test_a_moment_of_a_clock_ends_with_the_line_that_ends_it(moment: str, spoken: tuple[Spoken, ...]) -> None:
    record = case_of(*UP[:-1], *spoken).record
    [settled] = (one.settled for one in record.findings if one.raised.rule == moment)
    assert settled is not None
    assert (settled.ended, settled.by, settled.how) == ("ended", record.lines[-1].number, f"ended by line {settled.by}")


def test_the_next_moment_of_a_clock_says_the_one_before_anew() -> None:
    record = case_of(*UP[:-1], (13 * H, "bleeding stopped"), (25 * H, "bleeding stopped")).record
    [settled] = (one.settled for one in record.findings if one.raised.rule == "since-gastric-inflation-12h")
    assert settled is not None and settled.ended == "said anew"
    assert "since-gastric-inflation-24h" in {one.rule for one in record.open_findings}
