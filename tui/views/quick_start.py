"""One page for a ward that has never used the log: how to begin, what the screen says, the night, and how to end."""

from __future__ import annotations

from log.definition.procedure import Procedure
from log.exports.document import Document, Heading, Item, Notice, Paragraph, Points, Strong, Table, table

BEGIN = (
    (
        "tamponade devices --check",
        "Is the microphone good enough? A headset or a clip-on one beats the one in the lid.",
    ),
    ("tamponade voice-check", "Once for each operator, a minute: what is not heard in this voice and this room?"),
    ("tamponade listen", "Begin. The last entry is read back in large figures, with its digits and the total."),
)

SCREEN = (
    ("15 or 50 ?", 'A number is in doubt and counts in no total. Say "confirm" for the first, or the digits.'),
    ("SAY AGAIN", "What was said is not in the log. Say it again, or have the scribe press n."),
    ("NO SOUND", "Nothing is heard. Look at the cable; the scribe types meanwhile (n). The gap is in the log."),
    ("!!! HIGH", "A limit is passed or a step is missing. Act, then f says who has seen it and why it may stand."),
    ("!", "Airway blocked, tube to be cut: what to do, over the whole screen. It can be said as well."),
)

NIGHT = (
    ("w", "What is overdue, due and next: manometer, traction, mark, lips and skin, step-down."),
    ("v", "Volumes and pressures of the last 12 hours against their limits."),
    ("tamponade handover CASE", "One page for the team that comes; tamponade serve CASE is a second display."),
)

END = (
    ("q", "End listening and close the case. Closing the terminal or a crash loses nothing that was shown."),
    ("tamponade listen --case CASE", "Resume it."),
    ("tamponade export CASE --to pdf --out DIR", "The note, to complete and sign."),
)


def quick_start(procedure: Procedure) -> Document:
    """The page for one definition."""
    first = procedure.lead_word or "log"
    return Document(
        "Quick start",
        (
            Heading("Tamponade log: quick start for a ward", level=1),
            Paragraph(f"{procedure.title}, definition {procedure.version}"),
            Heading("Begin", level=2),
            _rows(BEGIN),
            Points(
                (
                    Item(f'Say "{first}", then what was done or read: "{first} gastric in fifty, five zero".'),
                    Item("Say what is, not what should be. Orders, questions and plans are not logged."),
                    Item(
                        "One person speaks to the log, one looks at the screen: read every number before relying on it."
                    ),
                )
            ),
            Heading("What the screen says", level=2),
            _rows(SCREEN),
            Heading("The hours after", level=2),
            _rows(NIGHT),
            Heading("End", level=2),
            _rows(END),
            Notice(tuple(procedure.cautions)),
        ),
    )


def _rows(rows: tuple[tuple[str, str], ...]) -> Table:
    return table(("Type, press or see", "What it is"), ((Strong(what), how) for what, how in rows))
