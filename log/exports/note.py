"""The procedure note: what the log knows of the case on paper, with blanks for everything it does not know, to be
completed, read and signed by the people who were there.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from log.definition.procedure import Procedure
from log.exports.markdown import BLANK, cautions, escaped, struck, table
from log.exports.note_sections import surroundings
from log.exports.note_timeline import OPEN, heard, timeline
from log.exports.note_top import header, state, totals
from log.facts.events import IdentifiersRemoved, KeepSound
from log.facts.record import RaisedFinding, Record
from log.facts.simulation import MARK
from log.facts.spoken_notes import spoken_notes
from log.store.chain import fingerprint
from log.summaries.whole import Whole
from log.words.wording import citation, cited, stamp, stamp_beside, way


def as_note(case: Whole) -> str:
    """The note as Markdown."""
    parts = (
        [f"# {f'{MARK}: p' if case.simulation else 'P'}rocedure note: {escaped(case.procedure.title)}", ""],
        _simulation(case),
        cautions(case.procedure.cautions),
        _unconfirmed(case),
        header(case),
        state(case),
        totals(case),
        surroundings(case),
        timeline(case),
        _findings(case),
        _sources(case),
        _notes(case),
        _spoken_notes(case),
        _missed(case),
        _gaps(case),
        _sessions(case),
        _removals(case),
        _made_with(case),
        _fingerprint(case),
        _signatures(),
        _simulation(case),
        cautions(case.procedure.cautions),
    )
    return "\n".join(line for part in parts for line in part).rstrip("\n") + "\n"


def _simulation(case: Whole) -> list[str]:
    """Of a rehearsal that it is one, first and last."""
    if not case.simulation:
        return []
    told = "Patient, events and values are invented; nobody was treated. What was played stands in the timeline."
    return [f"> **{escaped(case.simulation)}.** {told}", ""]


def _unconfirmed(case: Whole) -> list[str]:
    numbers = [str(line.number) for line in case.record.lines if line.status == "asked"]
    spoken = [str(note.line.number) for note in spoken_notes(case.record) if note.to_be_written_out]
    return [
        *([f"{OPEN}: line {', '.join(numbers)}. See timeline.", ""] if numbers else []),
        *([f"**Spoken notes to be written out**: line {', '.join(spoken)}. See spoken notes.", ""] if spoken else []),
    ]


# ---- what was found, what was missed, and what it was made with ----------------------------------------------------


def _findings(case: Whole) -> list[str]:
    head = ("Raised", "Level", "Rule", "Line", "Message", "Source", "Settled")
    rows = [_finding(case.procedure, case.record, found) for found in case.record.findings]
    return ["## Findings", "", *(table(head, rows) if rows else ["No rule had anything to say.", ""])]


def _sources(case: Whole) -> list[str]:
    keys = {key: None for found in case.record.findings for key in cited(case.procedure, found.raised.source)}
    rows = [(escaped(key), escaped(text)) for key, text in case.procedure.sources.items() if key in keys]
    return ["## Sources of the findings", "", *table(("Key", "Source"), rows)] if rows else []


def _finding(procedure: Procedure, record: Record, found: RaisedFinding) -> tuple[str, ...]:
    raised, settled = found.raised, found.settled
    end = (
        "**still open**"
        if settled is None
        else f"{stamp_beside(settled.logged_at, raised.logged_at)}: {escaped(settled.how)}"
    )
    seen = record.acknowledged(raised)
    if seen is not None:
        who = f"acknowledged {stamp_beside(seen.logged_at, raised.logged_at)} by {escaped(seen.author)}"
        end = f"{end}; {who}: {escaped(seen.reason)}"
    number = "none" if raised.number is None else str(raised.number)
    priority = "information" if raised.level == "information" else f"{raised.level} priority"
    return (
        stamp(raised.logged_at),
        priority,
        escaped(raised.rule),
        number,
        escaped(raised.message),
        escaped(citation(procedure, raised.source)),
        end,
    )


def _notes(case: Whole) -> list[str]:
    rows = [
        (
            stamp(written.said_at),
            "none" if written.number is None else str(written.number),
            escaped(written.text),
            f"{escaped(written.author)}, written down {stamp_beside(written.logged_at, written.said_at)}",
        )
        for written in case.record.notes
    ]
    return ["## Notes", "", *table(("About", "Line", "Note", "By"), rows)] if rows else []


def _spoken_notes(case: Whole) -> list[str]:
    """What was spoken as free words: written out or still to be, never left out."""
    rows = []
    for note in spoken_notes(case.record):
        words, by = ("**to be written out**", "") if note.kept else ("nothing was kept of it", "")
        if note.written is not None:
            words = escaped(note.written.text)
            by = f"{escaped(note.written.author)}, {stamp_beside(note.written.logged_at, note.line.said_at)}"
        if note.line.status == "struck":
            words = f"{struck(words)} struck"
        rows.append((stamp(note.line.said_at), str(note.line.number), f"{note.seconds:.1f} s", words, by))
    head = ("Announced", "Line", "Sound", "Words", "Written out by")
    return ["## Spoken notes", "", *table(head, rows)] if rows else []


def _missed(case: Whole) -> list[str]:
    rows = [
        (stamp(missed.said_at), heard(missed.origin), escaped(missed.reason), escaped("; ".join(missed.nearest)))
        for missed in case.record.missed
    ]
    head = ("Time", "Heard", "Why it made no entry", "Nearest phrases")
    return ["## Not understood", "", *(table(head, rows) if rows else ["Nothing.", ""])]


def _gaps(case: Whole) -> list[str]:
    rows = [(stamp(gap.began_at), f"{gap.seconds:.1f} s", escaped(gap.reason)) for gap in case.record.gaps]
    return ["## Gaps in hearing", "", *(table(("Began", "For", "Why"), rows) if rows else ["None known.", ""])]


def _sessions(case: Whole) -> list[str]:
    """Who had the log in hand from when on."""
    opened = case.opened
    rows = [
        (stamp(opened.logged_at), "opened", escaped(opened.author), escaped(opened.source), escaped(opened.software))
    ]
    for again in case.record.resumed:
        back = f", the machine's clock read {again.clock_set_back_s:.0f} s less" if again.clock_set_back_s else ""
        rows.append(
            (
                f"{stamp(again.logged_at)}{back}",
                "gone on with",
                escaped(again.author),
                escaped(again.source),
                escaped(again.software),
            )
        )
    rows += [
        (stamp(changed.logged_at), f"listening: {escaped(way(changed))}", escaped(changed.author), "", "")
        for changed in case.record.ways
    ]
    head = ("From", "The log was", "By", "Listened to", "Software")
    return ["## Kept by", "", *table(head, rows)]


def _removals(case: Whole) -> list[str]:
    rows = [
        (
            stamp(gone.logged_at),
            "identifiers" if isinstance(gone, IdentifiersRemoved) else f"{len(gone.sha256)} sounds",
            escaped(gone.author),
            escaped(gone.reason),
        )
        for gone in case.record.removals
    ]
    return ["## Removed", "", *table(("When", "What", "By", "Why"), rows)] if rows else []


def _made_with(case: Whole) -> list[str]:
    opened, procedure = case.opened, case.procedure
    approved = (opened.override_approved_by, opened.override_approved_on)
    rows = [
        ("Definition", escaped(procedure.id)),
        ("Version", escaped(procedure.version)),
        ("Sound", SOUND[opened.keep_sound]),
    ]
    if not case.deidentified:
        intact = fingerprint(opened.definition) == opened.definition_sha256
        rows += [
            (
                "SHA-256 of the definition",
                escaped(opened.definition_sha256) + ("" if intact else " **DOES NOT MATCH the definition kept**"),
            ),
            (
                "Local override",
                escaped("approved by {} on {}".format(*(part or "?" for part in approved)))
                if any(approved)
                else "none",
            ),
        ]
    return ["## Made with", "", *table(("What", "Which"), rows)]


SOUND: Mapping[KeepSound, str] = MappingProxyType(
    {
        "all": "all speech was kept with the case; a voice identifies a person",
        "utterances": "what was logged, asked or not understood was kept with the case; a voice identifies a person",
        "none": "none was kept",
    }
)


def _fingerprint(case: Whole) -> list[str]:
    """What this note can be checked against, years later."""
    if case.head is None:
        return []
    head = case.head
    rows = (
        ("Facts", str(head.facts)),
        ("SHA-256 of the last fact", escaped(head.sha256)),
        ("Public key (Ed25519)", escaped(head.public_key)),
        ("Signature", escaped(head.signature)),
    )
    told = (
        "Each fact carries the fingerprint of the one before it, so this one stands for the whole log up to here. "
        f"To check the case against this note: tamponade verify {escaped(case.opened.case)} --head, then the "
        "fingerprint; --key, then the public key."
    )
    return ["## Fingerprint of the log", "", told, "", *table(("What", "Which"), rows)]


def _signatures() -> list[str]:
    people = ("Author of this note", "Operator", "Scribe", "Countersigned")
    rows = ((person, BLANK, BLANK, BLANK, BLANK) for person in people)
    return ["## Signatures", "", *table(("As", "Name in print", "Role", "Signature", "Date and time"), rows)]
