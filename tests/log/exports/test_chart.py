"""The chart says what the log says: each known value is where it belongs, nothing covers anything, and paper and screen
get the same picture."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from datetime import timedelta
from functools import cache
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from log.basics.entry import Entry
from log.exports.chart import LEFT, MOST_STEPS, PANEL, RIGHT, STRIP, WIDTH, chart
from log.exports.curves import high_findings, pressures, since, value_at
from log.exports.drawing import Chart, Line, Part, Point, Shape, Text, fitted, spread, text_width, ticks
from log.exports.lettering import BOLD, PLAIN, legible
from log.exports.svg import COLOURS, as_svg
from log.summaries.whole import Whole
from tests.cases import GOOD, case_of, good_case, hostile_case, long_case


def _huge() -> Whole:
    much = Entry(kind="volume_in", site="gastric", value=1e6, unit="mL")
    return case_of((10, much), (20, Entry(kind="pressure", site="both", value=-1e6, unit="mmHg")))


def _by_pressure() -> Whole:
    return case_of(
        (10, "tube in"),
        (20, "oesophageal pressure three five"),
        (400, "oesophageal balloon down"),
        (500, "gastric balloon up"),
        (700, "gastric two five zero in"),
        (800, "pressure three zero"),
    )


MAKE: dict[str, Callable[[], Whole]] = {
    "good": good_case,
    "no entries": case_of,
    "one entry": lambda: case_of((10, "gastric five zero in")),
    "thirty hours": long_case,
    "hostile": hostile_case,
    "huge": _huge,
    "by pressure alone": _by_pressure,
    "before the log": lambda: case_of((-4000, "tube in", 5000), (-3000, "gastric five zero in", 5000)),
    "four lumens": lambda: case_of(*GOOD, name="four-lumen"),
}


@cache
def drawn(name: str) -> Chart:
    return chart(MAKE[name]())


def of_type(found: Chart, *tones: str) -> list[Line]:
    return [part for part in found.parts if isinstance(part, Line) and part.tone in tones]


def texts(found: Chart) -> list[Text]:
    return [part for part in found.parts if isinstance(part, Text)]


def points(part: Part) -> Iterable[Point]:
    return [(part.x, part.y)] if isinstance(part, Text) else part.points


def box(text: Text) -> tuple[float, float, float, float]:
    """Left, upper, right and lower edge of a text, at its widest."""
    width = text_width(text.text, text.size, text.bold)
    left = text.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    return left, text.y - 0.75 * text.size, left + width, text.y + 0.2 * text.size


@pytest.mark.parametrize("name", MAKE)
def test_everything_is_inside_the_frame(name: str) -> None:
    found = drawn(name)
    for part in found.parts:
        assert all(math.isfinite(x) and math.isfinite(y) for x, y in points(part))
        assert all(0 <= x <= found.width and 0 <= y <= found.height for x, y in points(part))
    for left, upper, right, lower in map(box, texts(found)):
        assert left >= -0.5 and upper >= 0 and right <= found.width + 0.5 and lower <= found.height


@pytest.mark.parametrize("name", MAKE)
def test_no_label_covers_another(name: str) -> None:
    for one, other in combinations(texts(drawn(name)), 2):
        a, b = box(one), box(other)
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one, other)


@pytest.mark.parametrize("name", MAKE)
def test_no_label_is_wider_on_paper_than_it_was_taken_for(name: str) -> None:
    legible("")
    for text in texts(drawn(name)):
        written = text.text if text.text.isascii() else text.text.replace("\N{REPLACEMENT CHARACTER}", "")
        if legible(written) == written:
            font = BOLD if text.bold else PLAIN
            assert stringWidth(written, font, text.size) <= text_width(written, text.size, text.bold), text


def test_a_volume_is_a_step_where_the_log_has_it() -> None:
    found = chart(
        case_of((0, "tube in"), (60, "gastric five zero in"), (180, "gastric two zero zero in"), (600, "tube out"))
    )
    [line] = [line for line in of_type(found, "first") if line.points[0][0] < RIGHT]

    def x(second: float) -> float:
        return LEFT + (RIGHT - LEFT) * second / 600

    def y(volume: float) -> float:  # the scale ends at 400 mL: the first round number above the limit of 300
        return STRIP + 10 + PANEL * (1 - volume / 600)

    wanted = [(60, 0), (60, 50), (180, 50), (180, 250), (600, 250), (600, 0)]
    kept = [point for point, after in pairwise([*line.points, (-1.0, -1.0)]) if point != after]
    assert kept == [pytest.approx((x(second), y(volume))) for second, volume in wanted]
    assert line.dash == ()


def test_a_night_begins_twelve_hours_before_its_end_and_marks_what_was_high() -> None:
    case = case_of(
        (0, "tube in"),
        (60, "oesophageal pressure three zero"),
        (8 * 3600, "oesophageal pressure four eight"),
        (20 * 3600, "oesophageal pressure two zero"),
    )
    late = next(one for one in pressures(case) if one.points)
    assert value_at(late, 14 * 3600) == pytest.approx(34)
    ((cut, last),) = since(late, 14 * 3600).runs
    assert cut == pytest.approx((14 * 3600, 34)) and last == (20 * 3600, 20)
    assert high_findings(case)[-1] == 8 * 3600
    lower = STRIP + 10 + PANEL + 1
    drawn = chart(case, timedelta(hours=10))
    (line,) = [one for one in of_type(drawn, "second") if one.points[0][1] > lower and one.points[-1][0] <= RIGHT]
    assert line.points[0][0] == pytest.approx(LEFT)
    assert not [part for part in drawn.parts if isinstance(part, Shape) and part.tone == "limit"], "it was before"


def test_pressures_are_joined_points_in_the_lower_panel_and_let_down_parts_them() -> None:
    found = chart(
        case_of(
            (0, "tube in"),
            (60, "oesophageal pressure three zero"),
            (120, "oesophageal pressure four zero"),
            (180, "oesophageal balloon down"),
            (240, "oesophageal pressure two zero"),
            (300, "oesophageal pressure two five"),
        )
    )
    lower = STRIP + 10 + PANEL + 1
    lines = [line for line in of_type(found, "second") if line.points[0][1] > lower and line.points[-1][0] <= RIGHT]
    assert [len(line.points) for line in lines] == [2, 2]
    markers = [p for p in found.parts if isinstance(p, Shape) and p.tone == "second" and p.points[0][1] > lower]
    assert len(markers) == 4 + 1, "and one beside the name"
    rising, scale = lines[0].points, PANEL / 50
    assert rising[0][1] - rising[1][1] == pytest.approx(10 * scale)


def test_struck_and_unconfirmed_lines_are_not_in_it() -> None:
    with_them = case_of(
        (60, "gastric five zero in"), (90, "gastric two five zero in"), (95, "scratch that"), (99, "gastric in fifty")
    )
    assert with_them.record.asked == 1
    drawn_of = [part for part in chart(with_them).parts if not isinstance(part, Text)]
    assert drawn_of == [
        part for part in chart(case_of((60, "gastric five zero in"))).parts if not isinstance(part, Text)
    ]
    assert "gastric 65 or 100 mL?" in {text.text for text in texts(chart(with_them))}


def test_limits_have_value_and_name_and_the_first_ends_with_the_x_ray() -> None:
    found = drawn("good")
    said = {text.text for text in texts(found)}
    assert {"≤ 300 mL gastric volume", "≥ 200 mL gastric volume", "≤ 50 mL first gastric volume"} <= said
    assert {"≤ 45 mmHg oesophageal ceiling", "≥ 25 mmHg oesophageal pressure"} <= said
    assert not any("≤ 45 mmHg oesophageal pressure" in text for text in said), "one line has one name"
    ends = [line.points[-1][0] for line in of_type(found, "limit") if line.points[0][0] == LEFT]
    confirmed = LEFT + (RIGHT - LEFT) * 690 / 1300
    assert sorted(ends) == [pytest.approx(confirmed), *[RIGHT] * 6]
    assert "≤ 500 mL gastric far" in {text.text for text in texts(drawn("four lumens"))}


def test_steps_are_numbered_in_order_and_explained_below() -> None:
    told = [text.text for text in texts(drawn("good")) if "(line" in text.text]
    assert told[1] == "2 0:02:30 tube in (line 5)" and told[2] == "3 0:11:30 x-ray confirmed (line 11)"
    assert [int(text.split()[0]) for text in told] == list(range(1, 10))
    assert not any("requested" in text or "taken" in text for text in told)


def test_steps_too_close_to_tell_apart_share_a_number_and_too_many_are_counted() -> None:
    tags = [text.text for text in texts(drawn("thirty hours")) if text.y < STRIP]
    assert tags and all(re.fullmatch(r"\d+(-\d+)?", tag) for tag in tags)
    ends = [tuple(map(int, tag.split("-"))) for tag in tags]
    assert ends[0][0] == 1 and ends[-1][-1] == 75
    assert all(before[-1] + 1 == after[0] for before, after in pairwise(ends))
    assert f"and {75 - MOST_STEPS} more: see the timeline" in {text.text for text in texts(drawn("thirty hours"))}


def test_the_time_axis_reaches_over_thirty_hours_and_back_before_the_log() -> None:
    hours = [text.text for text in texts(drawn("thirty hours")) if re.fullmatch(r"\d+:\d\d", text.text)]
    assert hours == ["0:00", "6:00", "12:00", "18:00", "24:00", "30:00"]
    early = [text.text for text in texts(drawn("before the log")) if re.fullmatch(r"-?\d+:\d\d", text.text)]
    assert early[0] == "-1:00" and early[-1] == "0:00"


def test_an_amount_that_nobody_said_is_no_nought() -> None:
    found = drawn("by pressure alone")
    said = {text.text for text in texts(found)}
    assert "row of dots: up, volume not said" in said
    assert "balloon not said, last 30 mmHg" not in said, "a pressure without its balloon is a question"
    dots = [line for line in found.parts if isinstance(line, Line) and line.dash == (1.0, 3.0)]
    assert [line.tone for line in dots] == ["first", "second"]
    assert all(line.points[0][1] < STRIP + 10 + PANEL for line in dots), "off the base line"
    solid = [line for line in of_type(found, "first") if line.width == 1.2 and line.points[0][0] <= RIGHT]
    assert min(x for line in solid for x, _ in line.points) > max(x for x, _ in dots[0].points) - 0.01


def test_an_empty_case_says_so() -> None:
    said = {text.text for text in texts(drawn("no entries"))}
    assert {"no volume logged", "no pressure logged"} <= said
    assert drawn("no entries").description.startswith("At the end: no volume and no pressure was logged.")


def test_the_balloons_are_told_apart_without_colour() -> None:
    found = drawn("good")
    unknown = (1.0, 3.0)
    dashes = {tone: {line.dash for line in of_type(found, tone)} - {unknown} for tone in ("first", "second")}
    assert dashes["first"].isdisjoint(dashes["second"])
    corners = {part.tone: len(part.points) for part in found.parts if isinstance(part, Shape)}
    filled = {part.tone: part.filled for part in found.parts if isinstance(part, Shape)}
    assert corners["first"] != corners["second"] and filled["first"] != filled["second"]
    said = {text.text for text in texts(found)}
    assert {"gastric 265 or 300 mL?", "oesophageal 40 mL", "oesophageal, last 32 mmHg"} <= said


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("tone", sorted(set(COLOURS) - {"paper", "faint"}))
def test_what_has_to_be_read_stands_out_from_white(tone: str) -> None:
    assert 1.05 / (_luminance(COLOURS[tone]) + 0.05) >= 4.5  # WCAG 2.2, 1.4.3


# Geometry.


@given(
    st.lists(st.floats(-1e4, 1e4), max_size=40),
    st.floats(0.1, 50),
    st.floats(-100, 100),
    st.floats(1, 500),
)
def test_spread_places_are_apart_in_order_and_within_bounds(
    wanted: list[float], gap: float, low: float, room: float
) -> None:
    high = low + room
    places = spread(wanted, gap, low, high)
    fair = min(gap, room / max(len(wanted) - 1, 1))
    assert len(places) == len(wanted)
    assert all(low - 1e-6 <= place <= high + 1e-6 for place in places)
    assert all(b - a >= fair - 1e-6 for a, b in pairwise(sorted(places)))
    by_place = [wanted[i] for i in sorted(range(len(wanted)), key=lambda i: places[i])]
    assert by_place == sorted(wanted)


def test_places_that_do_not_touch_stay_where_they_are_wanted() -> None:
    assert spread([50.0, 10.0, 30.0], 8, 0, 100) == (50.0, 10.0, 30.0)


@given(st.floats(-1e6, 1e6), st.floats(0.01, 1e6))
def test_ticks_enclose_the_values_at_round_numbers(low: float, span: float) -> None:
    found = ticks(low, low + span)
    assert found[0] <= low + 1e-6 * span and found[-1] >= low + span - 1e-6 * span
    assert 2 <= len(found) <= 9
    step = found[1] - found[0]
    assert f"{step:.1e}"[0] in "125"


@given(st.text(max_size=60), st.floats(5, 200))
def test_a_text_cut_to_fit_fits(text: str, width: float) -> None:
    assert text_width(fitted(text, width), 6.5) <= max(width, text_width("…", 6.5))


# SVG.


@pytest.mark.parametrize("name", MAKE)
def test_the_svg_is_well_formed_harmless_and_the_same_again(name: str) -> None:
    text = as_svg(drawn(name))
    root = ElementTree.fromstring(text)
    assert root.tag == "svg" and root.get("role") == "img"
    assert {element.tag for element in root.iter()} <= {"svg", "title", "desc", "polyline", "polygon", "text"}
    attributes = {key for element in root.iter() for key in element.attrib}
    assert not attributes & {"href", "src", "style", "onload"} and not any(
        "url(" in v for e in root for v in e.attrib.values()
    )
    assert (root.findtext("title"), root.findtext("desc")) == (drawn(name).title, drawn(name).description)
    assert text == as_svg(chart(MAKE[name]()))


def test_the_svg_has_every_part_at_its_place() -> None:
    found = drawn("good")
    root = ElementTree.fromstring(as_svg(found))
    shapes = [element for element in root if element.tag not in ("title", "desc")]
    assert len(shapes) == len(found.parts)
    for element, part in zip(shapes, found.parts, strict=True):
        if isinstance(part, Text):
            assert element.text == part.text and float(element.attrib["x"]) == pytest.approx(part.x, abs=0.01)
        else:
            places = [tuple(map(float, pair.split(","))) for pair in element.attrib["points"].split()]
            assert places == [pytest.approx(point, abs=0.01) for point in part.points]
    assert root.get("viewBox") == f"0 0 {WIDTH:g} {found.height:g}"
