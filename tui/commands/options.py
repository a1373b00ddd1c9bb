"""Options that several commands share, and what they stand for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from log.basics.ahead import LAST
from log.basics.errors import EngineError, InputError
from tui.views.times import moment

if TYPE_CHECKING:
    from voice.meaning.ears import Ears, EngineChoice
    from voice.phrases.phrases import Phrases

F = TypeVar("F", bound=Callable[..., Any])

CAUTION = (
    "Not a medical device. Local protocol, the tube's own instructions and the responsible clinician decide. "
    "Read every number on the screen before you rely on it."
)

ENGINES = ("auto", "vosk", "people", "pocketsphinx", "both")

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

record_only_option = click.option(
    "--record-only",
    "only_record",
    is_flag=True,
    help="Keep a record without limits, for a tube whose limits your site has not set; every page says so.",
)

cases_option = click.option(
    "--cases",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder of the cases; without it TAMPONADE_CASES or your data folder.",
)

no_check_option = click.option(
    "--no-check", is_flag=True, hidden=True, expose_value=False, help="Nothing to leave out."
)

now_option = click.option(
    "--now", metavar="TIME", help="As of this time: 03:10, or a whole RFC 3339 time; without it, now."
)

engine_option = click.option(
    "--engine",
    type=click.Choice(ENGINES),
    default="auto",
    show_default=True,
    help="auto, both: vosk and people-en side by side; without a vosk model auto is people-en alone, as people and "
    "pocketsphinx are.",
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


author_option = click.option(
    "--author",
    default="operator",
    show_default=True,
    metavar="WHO",
    help="Who speaks or types: a role, or a name where your site wants names.",
)


def keeping_options(command: F) -> F:
    """`--label`, `--author`, `--keep-audio` and `--encrypt`, for commands that may begin a case."""
    for option in (
        click.option(
            "--encrypt", is_flag=True, help="Encrypt the new case, sound included, with a passphrase. See README."
        ),
        click.option(
            "--keep-audio",
            "keep_sound",
            type=click.Choice(["all", "utterances", "none"]),
            default="utterances",
            show_default=True,
            help="Sound kept with a new case: all speech; what was logged, asked or not understood; none. "
            "A voice identifies a person.",
        ),
        author_option,
        click.option("--label", default="", help="A few words to know the case by; no patient's name is needed."),
    ):
        command = option(command)
    return command


def _lead_word(context: click.Context, parameter: click.Parameter, value: str) -> str | None:
    if value == "none":
        return None
    if not value.isalpha() or not value.isascii():
        raise click.BadParameter("give one word, or none")
    return value.lower()


def as_of(opened: datetime, until: datetime, given: str | None) -> datetime:
    """The moment that `--now` asks for, in the zone in which the case was kept; without it now, but never before the
    last fact, for the machine's clock may have gone back since. Raises InputError."""
    here = datetime.now().astimezone()
    at = moment(given, here) if given is not None else max(here, until)
    if at < opened:
        raise InputError(
            f"{at.isoformat(sep=' ', timespec='seconds')} is before the case was opened "
            f"({opened.isoformat(sep=' ', timespec='seconds')})",
            "give a later --now",
        )
    if at > LAST:
        raise InputError(f'"{given}" is too far in the future', "give an earlier --now")
    return at.astimezone(opened.tzinfo)


def ears(phrases: Phrases, lead_word: str | None, engine: EngineChoice, quiet: bool = False) -> Ears:
    """The engines as chosen, with the installed model if one is wanted and there; notes are shown unless `quiet`."""
    from voice.engines import models
    from voice.engines.vosk import NO_WHEEL, available
    from voice.meaning.ears import Ears

    if engine in ("vosk", "both") and not available():
        raise EngineError(NO_WHEEL, "use --engine people")
    wanted = engine in ("auto", "vosk", "both") and available()
    model = models.default_model(models.models_dir()) if wanted else None
    if model is None:
        return Ears(phrases, lead_word, engine)
    listening = Ears(phrases, lead_word, engine, model.path, model.runtime_grammar)
    for note in () if quiet else listening.notes:
        click.echo(f"tamponade: {note}", err=True)
    return listening
