"""Sound files heard one by one: how accuracy is measured, from inside and outside."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from log.basics.errors import IncompleteInput, InputError
from log.basics.visible import visible
from log.rules.definitions import load
from tui.commands.options import definition_option, ears, engine_option, lead_word_option, local_option
from tui.live.heard_json import events
from voice.meaning.ears import Ears, EngineChoice
from voice.meaning.matcher import Listening
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile
from voice.sound.segment import BYTES_PER_SAMPLE, Segment


@click.command("hear", short_help="Show what is understood of sound files, one utterance each.")
@click.argument("files", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a file.")
@definition_option
@local_option
@lead_word_option("none")
@click.option("--expect", type=click.Choice(["number"]), help="Tell the recogniser that a bare number is due.")
@engine_option
def command(
    files: tuple[str, ...],
    as_json: bool,
    definition: str,
    local: Path | None,
    lead_word: str | None,
    expect: str | None,
    engine: EngineChoice,
) -> None:
    """Hear each of FILES as one utterance and print what it would log. FILE - reads names from standard input.

    A file that cannot be used is reported on standard error and the others go on; the exit code is then 3.
    """
    phrases = compile_phrases(load(definition, local).procedure)
    listening = Listening(lead_word=lead_word, number_due=expect == "number")
    failed: InputError | None = None
    with ears(phrases, lead_word, engine) as engines:
        for path in _named(files):
            try:
                pcm, breaks_off = _sound(path)
                click.echo(_heard(path, pcm, engines, listening, as_json))
                if breaks_off is not None:
                    raise breaks_off
            except InputError as error:
                click.echo(visible(f"tamponade: {error}"), err=True)
                failed = error
    if failed is not None:
        sys.exit(failed.exit_code)


def _named(files: tuple[str, ...]) -> list[Path]:
    names: list[str] = []
    for file in files:
        names += [line.strip() for line in sys.stdin if line.strip()] if file == "-" else [file]
    return [Path(name) for name in names]


def _sound(path: Path) -> tuple[bytes, IncompleteInput | None]:
    """The part of a file that can be read, and why that is not all of it."""
    pcm = bytearray()
    try:
        for frame in AudioFile(path).frames():
            pcm += frame.pcm
    except IncompleteInput as error:
        return bytes(pcm), error
    return bytes(pcm), None


def _heard(path: Path, pcm: bytes, engines: Ears, listening: Listening, as_json: bool) -> str:
    whole = Segment(pcm, 0, len(pcm) // BYTES_PER_SAMPLE)
    hearing = engines.hear(whole, listening)
    found = events(hearing.meaning, hearing.confidence, whole.end)
    if as_json:
        return json.dumps({"file": path.name, "heard": hearing.text, "events": found})
    shown = "; ".join(
        " ".join(str(part) for part in (e["kind"], e["site"], e["value"], e["unit"]) if part is not None)
        + (" (asked)" if e["pending"] else "")
        for e in found
    )
    return visible(f"{path.name}: {hearing.text or '(nothing)'} -> {shown or 'no entry'}")
