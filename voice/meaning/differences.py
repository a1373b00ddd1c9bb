"""How a second hearing differs from the log, utterance by utterance: another number, another direction, said and not
logged, logged and not said.

Every reading that any ear has gets a share of what may have been said, beside the share of no entry at all: from how
far the ears believe it, from how much better than the other readings its words fit in the ears of the general
recogniser, and from whether the log would then fit together: a reading that breaks rules or sums is less likely than
one that mends them. The weights were chosen on the unseen clips (`tests/bench/relisten.py`): at most one right line in
twenty may be laid beside another, for somebody listens to each.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from log.basics.entry import QUERIES, Entry, Meaning, entries
from log.definition.procedure import Procedure
from log.facts.events import Differs
from log.facts.line import Line
from log.facts.record import Record
from log.facts.second_hearing import KeptSound, Made
from voice.meaning.again import Again, Reading
from voice.meaning.thresholds import IN_TALK

Breaks = Callable[[int, Entry], int]
"""How many more findings the rules would have if this line said this; fewer are negative."""


@dataclass(frozen=True, slots=True)
class Weights:
    """The weight of each, in natural log."""

    ears: float = 0.3
    """A unit of the log odds of the ears' belief."""
    other: float = 0.3
    """A unit of the general recogniser's lead over the best other reading."""
    furthest: float = 8.0
    """More lead counts no more."""
    agrees: float = 1.0
    """The general recogniser's own words mean the same."""
    breaks: float = 1.0
    """A finding that would come; one that would go counts for it."""
    nothing: float = -1.0
    """The log odds that it was no entry at all, where nothing speaks for any."""


WEIGHTS = Weights()

DOUBTED_BELOW = 0.5
"""Share below which what is logged is doubted: the likeliest other reading, or nothing, is laid beside it."""

SAID_FROM = 0.6
"""Share from which something that is not in the log is taken to have been said to it."""

SAID_IN_TALK_FROM = 0.8
"""The same of talk in the room, of which there is much."""

LEAST = 1e-4
"""No belief counts as less, nor the rest of it."""


@dataclass(frozen=True, slots=True)
class Found:
    """One difference, before it has a number."""

    differs: Differs
    number: int | None
    entry: Entry | None
    words: str
    """Those that the second hearing believes."""
    sure: float
    """Their share, 0 to 1."""
    draft: str = ""
    """The general recogniser's own words."""


def shares(
    readings: Sequence[Reading], drafted: Meaning, breaks: Callable[[Reading], int], weights: Weights = WEIGHTS
) -> list[float]:
    """The share of each reading, 0 to 1; what is left of 1 is that of no entry."""
    scores = [_score(one, readings, drafted, breaks(one), weights) for one in readings]
    most = max((*scores, weights.nothing))
    parts = [math.exp(score - most) for score in scores]
    whole = sum(parts) + math.exp(weights.nothing - most)
    return [part / whole for part in parts]


def _score(one: Reading, readings: Sequence[Reading], drafted: Meaning, breaks: int, weights: Weights) -> float:
    sure = min(max(one.sure, LEAST), 1 - LEAST)
    score = weights.ears * math.log(sure / (1 - sure)) - weights.breaks * breaks
    if one.chance is not None:
        others = [other.chance for other in readings if other is not one and other.chance is not None]
        lead = one.chance - max(others) if others else 0.0
        score += weights.other * max(-weights.furthest, min(lead, weights.furthest))
    return score + weights.agrees * (bool(entries_of(drafted)) and entries_of(drafted) == entries_of(one.meaning))


def entries_of(meaning: Meaning) -> tuple[Entry, ...]:
    """The likeliest entry of each item; questions to the log itself are none."""
    return tuple(entry for entry in entries(meaning) if entry.kind not in QUERIES)


def differences(
    procedure: Procedure, record: Record, sound: KeptSound, again: Again, breaks: Breaks
) -> tuple[Found, ...]:
    """How one utterance differs; nothing where somebody has corrected its lines by hand."""
    lines = [(made, record.line(made.number)) for made in sound.made]
    if any(by_hand(line) for _, line in lines) or sound.role == "note":
        return ()
    if not lines:
        return _said(procedure, record, sound, again) if sound.role in ("not understood", "talk") else ()
    still = [
        made for made, line in lines if line.status != "struck" and line.entry == made.entry
    ]  # not said anew since
    return _against(procedure, still, again, record, breaks)


def by_hand(line: Line) -> bool:
    """Whether somebody typed what this line says: that is no matter of hearing."""
    return line.origin.by == "typed" or any(change.origin.by == "typed" for change in line.changes)


def _said(procedure: Procedure, record: Record, sound: KeptSound, again: Again) -> tuple[Found, ...]:
    """Entries in speech of which the log made nothing."""
    found = shares(again.readings, again.drafted, lambda _: 0)
    best = max(zip(found, again.readings, strict=True), key=lambda one: one[0], default=None)
    least = SAID_IN_TALK_FROM if sound.role == "talk" else SAID_FROM
    if best is None or best[0] < least or not _are_entries(procedure, entries_of(best[1].meaning)):
        return ()
    agreed = best[1].sure >= IN_TALK.ask_from or entries_of(again.drafted) == entries_of(best[1].meaning)
    if sound.role == "talk" and not agreed:  # of some reading of talk the share is always high
        return ()
    words = " ".join(best[1].words)
    return tuple(Found("said, not logged", None, entry, words, best[0]) for entry in entries_of(best[1].meaning))


def _are_entries(procedure: Procedure, entries: Sequence[Entry]) -> bool:
    kinds = [procedure.kind_named(entry.kind) for entry in entries]
    return bool(kinds) and all(kind is not None and kind.role == "entry" for kind in kinds)


def _against(
    procedure: Procedure, made: Sequence[Made], again: Again, record: Record, breaks: Breaks
) -> tuple[Found, ...]:
    """The lines of an utterance against what is heard now."""
    if not made:
        return ()
    readings = [one for one in again.readings if _entries(made, one)]
    found = shares(readings, again.drafted, lambda one: _more_findings(made, one, breaks))
    logged = sum(share for share, one in zip(found, readings, strict=True) if _same(made, one))
    asked = [one for one in made if record.line(one.number).status == "asked"]
    if logged >= DOUBTED_BELOW:
        words = " ".join(next(one.words for one in readings if _same(made, one)))
        return tuple(Found("said, not logged", one.number, one.entry, words, logged) for one in asked)
    others = [pair for pair in zip(found, readings, strict=True) if not _same(made, pair[1])]
    share, other = max(others, key=lambda pair: pair[0], default=(0.0, None))
    nothing = 1 - sum(found)
    if other is not None and share >= nothing:
        return tuple(_paired(made, _entries(made, other), " ".join(other.words), share))
    return tuple(Found("logged, not said", one.number, None, "", nothing) for one in made if one not in asked)


def _more_findings(made: Sequence[Made], one: Reading, breaks: Breaks) -> int:
    if _same(made, one):
        return 0
    pairs = _paired(made, _entries(made, one), "", 0.0)
    return sum(breaks(pair.number, pair.entry) for pair in pairs if pair.number is not None and pair.entry is not None)


def _entries(made: Sequence[Made], one: Reading) -> tuple[Entry, ...]:
    """The entries of a reading; a bare number is that of the line it answers or corrects."""
    entries = entries_of(one.meaning)
    if len(made) == len(entries) == 1 and entries[0].kind in ("number", "correct"):
        return (made[0].entry.model_copy(update={"value": entries[0].value}),)
    if len(made) == len(entries) == 1 and entries[0].kind == "confirm":
        return (made[0].entry,)
    return entries


def _same(made: Sequence[Made], one: Reading) -> bool:
    now = _entries(made, one)
    return len(now) == len(made) and all(_agree(each.entry, entry) for each, entry in zip(made, now, strict=True))


def _agree(then: Entry, now: Entry) -> bool:
    """Whether they are the same, or now less was heard: no balloon."""
    return now == then or (now.site is None and now == then.model_copy(update={"site": None}))


def _paired(made: Sequence[Made], now: Sequence[Entry], words: str, sure: float) -> list[Found]:
    """Each line with the entry that is nearest to it; what is left on either side stands alone."""
    left, found = list(now), list[Found]()
    for one in made:
        nearest = min(left, key=lambda entry: _distance(one.entry, entry), default=None)
        if nearest is None:
            found.append(Found("logged, not said", one.number, None, words, sure))
            continue
        left.remove(nearest)
        if not _agree(one.entry, nearest):
            found.append(Found(_how(one.entry, nearest), one.number, nearest, words, sure))
    return found + [Found("said, not logged", None, entry, words, sure) for entry in left]


def _distance(first: Entry, second: Entry) -> tuple[bool, bool, bool, bool]:
    return (
        _stem(first) != _stem(second),
        first.kind != second.kind,
        first.site != second.site,
        first.value != second.value,
    )


def _stem(entry: Entry) -> str:
    """The kind without its direction: volume_in and volume_out are of one stem."""
    return entry.kind.split("_")[0]


def _how(then: Entry, now: Entry) -> Differs:
    """In what they differ first."""
    if _stem(then) != _stem(now) or then.detail != now.detail:
        return "other entry"
    if then.site != now.site:
        return "other balloon"
    if then.kind != now.kind or not isinstance(now.value, int | float):
        return "other direction"
    return "other number"
