"""Speech models for the vosk engine: which are here, adding one, and whether they work."""

from __future__ import annotations

import sys
from importlib.resources import as_file, files
from pathlib import Path

import click

from log.basics.errors import EngineError, TamponadeError
from log.rules.definitions import load
from voice.engines import models
from voice.engines.process import EngineProcess
from voice.engines.vosk import NO_WHEEL, VoskSpec, available
from voice.engines.words_models import words_model
from voice.phrases.compile import compile_grammars
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile
from voice.sound.segment import BYTES_PER_SAMPLE, Segment
from voice.templates.grammar import ENTRIES, Grammar

CLIP, CLIP_SAYS = "clip.flac", "gastric pressure twenty"
"""A shipped recording and what is said in it."""


@click.group("models", short_help="List, add and check speech models.", invoke_without_command=True)
@click.pass_context
def command(context: click.Context) -> None:
    """List the installed models. Models are for the vosk engine; people-en has its own."""
    if not available():
        click.echo(f"{NO_WHEEL}: models cannot be used here, people-en is", err=True)
    if context.invoked_subcommand is None:
        _list()


def _list() -> None:
    folder = models.models_dir()
    found = models.usable(folder)
    if not found:
        click.echo(f"no vosk model in {folder}: one ear hears alone. Add one: tamponade models add FOLDER|ZIP")
    for model in found:
        click.echo(
            f"{model.name}  {'strict phrases' if model.runtime_grammar else 'no run-time grammar'}  {model.path}"
        )
    words = words_model()
    if words is not None:
        click.echo(f"{words.name}  general recogniser, for tamponade relisten  {words.path}")


@command.command("add")
@click.argument("source", metavar="FOLDER|ZIP")
@click.option("--sha256", metavar="HEX", help="SHA-256 that the zip file must have.")
@click.option("--name", metavar="NAME", help="Name to install it under.")
def add(source: str, sha256: str | None, name: str | None) -> None:
    """Install a model from a folder or a zip file on this machine. Nothing is downloaded."""
    model = models.add(source, sha256=sha256, name=name, directory=models.models_dir())
    click.echo(f"added {model.name} in {model.path}; check it with: tamponade models check")


@command.command("check")
def check() -> None:
    """Load every installed model and let it hear a shipped clip."""
    if not available():
        raise EngineError(NO_WHEEL, "use --engine people")
    phrases = compile_phrases(load("three-lumen").procedure)
    grammars = {ENTRIES: compile_grammars(phrases, None)[ENTRIES]}
    segment = _clip()
    found = models.usable(models.models_dir())
    if not found:
        click.echo("no vosk model is installed")
    failed = False
    for model in found:
        engine = EngineProcess(
            VoskSpec(model.path, grammars, model.runtime_grammar, pronunciations=phrases.procedure.pronunciations)
        )
        try:
            engine.wait()
            text = engine.hear(segment, ENTRIES).text
            missing = _missing(engine, grammars[ENTRIES])
            verdict = "ok" if text == CLIP_SAYS else f'heard "{text}" instead'
            click.echo(f"{model.name}: {verdict}{missing}")
            failed |= text != CLIP_SAYS
        except TamponadeError as error:
            click.echo(f"{model.name}: {error}")
            failed = True
        finally:
            engine.close()
    if failed:
        sys.exit(EngineError.exit_code)


def _missing(engine: EngineProcess, grammar: Grammar) -> str:
    engine.ask("missing_words", grammar)
    words = engine.answer()
    return f"; cannot hear: {', '.join(words)}" if words else ""


def _clip() -> Segment:
    with as_file(files("voice.sound") / CLIP) as path:
        pcm = AudioFile(Path(path)).pcm()
    return Segment(pcm, 0, len(pcm) // BYTES_PER_SAMPLE)
