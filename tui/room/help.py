"""Every key and what can be said, on one page."""

from __future__ import annotations

from collections.abc import Sequence

from textual.binding import Binding, BindingType

from log.procedure import Procedure


def help_text(procedure: Procedure, bindings: Sequence[BindingType]) -> str:
    """The help as Markdown."""
    keys = "\n".join(
        f"| {b.key.replace('question_mark', '?')} | {b.description} |" for b in bindings if isinstance(b, Binding)
    )
    cautions = "\n".join(f"> {caution}\n>" for caution in procedure.cautions)
    return f"""# Keys and words

{cautions}

| key | what it does |
|---|---|
{keys}
| ctrl+p | all of this to search |
| arrows, mouse | choose a line of the log |
| escape | leave a form or this page |

With an open microphone every entry begins with **{procedure.lead_word}**: "{procedure.lead_word} gastric in five zero".
An answer to an open question needs no lead word.

| say | for |
|---|---|
| "confirm", or the digits | answering what is asked |
| "scratch that" | striking the last entry |
| "correct last to four zero" | another value for the last entry |
| "say again" | the last entry once more |
| "status", "how long" | how things stand; how long clocks run |

Everything that can be said: `tamponade procedures phrases {procedure.id}`
"""
