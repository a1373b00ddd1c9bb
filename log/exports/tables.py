"""Tables that several formats share: cautions, findings, gaps in hearing, misunderstandings, notes, corrections,
and which log it was made from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from log.exports.document import Cells, Notice, Strong, Struck, Table, Words, joined, plain, table
from log.exports.lines import changed, in_the_room
from log.facts.events import (
    CaptureGap,
    CaseOpened,
    FindingAcknowledged,
    FindingRaised,
    FindingSettled,
    NotUnderstoodHeard,
)
from log.facts.findings import RaisedFinding
from log.facts.origin import KeepSound
from log.facts.spoken_notes import SpokenNote, spoken_notes
from log.store.chain import Head, fingerprint
from log.summaries.debrief import Correction
from log.summaries.whole import Whole
from log.words.wording import citation, cited, heard, priority, span, stamp, stamp_beside

PLAYED = "Patient, events and values are invented; nobody was treated. What was played stands in the timeline."

SOUND: Mapping[KeepSound, str] = MappingProxyType(
    {
        "all": "all speech was kept with the case; a voice identifies a person",
        "utterances": "what was logged, asked or not understood was kept with the case; a voice identifies a person",
        "none": "none was kept",
    }
)


def cautions(case: Whole) -> Notice:
    """The definition's cautions."""
    return Notice(tuple((Strong("Caution:"), f" {caution}") for caution in case.procedure.cautions))


def simulation(case: Whole) -> tuple[Notice, ...]:
    """The mark of a rehearsal."""
    words: Words = (Strong(f"{case.simulation}."), f" {PLAYED}")
    return (Notice((words,), "simulation"),) if case.simulation else ()


def made_from(case: Whole) -> str:
    """The log that this was made from, in one line, to be compared with the log itself."""
    if case.deidentified:
        return f"identity removed, {len(case.links)} facts"
    facts, sha256 = (case.head.facts, case.head.sha256) if case.head else (len(case.links), case.links[-1].sha256)
    return f"log SHA-256 {sha256}, {facts} facts"


def findings(case: Whole) -> Table:
    """Every finding with its source and what became of it."""
    head = ("Raised", "Level", "Rule", "Line", "Message", "Source", "Settled")
    short = citations(case)
    rows = (_finding(case, found, short[found.raised.source]) for found in case.record.findings)
    return table(head, rows, "No rule had anything to say.")


def _finding(case: Whole, found: RaisedFinding, source: str) -> Cells:
    raised = found.raised
    return (
        in_the_room(case, raised.logged_at),
        priority(raised.level),
        raised.rule,
        _line(raised.number),
        raised.message,
        source,
        fate(raised, found.settled, case.record.acknowledged(raised)),
    )


def fate(raised: FindingRaised, settled: FindingSettled | None, seen: FindingAcknowledged | None) -> Words:
    """The end of a finding, or that it is still open, and who acknowledged it."""
    end: Words = Strong("still open")
    if settled is not None:
        end = f"{stamp_beside(settled.logged_at, raised.logged_at)}: {settled.how}"
    if seen is None:
        return end
    who = f"acknowledged {stamp_beside(seen.logged_at, raised.logged_at)} by {seen.author}"
    return joined((end, f"{who}: {seen.reason}"))


def citations(case: Whole) -> Mapping[str, str]:
    """Each source of the findings, and how it is cited in short."""
    return {source: citation(case.procedure, source) for source in {one.raised.source for one in case.record.findings}}


def sources(case: Whole) -> Table:
    """The sources that the findings cite."""
    keys = {key for source in citations(case) for key in cited(case.procedure, source)}
    return table(("Key", "Source"), ((key, text) for key, text in case.procedure.sources.items() if key in keys))


def gaps(found: Iterable[CaptureGap]) -> Table:
    """Times in which nothing could be heard."""
    rows = ((stamp(gap.began_at), f"{gap.seconds:.1f} s", gap.reason) for gap in found)
    return table(("Began", "For", "Why"), rows, "None known.")


def missed(found: Iterable[NotUnderstoodHeard]) -> Table:
    """Speech that made no entry."""
    rows = ((stamp(one.said_at), heard(one.origin), one.reason, "; ".join(one.nearest)) for one in found)
    return table(("Time", "Heard", "Why it made no entry", "Nearest phrases"), rows, "Nothing.")


def corrections(case: Whole, found: Iterable[Correction]) -> Table:
    """Lines that were changed or struck after they stood."""
    rows = (
        (
            str(one.line.number),
            stamp(one.change.at),
            changed(case.procedure, one.line, one.change),
            span(one.after),
            one.change.reason,
            one.change.origin.author,
        )
        for one in found
    )
    return table(("Line", "Changed", "What", "After", "Why", "By"), rows, "None.")


def notes(case: Whole) -> Table:
    """Free words of the scribe."""
    rows = (
        (
            stamp(written.said_at),
            _line(written.number),
            written.text,
            f"{written.author}, written down {stamp_beside(written.logged_at, written.said_at)}",
        )
        for written in case.record.notes
    )
    return table(("About", "Line", "Note", "By"), rows, "None.")


def spoken(case: Whole) -> Table:
    """Spoken notes, transcribed or still to be."""
    head = ("Announced", "Line", "Sound", "Words", "Transcribed by")
    return table(head, map(_spoken, spoken_notes(case.record)), "None.")


def _spoken(note: SpokenNote) -> Cells:
    words: Strong | str = Strong("to be transcribed") if note.kept else "nothing was kept of it"
    by = ""
    if note.written is not None:
        words = note.written.text
        by = f"{note.written.author}, {stamp_beside(note.written.logged_at, note.line.said_at)}"
    cell: Words = (Struck(plain(words)), " struck") if note.line.status == "struck" else words
    return stamp(note.line.said_at), str(note.line.number), f"{note.seconds:.1f} s", cell, by


def _line(number: int | None) -> str:
    return "none" if number is None else str(number)


def made_with(case: Whole) -> Table:
    """The definition, and what was kept of the sound."""
    opened, procedure = case.opened, case.procedure
    rows: list[Cells] = [
        ("Definition", procedure.id),
        ("Version", procedure.version),
        ("Sound", SOUND[opened.keep_sound]),
    ]
    if not case.deidentified:
        rows += [("SHA-256 of the definition", _definition(opened)), ("Local override", _override(opened))]
    return table(("What", "Which"), rows)


def _definition(opened: CaseOpened) -> Words:
    if fingerprint(opened.definition) == opened.definition_sha256:
        return opened.definition_sha256
    return f"{opened.definition_sha256} ", Strong("DOES NOT MATCH the definition kept")


def _override(opened: CaseOpened) -> str:
    by, on = opened.override_approved_by, opened.override_approved_on
    return f"approved by {by or '?'} on {on or '?'}" if by or on else "none"


def fingerprint_of(head: Head) -> Table:
    """The signed head of the chain of facts."""
    rows = (
        ("Facts", str(head.facts)),
        ("SHA-256 of the last fact", head.sha256),
        ("Public key (Ed25519)", head.public_key),
        ("Signature", head.signature),
    )
    return table(("What", "Which"), rows)
