"""The scribe's forms: one form for each thing that can be done to the record by hand. A form stays open with the
reason why not, until what it says is on disk.
"""

from __future__ import annotations

from log.basics.entry import Entry
from log.basics.errors import InputError
from log.facts.events import DifferenceHeard, FindingRaised
from log.facts.line import Line
from log.facts.spoken_notes import SpokenNote
from log.scribe import removal
from log.scribe.correct import Correction
from log.store.identifiers import Identifiers
from log.words.wording import sentence
from tui.room.desk import Desk
from tui.room.dialogs import Answers, Field, Form
from tui.room.table import says
from tui.views.times import moment
from voice.meaning.matcher import one_entry
from voice.phrases.complete import completion

Fields = dict[str, Field]
"""By name."""

LABELS = {
    "patient_first": "patient identifier",
    "patient_second": "second identifier",
    "device_size": "tube size",
    "device_lot": "tube lot number",
}


def amend(desk: Desk, line: Line) -> Form:
    """Another value or time for a line."""

    def done(answers: Answers) -> None:
        entry = _entry(desk, answers["words"]) if answers["words"] else None
        at = moment(answers["at"], desk.time) if answers["at"] else None
        by = _by(desk, answers, answers["words"])
        desk.write(lambda session: session.amend(line.number, entry, at, by))

    now = says(desk.session.procedure, line)
    fields: Fields = {
        "words": _words(desk, "Should be", "as it would be said; empty: as it is", line),
        "at": _time(desk, "Happened at", f"like 03:10; empty: {line.said_at:%H:%M:%S}"),
        **_signed(desk),
    }
    return Form(f"Amend line {line.number}: {now}", fields, done, desk.hand)


def strike(desk: Desk, line: Line) -> Form:
    """A line that should not be there."""

    def done(answers: Answers) -> None:
        by = _by(desk, answers)
        desk.write(lambda session: session.strike(line.number, by))

    what = says(desk.session.procedure, line)
    return Form(f"Strike line {line.number}: {what}", _signed(desk), done, desk.hand)


def late(desk: Desk) -> Form:
    """Something that happened earlier."""

    def done(answers: Answers) -> None:
        entry = _entry(desk, answers["words"])
        at, by = moment(answers["at"], desk.time), _by(desk, answers, answers["words"])
        desk.write(lambda session: session.enter_late(entry, at, by))

    fields: Fields = {
        "words": _words(desk, "What happened", "as it would be said"),
        "at": _time(desk, "When", "like 03:10"),
        **_signed(desk, "why it is written down only now"),
    }
    return Form("Late entry", fields, done, desk.hand)


def note(desk: Desk) -> Form:
    """Free words about this moment, or about a line."""

    def done(answers: Answers) -> None:
        about, text, author, at = _number(answers["line"]), answers["text"], answers["author"], desk.time
        desk.write(lambda session: session.write_note(text, about, author, at))

    fields: Fields = {
        "text": Field("Note"),
        "line": Field("Line", hint="empty: about this moment"),
        "author": Field("Author", desk.scribe),
    }
    return Form("Note", fields, done, desk.hand)


def acknowledge(desk: Desk, found: FindingRaised) -> Form:
    """A finding was seen, and why it may stand."""

    def done(answers: Answers) -> None:
        by = _by(desk, answers)
        desk.write(lambda session: session.acknowledge(found, by))

    title = f"{found.level.upper()}: {found.message}"
    return Form(title, _signed(desk, "why it may stand"), done, desk.hand)


def transcribe(desk: Desk, note: SpokenNote) -> Form:
    """The words of a spoken note."""
    number = note.line.number

    def done(answers: Answers) -> None:
        text, author, at = answers["text"], answers["author"], desk.time
        desk.write(lambda session: session.transcribe(number, text, author, at))

    fields: Fields = {
        "text": Field("Its words", note.written.text if note.written else "", "to hear it again: escape, h"),
        "author": Field("Author", desk.scribe),
    }
    title = f"Spoken note of {note.line.said_at:%H:%M:%S}, line {number}, {note.seconds:.0f} s"
    return Form(title, fields, done, desk.hand)


def confirm_draft(desk: Desk, one: DifferenceHeard) -> Form:
    """The words of a draft, as somebody who has listened corrects them."""

    def done(answers: Answers) -> None:
        by = Correction(answers["author"], "", desk.time, answers["text"])
        desk.write(lambda session: session.take_difference(one.difference, by))

    fields: Fields = {"text": Field("Its words", one.text, "as they were said"), "author": Field("Author", desk.scribe)}
    return Form(f"Draft of {one.said_at:%H:%M:%S}: hear it (p), then confirm its words", fields, done, desk.hand)


def leave_difference(desk: Desk, one: DifferenceHeard) -> Form:
    """The log stays as it is, whatever was heard again."""

    def done(answers: Answers) -> None:
        by = _by(desk, answers)
        desk.write(lambda session: session.leave_difference(one.difference, by))

    title = f"Leave difference {one.difference}: the log stays as it is"
    return Form(title, _signed(desk, "why the log is right"), done, desk.hand)


def identify(desk: Desk) -> Form:
    """Who is here, and which tube it is."""
    names = [name for name in Identifiers.model_fields if name != "salt"]

    def done(answers: Answers) -> None:
        given = Identifiers(**{name: answers[name] for name in names if answers[name]})
        if given == Identifiers():
            raise InputError("nothing is filled in", "fill in at least one, or leave with escape")
        at = desk.time
        desk.write(lambda session: removal.identify(session.ledger, given, desk.scribe, at))

    fields: Fields = {name: Field(LABELS.get(name, name.replace("_", " "))) for name in names}
    return Form("Team and tube (all may stay empty; replaces what was given before)", fields, done, desk.hand)


def _signed(desk: Desk, why: str = "it stands in the log") -> Fields:
    return {"reason": Field("Why", hint=why), "author": Field("Author", desk.scribe)}


def _words(desk: Desk, label: str, hint: str, instead_of: Line | None = None) -> Field:
    """An entry as it would be said. `instead_of`: the line that it amends, perhaps the wrong one."""

    def means(text: str) -> str:
        entry = _entry(desk, text)
        other = instead_of is not None and (entry.kind, entry.site) != (instead_of.entry.kind, instead_of.entry.site)
        return f"{'ANOTHER KIND OF ENTRY: ' if other else ''}{sentence(desk.session.procedure, entry)}"

    return Field(label, "", hint, means, lambda text: completion(desk.phrases, text))


def _entry(desk: Desk, text: str) -> Entry:
    """The one entry that these words are. Raises InputError, and names the key that helps."""
    try:
        return one_entry(desk.phrases, text)
    except InputError as error:
        raise InputError(error.problem, "escape, then l: look up how it is said") from None


def _time(desk: Desk, label: str, hint: str) -> Field:
    """A time that has come."""

    def means(text: str) -> str:
        now, at = desk.time, moment(text, desk.time)
        if at > now:
            raise InputError(f"{at:%H:%M:%S} has not come yet", "check date and time")
        return f"{at:%d %b %H:%M:%S}, {(now - at).total_seconds() // 60:.0f} min ago"

    return Field(label, "", hint, means)


def _by(desk: Desk, answers: Answers, typed: str = "") -> Correction:
    for name, what in (("reason", "no reason is given"), ("author", "nobody has signed")):
        if not answers[name]:
            raise InputError(what, "it stands in the log beside the correction")
    return Correction(answers["author"], answers["reason"], desk.time, typed)


def _number(text: str) -> int | None:
    if text and not (text.isascii() and text.isdigit()):
        raise InputError(f'"{text}" is not a line number', "see the first column, or leave it empty")
    return int(text) if text else None
