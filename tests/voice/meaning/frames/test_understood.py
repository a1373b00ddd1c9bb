"""What people say in their own words is the entry they mean; what is no entry is asked about or left."""

from __future__ import annotations

import pytest

from log.basics.entry import Entry, NotUnderstood, Understood
from tests.cases import phrases
from tests.voice.meaning.frames.said import asked, framed, items, logged
from voice.meaning.matcher import settled, understand

MEANT = {
    "right, that's another fifty into the gastric": ("volume_in", "gastric", 50, None),
    "thirty mils up the oesophageal": ("volume_in", "oesophageal", 30, None),
    "drew a hundred back out of the stomach balloon": ("volume_out", "gastric", 100, None),
    "gastric balloon's at two fifty mils now": ("volume_total", "gastric", 250, None),
    "the esophageal gauge is reading thirty five": ("pressure", "oesophageal", 35, None),
    "bench check, gastric at two hundred mils reads twenty two": ("manometry", "gastric", 22, None),
    "tube's at fifty at the lips": ("depth", "lips", 50, None),
    "fifty one at her teeth": ("depth", "teeth", 51, None),
    "film confirms the gastric balloon is below the diaphragm": ("xray", None, "confirmed", None),
    "half a kilo of traction hung": ("traction", None, 0.5, None),
    "a quarter of a kilo of traction hung": ("traction", None, 0.25, None),
    "traction, one kilo and two hundred grams": ("traction", None, 1.2, None),
    "the gastric is clamped": ("clamp", "gastric", "on", None),
    "clamp's off the oesophageal": ("clamp", "oesophageal", "off", None),
    "bleeding has stopped": ("bleeding", None, "stopped", None),
    "he is bleeding again": ("bleeding", None, "restarted", None),
    "nothing out of the companion": ("aspirate", "companion", 0, None),
    "two milligrams of terlipressin given": ("drug", None, 2, "terlipressin"),
    "octreotide infusion running": ("drug", None, "infusion started", "octreotide"),
    "two units of plasma are in": ("blood_product", None, 2, "plasma"),
    "pressure ninety over sixty": ("vital", None, 90, "blood pressure"),
    "he saturates at ninety four": ("vital", None, 94, "oxygen saturation"),
    "head of the bed is up thirty degrees": ("head_up", None, 30, None),
    "tube whipped out, no drama": ("tube", None, "out", None),
    "patient pulled the tube out": ("tube", None, "out", None),
    "patient pulled at the tube": ("trouble", None, None, "tube slipped"),
    "gastric balloon reduced to two hundred": ("volume_total", "gastric", 200, None),
    "gastric balloon reduced by fifty": ("volume_out", "gastric", 50, None),
    "temp's thirty five eight": ("vital", None, 35.8, "temperature"),
    "pulse one twenty, down from one forty": ("vital", None, 120, "heart rate"),
    "sats 96%": ("vital", None, 96, "oxygen saturation"),
    "what's next": ("next", None, None, None),
    "start me a timer, one hour": ("timer", None, 60, None),
    "scrub that last entry": ("undo", None, None, None),
}


@pytest.mark.parametrize("said", MEANT)
def test_is_logged_as_it_is_meant(said: str) -> None:
    assert MEANT[said] in logged(said), items(said)


@pytest.mark.parametrize(
    "said",
    [
        "let's pop another sixty into the gastric",
        "please clamp the gastric port first",
        "inject two milligrams of terlipressin",
        "you put me one hundred more in the gastric",
        "pull the tube back to forty eight",
        "is the tube already at fifty centimetres",
        "has the terlipressin been given",
        "how many mils is in the gastric",
        "which balloon do we fill first, the gastric",
        "if the pressure passes forty five, remove ten",
        "nobody's given the terlipressin",
        "the traction is not on",
        "we will let the oesophageal down at six",
        "fixing to give him fifty of fentanyl",
        "tube's halfway out",
        "the patient in bed three has the oesophageal balloon at thirty",
        "urinary catheter balloon filled with ten mils",
        "last year he had the gastric balloon at two hundred",
        "usually the gastric takes two hundred and fifty",
    ],
    ids=str,
)
def test_what_is_no_entry_is_never_logged(said: str) -> None:
    assert logged(said) == ()


@pytest.mark.parametrize(
    "said",
    [
        "i remove the clamp of the gastric",
        "maybe fifty into the gastric",
        "fifty of air into the balloon",
        "the oesophageal is closed",
        "oesophageal pressure twenty four, earlier it was thirty",
        "fifty into the gastric, plonkety",
        "gastric is at fifty",
    ],
    ids=str,
)
def test_what_is_not_clear_is_asked(said: str) -> None:
    assert logged(said) == ()
    assert asked(said)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("fifty, no, sixty into the gastric", 60),
        ("forty, no, tell a lie, thirty five into the gastric", 35),
        ("a hundred, nah, eighty into the gastric", 80),
        ("fifty into the gastric, um, no, hang on, sixty", 60),
        ("gastric one fifty in", 150),
        ("gastric balloon one fifty in", 150),
        ("hundred and fifty into the gastric, one five zero", 150),
    ],
)
def test_the_last_word_on_a_number_counts(said: str, value: int) -> None:
    assert ("volume_in", "gastric", value, None) in logged(said), items(said)


@pytest.mark.parametrize(
    "said", ["1 × 50 into the gastric", "gastric < 30 in", "½ into the gastric", "20 + 5 into the gastric"]
)
def test_nothing_is_logged_across_a_sign_that_is_no_word(said: str) -> None:
    assert isinstance(framed(said), NotUnderstood)


@pytest.mark.parametrize(
    "said", ["pulse sixty or one sixty", "pulse is seventy, maybe eighty", "bp ninety over wobbly sixty"]
)
def test_a_vital_sign_in_doubt_is_left_for_it_is_read_again(said: str) -> None:
    assert items(said) == ()


def test_please_before_a_report_is_only_polite() -> None:
    assert logged("please, the gastric is clamped") == (("clamp", "gastric", "on", None),)
    assert logged("please clamp the gastric") == ()


def test_already_makes_a_report_of_a_verb() -> None:
    assert [one.candidates[0].kind for one in asked("i clamp the gastric already")] == ["clamp"]
    assert logged("esomeprazole eighty milligrams give already")[0][:1] == ("drug",)


@pytest.mark.parametrize(
    ("said", "kinds"),
    [
        ("drew off 500 from the gastric side", ["volume_out", "aspirate"]),
        ("forty from the gastric", ["volume_out", "aspirate"]),
        ("the gastric has taken three hundred", ["volume_in", "volume_out"]),
        ("gastric just took another seventy five of air", ["volume_in", "volume_out"]),
        ("oesophageal let down to thirty", ["pressure", "volume_total"]),
        ("the oesophageal is holding thirty", ["pressure", "volume_total"]),
    ],
)
def test_a_number_of_two_kinds_is_asked(said: str, kinds: list[str]) -> None:
    """What is drawn off a lumen is air or aspirate, what stands in the oesophageal balloon is mL or mmHg."""
    assert list(dict.fromkeys(one.kind for one in asked(said)[0].candidates)) == kinds


@pytest.mark.parametrize(
    "said",
    [
        "the vomiting has stopped",
        "chest pain has gone",
        "arrest team is here",
        "she came in after an arrest",
        "brought in with vomiting",
        "history of vomiting",
    ],
)
def test_a_trouble_that_is_over_or_was_before_is_not_logged(said: str) -> None:
    assert not logged(said)


@pytest.mark.parametrize(
    "said",
    ["away and get me two units of red cells", "bed number four has a gastric balloon with three hundred"],
)
def test_a_request_within_a_sentence_and_another_bed_are_left(said: str) -> None:
    assert not items(said)


def test_which_port_is_asked_where_none_was_said() -> None:
    assert [one.site for one in asked("it's clamped")[0].candidates] == ["gastric", "oesophageal"]
    assert [one.value for one in asked("unclamped")[0].candidates] == ["off", "off"]


@pytest.mark.parametrize(
    "said",
    [
        "gastric clamped?",
        "gastric's clamped, right",
        "gastric to three hundred",
        "his usual BP is one forty over eighty",
        "as long as the gastric's clamped",
        "some people put six hundred in the gastric",
        "the old film shows the balloon in the stomach",
        "two units of red cells are on the way",
        "we need a decision on surgery",
        "suction's set to a hundred",
        "his wife had chest pain",
        "listen for stridor",
        "airway's secured, tube's in, bp ninety over sixty up from seventy over forty",
    ],
)
def test_what_is_asked_wanted_or_somebody_elses_is_not_logged(said: str) -> None:
    meaning = settled(understand(phrases(), said))
    entries = meaning.items if isinstance(meaning, Understood) else ()
    firm = [one for one in entries if isinstance(one, Entry)]
    assert [one.kind for one in firm] in ([], ["airway", "vital"])


ASKED_FIRST = {
    "fifty in the gastric": "volume_in",
    "no, he's bleeding again": "bleeding",
    "the bleeding is slowing down": "bleeding",
    "blood from the gastric port is clearing": "appearance",
    "pushed fifty of air, i can hear it in the stomach": "position_check",
    "it's forty six or forty eight at the teeth": "depth",
    "traction's one kilo, could be one and a half": "traction",
    "balloon number one, the gastric, has two fifty in it": "volume_total",
    "the gastric balloon is with two fifty filled": "volume_in",
    "what comes off the gastric port now is coffee grounds": "appearance",
    "aspiration": "trouble",
}


@pytest.mark.parametrize("said", ASKED_FIRST)
def test_what_may_mean_something_else_is_asked(said: str) -> None:
    (question,) = asked(said)
    assert not logged(said)
    assert question.candidates[0].kind == ASKED_FIRST[said]
    assert question.candidates[0].value != "stopped"


SAID_TWICE_OR_IN_PARTS = {
    "oesophageal pressure, thirty five, yeah, thirty five": ("pressure", "oesophageal", 35, None),
    "pushed a hundred and fifty in the gastric, yeah, one fifty": ("volume_in", "gastric", 150, None),
    "oesophageal's reading, what is it now, thirty eight": ("pressure", "oesophageal", 38, None),
    "plasma's through, both units": ("blood_product", None, 2, "plasma"),
    "set us a timer, half an hour": ("timer", None, 30, None),
    "litre bag on the end of the tube for traction": ("traction", None, 1, "fluid bag"),
    "fifty air to the gastric, done": ("volume_in", "gastric", 50, None),
    "tied the tube to the helmet": ("traction", None, "fixed", "at the lips"),
    "there's a kilo and a quarter of traction on": ("traction", None, 1.25, None),
    "traction's on with the half kilo weight": ("traction", None, 0.5, "weight"),
    "two hundred mils washed in down the gastric": ("lavage_in", None, 200, None),
    "we're after doing the time out": ("preparation", None, "done", "time-out"),
    "film's back, position confirmed by the radiology reg": ("xray", None, "confirmed", "registrar"),
    "into the gastric went two hundred, in four portions of fifty": ("volume_in", "gastric", 200, None),
    "lips are okay, skin intact": ("skin", "lips", "intact", None),
    "saline 0.9% 500 ml in": ("fluid", None, 500, "saline"),
    "the oesophageal line is without clamp": ("clamp", "oesophageal", "off", None),
    "head's flat": ("head_up", None, 0, None),
    "capnography's back": ("airway", None, "secured", "waveform capnography"),
    "return of circulation": ("circulation", None, "returned", None),
}


@pytest.mark.parametrize("said", SAID_TWICE_OR_IN_PARTS)
def test_numbers_said_twice_or_in_parts_are_one(said: str) -> None:
    assert logged(said) == (SAID_TWICE_OR_IN_PARTS[said],), items(said)


@pytest.mark.parametrize(
    "said",
    [
        "nobody has confirmed that film yet",
        "no bleeding is not the same as no varices",
        "the gastric balloon can take up to five hundred",
        "the second patient has also a tube in",
        "his normal's about ninety over sixty",
        "the ventilator pressure is thirty",
        "wash two hundred mils into the gastric",
        "haven't got the tube down yet",
        "oesophageal to come down at six",
        "pull on the gastric port",
        "clamp's going on the oesophageal in a sec",
        "bleeding, no",
    ],
)
def test_what_others_are_and_what_may_be_is_never_logged(said: str) -> None:
    assert not logged(said), items(said)


def test_another_of_the_same_amount_is_a_second_entry() -> None:
    both = asked("put a hundred in the gastric, then another hundred")
    assert [question.candidates[0].number for question in both] == [100, 100]


def test_a_balloon_inflated_to_a_pressure_is_that_pressure() -> None:
    meaning = settled(understand(phrases(), "oesophageal balloon inflated to thirty millimetres of mercury"))
    assert isinstance(meaning, Understood)
    assert [item.kind for item in meaning.items if isinstance(item, Entry)] == ["pressure"]


def test_the_same_number_into_another_balloon_is_another_entry() -> None:
    assert len(logged("fifty into the gastric, fifty into the oesophageal")) == 2


@pytest.mark.parametrize("said", ["gastric pressure three kilopascals", "mark at twenty inches", "traction two pounds"])
def test_a_number_in_another_unit_is_never_offered_in_ours(said: str) -> None:
    """3 kPa are 22 mmHg: "confirm" would log 3."""
    meaning = understand(phrases(), said)
    assert isinstance(meaning, NotUnderstood) and "another unit" in meaning.why
