"""An X-ray vouches for the place of the tube when it was taken, with the balloon in the stomach as it was then.

It stops vouching when the tube lies elsewhere or that balloon has been empty. A film from before the tube went in
vouches for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from log.basics.entry import Entry, Number

MOVED_SINCE: Final = "tube moved since"
EMPTY_SINCE: Final = "balloon deflated since"
INSERTED_SINCE: Final = "tube inserted since"
OUT_SINCE: Final = "tube out since"
REQUESTS = ("requested", "taken")
"""Words about a film that nobody has read yet."""

Void = Literal["", "tube moved since", "balloon deflated since", "tube inserted since", "tube out since"]


@dataclass(frozen=True, slots=True)
class Film:
    """The last word on the X-ray."""

    word: str
    """ "confirmed", "not_confirmed", "requested" or "taken"."""
    depth: Entry | None = None
    """The mark at which the tube lay, once it was said."""
    drawn: bool = False
    """Whether the tube was drawn up against the junction since, with its anchor filled."""
    void: Void = ""
    """Why it no longer vouches for the position."""

    @property
    def confirms(self) -> bool:
        """Whether it vouches for the position now."""
        return self.word == "confirmed" and not self.void

    @property
    def confirmed_once(self) -> bool:
        """Whether it did when it was read."""
        return self.word == "confirmed"

    @property
    def in_words(self) -> str:
        """Its word, or why that no longer counts."""
        return self.void or self.word


@dataclass(frozen=True, slots=True)
class Anchor:
    """The balloon in the stomach as the film needs it."""

    up: bool
    full: bool
    """Filled to the least that its definition wants."""
    pulled: bool
    """Whether traction is or was on it in this place."""


def film_after_word(film: Film | None, word: str, depth: Entry | None) -> Film:
    """The film after one more word on it. A further film that nobody has read does not revoke what one confirms."""
    if word in REQUESTS and film is not None and film.confirms:
        return film
    return Film(word, depth)


def film_after_depth(film: Film | None, depth: Entry, anchor: Anchor, allowed_cm: Number) -> Film | None:
    """The film after a depth was read. The tube may move by `allowed_cm`; further only once and outwards, when the full
    anchor is drawn up against the junction, which is where it belongs."""
    if film is None or film.void or film.word in REQUESTS:
        return film
    moved = moved_cm(film.depth, depth) if film.depth is not None else None
    if moved is None:
        return replace(film, depth=film.depth or depth)
    if film.confirms and moved < 0 and not film.drawn and anchor.up and (anchor.full or anchor.pulled):
        return replace(film, depth=depth, drawn=True)
    if film.word == "not_confirmed":
        return replace(film, void=MOVED_SINCE) if moved and not anchor.up else film
    return replace(film, void=MOVED_SINCE) if abs(moved) > (allowed_cm if anchor.up else 0) else film


SLIPPED = ("tube slipped", "balloon moved")
"""Trouble after which the tube lies somewhere else."""


def film_after_slip(film: Film | None) -> Film | None:
    """The film once somebody said that the tube or its balloon moved: it does not show where that is now."""
    unread = film is None or film.void or film.word in REQUESTS
    return film if unread or film is None else replace(film, void=MOVED_SINCE)


def comparable(one: Entry, other: Entry) -> bool:
    """Whether two depths were read at the same place. A place that was not said does not hide a movement."""
    return one.site is None or other.site is None or one.site == other.site


def moved_cm(first: Entry, last: Entry) -> Number | None:
    """Centimetres from one depth to another, further in above nought; None where the two cannot be compared."""
    if first.number is None or last.number is None or not comparable(first, last):
        return None
    return round(last.number - first.number, 6)  # without the dust of binary fractions
