"""What is understood of one sentence, for the tests of the frames."""

from __future__ import annotations

from log.basics.entry import Entry, Meaning, Question, Understood
from tests.cases import phrases
from voice.meaning.frames.understand import by_frames
from voice.meaning.matcher import settled
from voice.meaning.normalise import sentence


def framed(text: str) -> Meaning:
    """What the frames alone make of it; whoever types is not asked whether fifteen was fifty."""
    return settled(by_frames(phrases(), sentence(text, phrases().words)))


def items(text: str) -> tuple[Entry | Question, ...]:
    meaning = framed(text)
    return meaning.items if isinstance(meaning, Understood) else ()


def logged(text: str) -> tuple[tuple[object, ...], ...]:
    """Kind, site, value and detail of everything that is logged at once."""
    return tuple((one.kind, one.site, one.value, one.detail) for one in items(text) if isinstance(one, Entry))


def asked(text: str) -> tuple[Question, ...]:
    return tuple(one for one in items(text) if isinstance(one, Question))
