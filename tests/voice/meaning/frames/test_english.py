"""How English is said in a breath: verbs with their particle behind the object, slips put right, a denial in a clause
of its own, ordinary words that mean nothing here.
"""

from __future__ import annotations

import pytest

from log.basics.entry import NotUnderstood
from log.definition.frames import ways
from tests.cases import phrases
from tests.voice.meaning.frames.said import asked, framed, items, logged
from voice.english.guards import IN_WORDS
from voice.english.harmless import PARTICLES, PLAIN
from voice.meaning.frames.lexicon import ANY_GUARD, GUARDS, HARMLESS, lexicon
from voice.meaning.matcher import understand


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("i've the gastric line shut off with a clamp", ("clamp", "gastric", "on", None)),
        ("i have let the oesophageal balloon down", ("balloon", "oesophageal", "down", None)),
    ],
)
def test_a_particle_behind_the_object_belongs_to_its_verb(said: str, meant: tuple[object, ...]) -> None:
    candidates = [one.candidates[0] for one in asked(said)]
    assert meant in logged(said) or meant in [(one.kind, one.site, one.value, one.detail) for one in candidates]


@pytest.mark.parametrize(
    "said",
    [
        "seventy into the oesophageal, nope, i lied, fifteen, one five",
        "seventy into the oesophageal, sorry, it was fifteen",
        "seventy into the oesophageal, no, call it fifteen",
        "seventy into the oesophageal, hang on, i tell a lie, it was fifteen",
    ],
)
def test_a_slip_is_put_right_in_any_way(said: str) -> None:
    assert logged(said) == (("volume_in", "oesophageal", 15, None),)


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("the esophageal's all the way down, ain't no air left in it", "balloon"),
        ("he is still bleeding, it ain't quit", "bleeding"),
        ("tube's out, all of it, no bits missing", "tube"),
    ],
)
def test_a_denial_in_a_clause_of_its_own_makes_a_question_of_the_report(said: str, kind: str) -> None:
    assert logged(said) == ()
    assert kind in [one.candidates[0].kind for one in asked(said)]


@pytest.mark.parametrize(
    "said",
    [
        "the plan is this, gastric two hundred in",
        "last month it was fine, haemoglobin ten point four",
        "clamp it, two hundred in the gastric",
    ],
)
def test_what_is_planned_remembered_or_ordered_first_speaks_of_all_that_follows(said: str) -> None:
    assert logged(said) == ()


def test_what_drained_and_how_it_looks_are_two_entries() -> None:
    assert logged("the gastric port has drained two hundred mls of dark blood") == (
        ("aspirate", "gastric", 200, None),
        ("appearance", "gastric", "dark blood", None),
    )


def test_what_is_inside_is_a_total_and_what_went_in_is_not() -> None:
    assert logged("there's three forty inside the gastric")[0][0] == "volume_total"
    assert logged("two hundred's away in the gastric now")[0][0] == "volume_in"
    assert logged("the stomach balloon get two hundred now") == ()


def test_no_before_a_participle_denies() -> None:
    assert items("i've no laid a finger on that clamp") == ()


def test_a_subject_behind_what_was_done_asks() -> None:
    assert items("is already marked the companion") == ()


def test_an_ordinary_word_says_no_direction_and_turns_nothing() -> None:
    meanings = lexicon(phrases()).meanings
    assert not PARTICLES & PLAIN
    assert not [word for word in PLAIN if meanings[word] & ANY_GUARD and meanings[word] & HARMLESS]


def test_each_of_the_first_stands_with_each_of_the_second() -> None:
    assert ways("up|[no/nil] [mark/pressure sore]") == (
        "up", "no mark", "no pressure sore", "nil mark", "nil pressure sore",
    )  # fmt: skip
    assert ways("[that/this/] one") == ("that one", "this one", "one")


def test_the_reason_is_a_sentence_for_people() -> None:
    assert set(IN_WORDS) == set(GUARDS)
    for said, why in (("please clamp the gastric", "order"), ("is the gastric clamped", "question")):
        meaning = understand(phrases(), said)
        assert isinstance(meaning, NotUnderstood) and meaning.why == IN_WORDS[why]
    nothing = framed("mind the cable")
    assert isinstance(nothing, NotUnderstood) and nothing.why == "nothing recognised"


@pytest.mark.parametrize(
    "said",
    [
        "two hundred in the gastric now",
        "boss, gastric balloon ninety mils in already",
        "hundred millilitre air to the stomach balloon, is already inside",
    ],
)
def test_a_volume_that_is_said_to_be_there_and_not_to_be_added_is_asked(said: str) -> None:
    assert logged(said) == ()
    assert asked(said)[0].candidates[0].kind == "volume_in"


@pytest.mark.parametrize(
    "said", ["two hundred in the gastric now, reads twenty one", "at a hundred the gastric reads nine"]
)
def test_a_pressure_at_a_volume_may_be_the_test_before_insertion_and_is_asked(said: str) -> None:
    assert logged(said) == ()
    assert asked(said)[0].candidates[0].kind == "manometry"


@pytest.mark.parametrize(
    ("said", "entry"),
    [
        ("gastric clamp's on, did it myself", ("clamp", "gastric", "on", None)),
        ("dunked the pair of them, not a bubble off either balloon", ("leak_test", "both", "passed", None)),
        ("set me a ten minute timer, would ya", ("timer", None, 10, None)),
        ("ain't no clamps in this tray", ("kit", None, "missing", "clamps")),
        ("temperature's thirty four point nine, is that right, yeah", ("vital", None, 34.9, "temperature")),
        ("yeah nah, fifty into the gastric", ("volume_in", "gastric", 50, None)),
        ("delete please what i said before", ("undo", None, None, None)),
    ],
)
def test_what_is_said_beside_a_report_turns_nothing(said: str, entry: tuple[object, ...]) -> None:
    assert logged(said) == (entry,)


@pytest.mark.parametrize(
    "said",
    [
        "my cousin has the same varices",
        "saw one of these burst back in ninety eight",
        "sats on the other stretcher are ninety one",
        "ain't nobody put no traction on yet",
        "i ain't clamped the gastric",
        "gastric's clamped, is that right",
        "clamp the gastric, would you",
    ],
)
def test_other_people_other_times_denials_and_open_questions_are_left(said: str) -> None:
    assert logged(said) == ()


@pytest.mark.parametrize(
    "said",
    [
        "me back's gone, forty years of this",
        "surf's at six feet today and i'm stuck in here",
        "doctor's comin' back at three to take it",
    ],
)
def test_a_number_among_everyday_words_is_no_guess(said: str) -> None:
    assert items(said) == ()


def test_air_out_of_a_balloon_that_was_not_named_is_asked() -> None:
    [question] = asked("there's fifty of air back out")
    assert (question.candidates[0].kind, question.candidates[0].value) == ("volume_out", 50)


def test_a_clock_is_started_as_a_timer() -> None:
    assert logged("start me a clock for eight minutes") == (("timer", None, 8, None),)


@pytest.mark.parametrize("said", ["does one hear the air in the stomach", "did fifty go into the gastric"])
def test_an_auxiliary_before_a_number_asks(said: str) -> None:
    assert items(said) == ()


def test_with_alone_may_be_more_and_is_asked() -> None:
    both = {entry.kind for question in asked("gastric's gone up with fifty, happy") for entry in question.candidates}
    assert {"volume_in", "volume_total"} <= both
    assert logged("the gastric balloon is with two hundred sixty of air") == (("volume_total", "gastric", 260, None),)


def test_water_in_and_back_in_one_breath_are_two() -> None:
    assert logged("lavage hundred in, ninety back") == (
        ("lavage_in", None, 100, None),
        ("lavage_out", None, 90, None),
    )
    assert logged("lavage with five hundred, four fifty back, still pink") == (
        ("lavage_in", None, 500, None),
        ("lavage_out", None, 450, None),
        ("appearance", None, "pink", None),
    )


@pytest.mark.parametrize("said", ["how much air's in the gastric", "what's our total in the gastric"])
def test_what_is_in_is_asked_of_the_log(said: str) -> None:
    assert [entry[0] for entry in logged(said)] == ["status"]


def test_two_numbers_with_to_between_are_no_blood_pressure_that_nobody_named() -> None:
    assert not [one for one in logged("sats dropped, ninety to eighty four") if one[3] == "blood pressure"]
    assert logged("blood pressure ninety over fifty") == (("vital", None, 90, "blood pressure"),)
