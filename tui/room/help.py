"""Every key and what can be said, on one page, by what one wants to do."""

from __future__ import annotations

from collections.abc import Sequence

from log.definition.procedure import Procedure
from tui.room.keys import Key

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("When the tube blocks the airway", ("emergency",)),
    ("To answer and put right", ("answer", "scratch", "undo", "amend", "strike")),
    ("To write down what was not heard", ("late", "note", "transcribe", "identify")),
    ("To deal with findings", ("acknowledge",)),
    ("To watch over the placed tube", ("watch",)),
    ("To be heard", ("talk", "mode", "sound", "again", "play")),
    ("To find help and to leave", ("help_page", "leave")),
)
"""Task -> the names of its keys."""

SPELLED = {"space": "space bar"}


def help_text(procedure: Procedure, keys: Sequence[Key]) -> str:
    """The help as Markdown."""
    named = {key.name: key for key in keys}
    groups = "\n".join(_group(title, [named[name] for name in names]) for title, names in GROUPS)
    cautions = "\n".join(f"> {caution}\n>" for caution in procedure.cautions)
    return f"""# Keys and words

{cautions}

{groups}
- **arrows, mouse**: Choose a line of the log.
- **escape**: Leave a form or this page.
- **ctrl+p**: Search in all that can be done.

## To say an entry

With the lead word every entry begins with **{procedure.lead_word}**: "{procedure.lead_word} gastric in five zero".
An answer to an open question needs no lead word.

- "airway emergency", "cut the tube": show at once what to do; no lead word is needed. "emergency over": take it away.
- "confirm", or the digits: answer what is asked.
- "scratch that": strike the last entry. "put it back": take back what was struck or corrected last.
- "correct last to four zero": give the last entry another value.
- "say again": have the last entry once more.
- "take a note": what you say next is kept as sound, to be transcribed; nothing in it is an entry.
- "status": see how things stand and what comes next. "how long": how long the clocks run.

Everything that can be said: `tamponade procedures phrases {procedure.id}`
"""


def _group(title: str, keys: Sequence[Key]) -> str:
    listed = "".join(f"- **{SPELLED.get(key.printed, key.printed)}**: {key.sentence}\n" for key in keys)
    return f"## {title}\n\n{listed}"
