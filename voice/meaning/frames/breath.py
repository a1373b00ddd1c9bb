"""The entries of one breath put together: what was said twice is said once, what contradicts itself is asked."""

from __future__ import annotations

from log.basics.entry import Entry, Question, likeliest
from voice.meaning.frames.lexicon import Lexicon
from voice.meaning.frames.token import Token

Items = tuple[Entry | Question, ...]


ANOTHER = frozenset({"another", "and another", "and then another", "one more", "a second"})
"""Makes the same amount another one: "a hundred in the gastric, then another hundred"."""


def several(found: tuple[Token, ...]) -> bool:
    """Whether the same amount may have been given more than once in this breath."""
    return any(token.text in ANOTHER for token in found)


def merged(items: Items, several: bool = False) -> Items:
    """An entry that was said twice in a breath is said once, where nobody says that it was `several`; a number that was
    said twice, differently, is asked."""
    out: list[Entry | Question] = []
    for item in items:
        entry = likeliest(item)
        same = next((place for place, one in enumerate(out) if _same(likeliest(one), entry)), None)
        if several and entry.number is not None and entry.kind not in READ_OFF:
            same = None
        other = next((place for place, one in enumerate(out) if _contradicts(likeliest(one), likeliest(item))), None)
        if same is not None:
            fuller = max((out[same], item), key=lambda one: len(likeliest(one).model_dump(exclude_none=True)))
            out[same] = fuller
        elif other is not None:
            both = (likeliest(out[other]), likeliest(item))
            out[other] = Question(candidates=both, why="several numbers", text="two of it were said")
        else:
            out.append(item)
    numbered = {likeliest(one).kind for one in out if likeliest(one).number is not None}
    out = [one for one in out if likeliest(one).value != ON or likeliest(one).kind not in numbered]
    if any(likeliest(one).kind == "emergency" and likeliest(one).value == "over" for one in out):
        out = [
            one for one in out if likeliest(one).kind not in ("emergency", "airway") or likeliest(one).value == "over"
        ]
    if any(likeliest(one).kind == "airway" for one in out):
        out = [_which_tube(one) if likeliest(one).kind == "tube" else one for one in out]
    looks = [one for one in out if likeliest(one).kind == "appearance"]
    if len({likeliest(one).site for one in looks} - {None}) < 2 <= len(looks):
        site = next((likeliest(one).site for one in looks if likeliest(one).site is not None), None)
        each = tuple(likeliest(one).model_copy(update={"site": site}) for one in reversed(looks))
        changed = Question(candidates=each, why="several numbers", text="it changed")
        out = [*(one for one in out if one not in looks), changed]
    if any(likeliest(one).kind == "correct" for one in out):
        out = [one for one in out if likeliest(one).kind != "undo"]
    if any(likeliest(one).kind != "confirm" for one in out):
        out = [one for one in out if likeliest(one).kind != "confirm"]
    return tuple(out)


def in_particular(found: tuple[Token, ...], items: Items) -> Items:
    """ "Lips okay, skin intact" speaks of one place: the skin in general says no more than the place that was named."""
    if not any(token.text == SKIN for token in found):
        return items
    named = {likeliest(one).value for one in items if likeliest(one).kind == SKIN != likeliest(one).site}
    return tuple(
        one
        for one in items
        if not (likeliest(one).kind == likeliest(one).site == SKIN and likeliest(one).value in named)
    )


SKIN = "skin"
"""The kind, and the site where none in particular is meant."""


def _which_tube(item: Entry | Question) -> Question:
    """A tube that is said in one breath with the airway may be the airway's."""
    entry = likeliest(item)
    return Question(candidates=(entry,), why="unsure", text="which tube was not said")


def _same(one: Entry, other: Entry) -> bool:
    """One says nothing that the other does not say."""
    mine, others = one.model_dump(exclude_none=True), other.model_dump(exclude_none=True)
    return mine.items() <= others.items() or others.items() <= mine.items()


ON = "on"
"""Implied by the number of the same thing: "weight is on, one kilo"."""

READ_OFF = frozenset({"pressure", "depth", "volume_total", "vital", "manometry"})
"""Kinds of which a moment has one number."""


STATES = frozenset({"bleeding", "leak_test", "clamp", "balloon", "resistance", "skin"})
"""Kinds of which a moment has one state."""

OPPOSED = (frozenset({"in", "out"}), frozenset({"on", "off"}), frozenset({"confirmed", "not_confirmed"}))
"""Values that one thing cannot have at once."""


def _contradicts(one: Entry, other: Entry) -> bool:
    if one.kind == other.kind == "depth" and one.site != other.site:
        return one.value != other.value or None not in (one.site, other.site)
    alike = (one.kind, one.site, one.detail) == (other.kind, other.site, other.detail)
    alike = alike and (one.second == other.second or one.kind == "vital")
    opposed = one.kind in STATES or frozenset((one.value, other.value)) in OPPOSED
    states = opposed and (one.kind, one.site) == (other.kind, other.site)
    return (states or (one.kind in READ_OFF and alike)) and one.value != other.value


def volumes_asked(lexicon: Lexicon, found: tuple[Token, ...], items: Items) -> Items:
    """The same, with a volume asked where no word says that air was added or that it is all, for "fifty in the gastric"
    may be a level, or where a pressure was read at it, for that is perhaps the test before insertion."""
    says = any(token.meaning & (lexicon.added | lexicon.total) or _goes_in(lexicon, token) for token in found)
    if says and not _is_a_state(found):
        return items
    sure = tuple(item for item in items if isinstance(item, Entry) or item.why == "sound alike")
    volume = next((item for item in sure if likeliest(item).kind in VOLUMES), None)
    pressure = next((item for item in sure if likeliest(item).kind == "pressure"), None)
    if volume is None:
        return items
    if pressure is not None and likeliest(volume).site == "gastric" == (likeliest(pressure).site or "gastric"):
        rest = tuple(item for item in items if item not in (volume, pressure))
        return (*rest, _read_at(likeliest(volume), likeliest(pressure)))
    if likeliest(volume).kind == "volume_total" and _only_with(lexicon, found):
        return tuple(_more_or_in_all(item) if item is volume else item for item in items)
    if likeliest(volume).kind == "volume_in" and not _ends_with_in(found):
        return tuple(_more_or_in_all(item) if item is volume else item for item in items)
    return items


VOLUMES = ("volume_in", "volume_total")


def _is_a_state(found: tuple[Token, ...]) -> bool:
    """ "Is with fifty filled" may say how full it is, as "is filled with fifty" does."""
    texts = [token.text for token in found if not token.is_pause]
    copula = [place for place, text in enumerate(texts[:-1]) if text in _IS and texts[place + 1] == "with"]
    return bool(copula) and texts[-1] == "filled"


_IS = ("is", "are", "'s", "now")


def _ends_with_in(found: tuple[Token, ...]) -> bool:
    """Whether a clause ends so: "gastric one fifty in" says what was done, "fifty in the gastric" where it is."""
    return any(
        token.text == "in" and (then is None or then.is_pause)
        for token, then in zip(found, (*found[1:], None), strict=False)
    )


def _goes_in(lexicon: Lexicon, token: Token) -> bool:
    """Whether a word says that it went in, as "into" and "gone in" do, and not only that it is there."""
    says = bool(token.meaning & lexicon.way_in) and token.text.split()[0] != "in"
    return says and not (token.text == "to" and token.meaning & lexicon.level)


def _only_with(lexicon: Lexicon, found: tuple[Token, ...]) -> bool:
    """Whether only "with" says that it is there: "gone up with fifty" may be fifty more, "is with fifty" is not."""
    says = [place for place, token in enumerate(found) if token.meaning & lexicon.level and token.amount is None]
    texts = {found[place].text for place in says} - {"up", "on", "in"}
    before = {found[place - 1].text for place in says if found[place].text == "with" and place}
    return texts == {"with"} and before.isdisjoint(_IS)


def _read_at(volume: Entry, pressure: Entry) -> Question:
    test = Entry(
        kind="manometry",
        site=volume.site,
        value=pressure.value,
        unit=pressure.unit,
        second=volume.number,
        second_unit=volume.unit,
    )
    text = "a test before insertion, or a volume and a pressure: say one of them"
    return Question(candidates=(test, volume, pressure), why="two readings", text=text)


def _more_or_in_all(volume: Entry | Question) -> Question:
    """The volume as more and as all that is in, each as it may have sounded."""
    said = volume.candidates if isinstance(volume, Question) else (volume,)
    other = "volume_in" if said[0].kind == "volume_total" else "volume_total"
    others = (one.model_copy(update={"kind": other}) for one in said)
    number = said[0].number
    text = f"{number:g} mL more, or {number:g} mL in all"
    return Question(candidates=(said[0], *others, *said[1:]), why="two readings", text=text)
