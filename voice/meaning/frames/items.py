"""From frames that were laid over a sentence to entries, and to questions where several of them fit."""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Entry, Question
from voice.meaning.doubt import Doubt
from voice.meaning.frames.laying import Laid
from voice.meaning.frames.reading import Reading


def items(reading: Reading, said: Doubt | None) -> Iterator[Entry | Question]:
    """An entry for each frame that was laid, or a question where several fit or something is in doubt.

    `said`: the reason why everything that was said in this breath is a question.
    """
    for each in map(_fullest, reading.laid):
        item = _item(each, said)
        yield item
        if (also := each[0].also) is not None:
            yield also if isinstance(item, Entry) else Question(candidates=(also,), why=item.why, text=item.text)


def _fullest(each: tuple[Laid, ...]) -> tuple[Laid, ...]:
    """The readings without those that say only a part of another: half a kilo, and half a kilo as a weight."""
    said = [laid.candidates[0].model_dump(exclude_none=True).items() for laid in each]
    return tuple(laid for laid, mine in zip(each, said, strict=True) if not any(mine < other for other in said))


def _item(each: tuple[Laid, ...], said: Doubt | None) -> Entry | Question:
    first = each[0]
    candidates = tuple(dict.fromkeys(one for laid in each for one in laid.candidates))
    doubts = [*first.doubts]
    if len(each) > 1:
        doubts.append(Doubt("two readings", "these words can be read in more than one way"))
    if said is not None:
        doubts.append(said)
    if not doubts and first.comment:
        doubts.append(Doubt("unsure", "said in passing"))
    if not doubts and first.alike:
        doubts.append(Doubt("sound alike", f"{_numbers(candidates)} sound alike"))
    if not doubts:
        return candidates[0]
    return Question(candidates=candidates, why=doubts[0].why, text="; ".join(doubt.text for doubt in doubts))


def _numbers(candidates: tuple[Entry, ...]) -> str:
    values = {one.number for one in candidates}
    return " and ".join(f"{one.number if len(values) > 1 else one.second:g}" for one in candidates)
