"""A recording heard into a case, through the same path that a microphone will take."""

from __future__ import annotations

import json
from pathlib import Path

import click

from log.basics.visible import visible
from log.facts.origin import KeepSound
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case, procedure_of
from log.store.folder import cases_folder
from tui.commands.options import (
    cases_option,
    definition_option,
    ears,
    engine_option,
    keeping_options,
    lead_word_option,
    local_option,
    record_only_option,
)
from tui.live.replay import replay
from tui.views.read_back import ReadBack, unverified
from voice.meaning.ears import EngineChoice
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile


@click.command("replay", short_help="Log a recording as a case.")
@click.argument("audio", type=click.Path(path_type=Path))
@click.option("--case", "name", metavar="ID", help="Resume this case, or give the new one this name.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object of what was heard, and no read-back.")
@click.option("--paced", is_flag=True, help="Play in real time.")
@definition_option
@local_option
@record_only_option
@cases_option
@lead_word_option("none")
@engine_option
@keeping_options
def command(
    audio: Path,
    name: str | None,
    as_json: bool,
    paced: bool,
    definition: str,
    local: Path | None,
    only_record: bool,
    cases: Path | None,
    lead_word: str | None,
    engine: EngineChoice,
    label: str,
    author: str,
    keep_sound: KeepSound,
    encrypt: bool,
) -> None:
    """Hear the recording AUDIO into a case: entries, questions, findings and what was not understood.

    The case runs on the clock of the recording. A recording is not spoken to the log, so no lead word is expected
    unless you say so.
    """
    source = AudioFile(audio, paced=paced)
    source.check()
    in_force, folder = load(definition, local, only_record), cases_folder(cases)
    phrases = compile_phrases(procedure_of(folder, name, in_force))
    with ears(phrases, lead_word, engine) as listening:  # before the case: an engine that fails leaves none behind
        session = open_case(folder, name, in_force, audio.name, Keeping(author, label, keep_sound, encrypt))
        view = None if as_json else ReadBack(session)
        for doubt in session.doubts if as_json else ():
            click.echo(unverified(doubt), err=True)
        if view is not None:
            view.start(f"Tamponade log: {visible(audio.name)}")
        outcome = replay(source, session, listening, view)
    if as_json:
        click.echo(json.dumps({"file": audio.name, "events": outcome.events}))
    elif view is not None:
        view.end()
    if outcome.broken_off is not None:
        raise outcome.broken_off
