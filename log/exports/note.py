"""The procedure note: what the log knows of the case on paper, with boxes for everything it does not know, to be
completed, read and signed by the people who were there.
"""

from __future__ import annotations

from log.exports.document import (
    BOX,
    Block,
    Document,
    Figure,
    Heading,
    Paragraph,
    Strong,
    Table,
    section,
    table,
    unless_empty,
)
from log.exports.lines import OPEN, zone
from log.exports.markdown import as_markdown
from log.exports.note_sections import surroundings
from log.exports.note_state import state, totals
from log.exports.note_summary import header, still_open, to_complete
from log.exports.note_timeline import timeline
from log.exports.second_hearing import second_hearing, to_be_reviewed
from log.exports.tables import (
    cautions,
    findings,
    fingerprint_of,
    gaps,
    made_with,
    missed,
    notes,
    simulation,
    sources,
    spoken,
)
from log.facts.events import IdentifiersRemoved
from log.facts.simulation import MARK
from log.facts.spoken_notes import spoken_notes
from log.summaries.whole import Whole
from log.words.wording import clock_correction, many, stamp, way

TO_CHECK = (
    "Each fact carries the fingerprint of the one before it, so this one stands for the whole log up to here. "
    "To check the case against this note: tamponade verify {case} --head, then the fingerprint; --key, then the "
    "public key."
)


def as_note(case: Whole) -> str:
    """The note as Markdown."""
    return as_markdown(note(case))


def note(case: Whole, *figures: Figure) -> Document:
    """The note: a summary to sign, then the appendix, where the figures stand after the totals."""
    title = f"{f'{MARK}: p' if case.simulation else 'P'}rocedure note: {case.procedure.title}"
    first_and_last = (*simulation(case), cautions(case))
    blocks = (
        Heading(title, level=1),
        *first_and_last,
        *_unconfirmed(case),
        *_to_sign(case),
        Heading("Appendix: all that the log has of it", level=1),
        *_appendix(case, figures),
        *first_and_last,
    )
    return Document("Procedure note", blocks)


def _to_sign(case: Whole) -> tuple[Block, ...]:
    """The summary that is read and signed: at most two pages, with all that is known on the first where it fits, and
    the place to sign below it."""
    return (
        *section("Procedure", Paragraph(zone(case)), header(case)),
        *section("Open findings of high priority", *(still_open(case) or (Paragraph("None."),))),
        _signatures("Author of this note"),
        *section("State at the end", state(case)),
        *section("Further signatures", _signatures("Operator", "Scribe", "Countersigned")),
        *unless_empty("To complete by hand", to_complete(case)),
    )


def _appendix(case: Whole, figures: tuple[Figure, ...]) -> tuple[Block, ...]:
    return (
        *section("Totals", *totals(case)),
        *figures,
        *surroundings(case),
        *section("Timeline", timeline(case)),
        *section("Findings", findings(case)),
        *unless_empty("Sources of the findings", sources(case)),
        *unless_empty("Notes", notes(case)),
        *unless_empty("Spoken notes", spoken(case)),
        *section("Not understood", missed(case.record.missed)),
        *second_hearing(case),
        *section("Gaps in hearing", gaps(case.record.gaps)),
        *section("Kept by", _sessions(case)),
        *unless_empty("Removed", _removals(case)),
        *section("Made with", made_with(case)),
        *_fingerprint(case),
    )


def _unconfirmed(case: Whole) -> tuple[Block, ...]:
    numbers = [str(line.number) for line in case.record.lines if line.status == "asked"]
    spoken = [str(note.line.number) for note in spoken_notes(case.record) if note.to_be_transcribed]
    asked = Paragraph((OPEN, f": line {', '.join(numbers)}. See timeline."))
    unwritten = Paragraph((Strong("Spoken notes to be transcribed"), f": line {', '.join(spoken)}. See spoken notes."))
    return *((asked,) if numbers else ()), *((unwritten,) if spoken else ()), *to_be_reviewed(case.record)


def _sessions(case: Whole) -> Table:
    """The sessions: who kept the log from when on."""
    opened = case.opened
    rows = [(stamp(opened.logged_at), "opened", opened.author, opened.source, opened.software)]
    for again in case.record.resumed:
        back = f", the machine's clock read {again.clock_set_back_s:.0f} s less" if again.clock_set_back_s else ""
        rows.append((f"{stamp(again.logged_at)}{back}", "resumed", again.author, again.source, again.software))
    rows += [(stamp(one.logged_at), clock_correction(one), one.author, "", "") for one in case.record.clocks]
    rows += [
        (stamp(changed.logged_at), f"listening: {way(changed)}", changed.author, "", "") for changed in case.record.ways
    ]
    return table(("From", "The log was", "By", "Listened to", "Software"), rows)


def _removals(case: Whole) -> Table:
    rows = (
        (
            stamp(gone.logged_at),
            "identifiers" if isinstance(gone, IdentifiersRemoved) else many(len(gone.sha256), "sound"),
            gone.author,
            gone.reason,
        )
        for gone in case.record.removals
    )
    return table(("When", "What", "By", "Why"), rows)


def _fingerprint(case: Whole) -> tuple[Block, ...]:
    """The fingerprint that this note can be checked against, years later."""
    how = Paragraph(TO_CHECK.format(case=case.opened.case))
    return section("Fingerprint of the log", how, fingerprint_of(case.head)) if case.head else ()


def _signatures(*people: str) -> Table:
    head = ("As", "Name in print", "Role", "Signature", "Date and time")
    return table(head, ((person, BOX, BOX, BOX, BOX) for person in people))
