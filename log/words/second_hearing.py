"""The second hearing in words, the same on paper, on the screen and in the terminal."""

from __future__ import annotations

from log.definition.procedure import Procedure
from log.facts.events import DifferenceHeard
from log.facts.line import Line
from log.facts.record import Record
from log.facts.second_hearing import Reviewed, waiting
from log.words.wording import listed, many, sentence


def progress_in_words(found: Reviewed) -> str:
    """ "40 of 41 sounds heard again; 3 differences: 1 reviewed (1 taken, 0 left), 2 remain"."""
    heard = f"{found.heard} of {many(found.sounds, 'sound')} heard again"
    if not found.differences:
        return f"{heard}; no difference"
    fates = f"{found.taken} taken, {found.left} left"
    settled = f", {found.settled} corrected since" if found.settled else ""
    differences = f"{many(found.differences, 'difference')}: {found.reviewed} reviewed ({fates}){settled}"
    return f"{heard}; {differences}, {len(found.waiting)} {'remains' if len(found.waiting) == 1 else 'remain'}"


def log_says(procedure: Procedure, record: Record, one: DifferenceHeard) -> str:
    """The line that it stands beside as it reads now, or that there is none."""
    if one.number is None:
        return "no line"
    line = record.line(one.number)
    return f"line {line.number}: {_line(procedure, line)}"


def _line(procedure: Procedure, line: Line) -> str:
    if line.status == "asked":
        return f"{listed(sentence(procedure, one) for one in line.candidates)}?"
    return f"{sentence(procedure, line.entry)}{' (struck)' if line.status == 'struck' else ''}"


def heard_now(procedure: Procedure, one: DifferenceHeard) -> str:
    """The second hearing: an entry, a draft of words, or nothing."""
    if one.differs == "words":
        return drafted(one.text)
    words = f' "{one.text}"' if one.text else ""
    return sentence(procedure, one.entry) + words if one.entry is not None else f"no entry{words}"


def drafted(text: str) -> str:
    """Words that a program wrote down and nobody has confirmed."""
    return f'draft, not confirmed: "{text}"' if text else "nothing"


def fate(record: Record, one: DifferenceHeard) -> str:
    """The end that it came to, and by whom."""
    review = record.reviews.get(one.difference)
    if review is None:
        return "to be reviewed" if one in waiting(record) else "corrected since"
    return f"{'taken' if review.taken else 'left'} by {review.author}"
