"""Times as people type them, where the clocks change."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from log.basics.errors import InputError
from log.words.wording import clock
from tui.commands.options import as_of
from tui.views.times import happened, moment


@pytest.fixture(autouse=True)
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Central Europe: forward on 29 March 2026 at 02:00, back on 25 October at 03:00."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def here(text: str) -> datetime:
    """A time of UTC as the room's clock shows it."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC).astimezone()


@pytest.mark.parametrize(
    ("now", "typed", "meant"),
    [
        ("2026-10-25T05:00", "01:30", "2026-10-25T01:30:00+02:00"),  # before the change, typed after it
        ("2026-10-25T05:00", "03:30", "2026-10-25T03:30:00+01:00"),
        ("2026-03-29T05:00", "01:30", "2026-03-29T01:30:00+01:00"),
        ("2026-03-29T05:00", "23:30", "2026-03-28T23:30:00+01:00"),
        ("2026-10-25T05:00", "2026-10-25 02:30:00+02:00", "2026-10-25T02:30:00+02:00"),
    ],
)
def test_a_time_of_day_follows_the_rules_of_its_own_day(now: str, typed: str, meant: str) -> None:
    assert moment(typed, here(now)).isoformat() == meant


def test_a_time_that_was_left_out_is_refused_and_one_that_came_twice_is_asked() -> None:
    for typed in ("02:30", "2026-03-29 02:30"):
        with pytest.raises(InputError, match="went forward"):
            moment(typed, here("2026-03-29T05:00"))
    for typed in ("02:30", "2026-10-25 02:30"):
        with pytest.raises(InputError, match="came twice") as asked:
            moment(typed, here("2026-10-25T05:00"))
        assert "2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00" in str(asked.value)


def test_what_is_due_is_shown_as_the_clocks_will_show_it_then() -> None:
    before, after = here("2026-10-25T00:30"), here("2026-10-25T02:30")
    assert (clock(after, before), clock(before, after)) == ("03:30", "02:30")


def test_a_clock_that_went_back_shows_no_older_state() -> None:
    opened = datetime.now().astimezone() - timedelta(hours=1)
    last = opened + timedelta(hours=5)
    assert as_of(opened, last, None) == last
    assert as_of(opened, opened, None) >= opened + timedelta(minutes=59)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("23:40", "2026-11-30T23:40:00+01:00"),  # before midnight, in the case
        ("20:10", "2026-11-30T20:10:00+01:00"),  # before the case was opened, which was late
        ("2026-11-30 04:40", "2026-11-30T04:40:00+01:00"),
        ("04:40", None),  # an hour from now, or 23 h ago: a slip
    ],
)
def test_a_time_of_day_long_before_the_case_wants_its_day(typed: str, meant: str | None) -> None:
    now, opened = here("2026-12-01T02:30"), here("2026-11-30T21:00")
    if meant is None:
        with pytest.raises(InputError, match="long before the case"):
            happened(typed, now, opened)
    else:
        assert happened(typed, now, opened).isoformat() == meant
