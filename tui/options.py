"""Options that several commands share, and what they stand for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from voice.listener import Ears, EngineChoice
    from voice.phrases import Phrases

F = TypeVar("F", bound=Callable[..., Any])

ENGINES = ("auto", "vosk", "pocketsphinx", "both")

definition_option = click.option(
    "--definition",
    default="three-lumen",
    show_default=True,
    metavar="NAME|FILE",
    help="The procedure definition: a shipped one by name, or your own file.",
)

local_option = click.option(
    "--local",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Local override of limits; without it NAME.toml in your config folder is used if it is there.",
)

cases_option = click.option(
    "--cases",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder of the cases; without it TAMPONADE_CASES or your data folder.",
)

engine_option = click.option(
    "--engine",
    type=click.Choice(ENGINES),
    default="auto",
    show_default=True,
    help="auto: vosk and pocketsphinx where a vosk model is installed, else pocketsphinx alone.",
)


def lead_word_option(default: str) -> Callable[[F], F]:
    """`--lead-word none|WORD` with this default."""
    return click.option(
        "--lead-word",
        default=default,
        show_default=True,
        metavar="none|WORD",
        callback=_lead_word,
        help="The word that every entry has to begin with; none: every utterance is meant for the log.",
    )


def _lead_word(context: click.Context, parameter: click.Parameter, value: str) -> str | None:
    if value == "none":
        return None
    if not value.isalpha() or not value.isascii():
        raise click.BadParameter("give one word, or none")
    return value.lower()


def ears(phrases: Phrases, lead_word: str | None, engine: EngineChoice) -> Ears:
    """The engines as chosen, with the installed model if one is wanted and there."""
    from log.errors import EngineError
    from voice import models
    from voice.listener import Ears
    from voice.vosk_engine import NO_WHEEL, available

    if engine in ("vosk", "both") and not available():
        raise EngineError(NO_WHEEL, "use --engine pocketsphinx")
    model = models.default_model(models.models_dir()) if engine != "pocketsphinx" and available() else None
    if model is None:
        return Ears(phrases, lead_word, engine)
    listening = Ears(phrases, lead_word, engine, model.path, model.runtime_grammar)
    for note in listening.notes:
        click.echo(f"tamponade: {note}", err=True)
    return listening
