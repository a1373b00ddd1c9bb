"""Typed words and their meaning, one utterance a line: understanding is measured with it, from inside and outside."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from log.basics.entry import Meaning, NotUnderstood, Question
from log.basics.errors import InputError
from log.basics.visible import visible
from log.rules.definitions import load
from tui.commands.options import definition_option, lead_word_option, local_option
from tui.live.heard_json import Event, events
from voice.meaning.matcher import Listening, settled, understand
from voice.phrases.phrases import compile_phrases


@click.command("understand", short_help="Show what is understood of typed words, one utterance a line.")
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line: text, events, why.")
@definition_option
@local_option
@lead_word_option("none")
def command(file: str, as_json: bool, definition: str, local: Path | None, lead_word: str | None) -> None:
    """Read each line of FILE (- is standard input) as one utterance and print what the log would make of it.

    No case is touched. Whoever types is not asked whether fifteen was fifty.
    """
    phrases = compile_phrases(load(definition, local).procedure)
    listening = Listening(lead_word=lead_word)
    for text in _lines(file):
        meaning = settled(understand(phrases, text, listening))
        found = events(meaning, 1.0, 0.0, queries=True)
        if as_json:
            click.echo(json.dumps({"text": text, "events": found, "why": _why(meaning)}))
            continue
        why = _why(meaning)
        shown = "; ".join(map(_shown, found)) or "no entry"
        click.echo(visible(f"{text} -> {shown}" + (f" [{why}]" if why else "")))


def _shown(event: Event) -> str:
    parts = (event["kind"], event["site"], event.get("detail"), event["value"], event["unit"])
    words = " ".join(str(part) for part in parts if part is not None)
    return f"{words} (asked)" if event["pending"] else words


def _lines(file: str) -> Iterator[str]:
    try:
        text = sys.stdin.read() if file == "-" else Path(file).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise InputError(f"{file}: there is no such file", "check the path") from None
    except (OSError, UnicodeDecodeError) as error:
        remedy = "give a text file in UTF-8, one utterance a line"
        raise InputError(f"{file}: cannot be read ({error})", remedy) from None
    yield from (line.strip() for line in text.splitlines() if line.strip())


def _why(meaning: Meaning) -> str:
    """Why it was asked or left; empty where all of it is logged."""
    if isinstance(meaning, NotUnderstood):
        return meaning.why
    return "; ".join(item.text for item in meaning.items if isinstance(item, Question))
