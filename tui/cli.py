"""The command line. Nothing heavy is imported until a command needs it: `--help` answers at once."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Mapping

import click

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.store import encryption
from tui.commands.options import CAUTION

COMMANDS: Mapping[str, tuple[str, str]] = {
    "demo": ("demo:command", "Hear an invented case and write everything the team takes away."),
    "replay": ("replay:command", "Log a recording as a case."),
    "listen": ("listen:command", "Listen to the room: big read-back, and a table for the scribe."),
    "devices": ("devices:command", "List the microphones, and try one."),
    "voice-check": ("voice_check:command", "Read aloud for a minute: which phrases fail in this voice and room."),
    "serve": ("serve:command", "Show a case on a second display, in a browser."),
    "hear": ("hear:command", "Show what is understood of sound files, one utterance each."),
    "understand": ("understand:command", "Show what is understood of typed words, one utterance a line."),
    "rehearse": ("rehearse:command", "Play an invented case to a team, for training, and count what it logged."),
    "say": ("say:command", "Type an entry instead of saying it."),
    "cases": ("cases:command", "List the cases on this machine; remove old sound."),
    "show": ("show:command", "Show a case as it stands."),
    "watch": ("watch:command", "Show what is overdue, due and next for a placed tube."),
    "handover": ("handover:command", "Hand over: the state of a case on one screen, or one page to sign."),
    "debrief": ("debrief:command", "Debrief: steps, numbers against limits and corrections of a case."),
    "transfer": ("transfer:command", "Show how far the balloons would expand at a cabin altitude."),
    "units": ("units:command", "Convert mmHg, kPa and cmH2O, and a hanging mass to newtons."),
    "strike": ("correct:strike", "Strike a line; it stays readable."),
    "amend": ("correct:amend", "Give a line another value or time."),
    "late": ("correct:late", "Enter something late, with both times."),
    "undo": ("correct:undo", "Put back what was changed last by hand."),
    "acknowledge": ("correct:acknowledge", "Say that a finding was seen, and why it may stand."),
    "shift": ("correct:shift", "Move a case that was begun on a wrong clock."),
    "transcribe": ("correct:transcribe", "Transcribe a spoken note."),
    "relisten": ("relisten:command", "Hear every kept sound again; take or leave what differs."),
    "identify": ("correct:identify", "Add the names of patient and team, and the tube's serial number."),
    "sound": ("sound:command", "Write the sound of a case, to listen again."),
    "export": ("export:command", "Write the procedure note and everything else the team takes away."),
    "import": ("importing:command", "Make a case from its exported facts."),
    "verify": ("verify:command", "Check that no fact of a case was changed."),
    "backup": ("backup:command", "Copy a case into another folder, and check the copy."),
    "review": ("review:command", "Compare many cases."),
    "procedures": ("procedures.group:command", "Show and check definitions and their phrases."),
    "card": ("card:command", "Write a page that shows how to speak to the log."),
    "manual": ("manual:command", "Print the manual page, or completion for a shell."),
    "models": ("models:command", "List, add and check speech models."),
}
"""Name -> module under tui.commands and the command in it, and its line in the help."""

ALIASES: Mapping[str, str] = {"write-out": "transcribe"}
"""Names that commands had before, for scripts that use them; the help does not list them."""


class LateGroup(click.Group):
    """A group whose commands are imported when they run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order in which a case goes."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Imports one command."""
        cmd_name = ALIASES.get(cmd_name, cmd_name)
        if cmd_name not in COMMANDS:
            return None
        module, name = COMMANDS[cmd_name][0].split(":")
        command = getattr(importlib.import_module(f"tui.commands.{module}"), name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(
    cls=LateGroup,
    invoke_without_command=True,
    epilog=f"{CAUTION} Exit codes: 0 done, 1 other failure, 2 wrong usage, 3 a file or name "
    "that cannot be used, 4 a recording that breaks off, 5 speech engine or model, 6 the case cannot be written, "
    "7 a case does not verify.",
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="tamponade-log", prog_name="tamponade")
@click.pass_context
def tamponade(context: click.Context) -> None:
    """Voice-driven log for placing and watching a balloon tamponade tube. Works offline; nothing leaves the machine.

    Without a command it listens: nobody in a crisis has a hand for more.
    """
    if context.invoked_subcommand is not None:
        return
    listen = tamponade.get_command(context, "listen") if sys.stdin.isatty() and sys.stdout.isatty() else None
    if listen is None:
        click.echo(context.get_help())
    else:
        with listen.make_context("listen", [], parent=context) as listening:
            listen.invoke(listening)


def main() -> None:
    """Runs the command line; every expected failure is one line on standard error and its own exit code."""
    if sys.stdin is not None and sys.stdin.isatty():
        encryption.ask = lambda path: str(click.prompt(f"Passphrase of {path.name}", hide_input=True, err=True))
    try:
        tamponade(standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except TamponadeError as error:
        click.echo(visible(f"tamponade: {error}"), err=True)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # else Python complains again on exit
        sys.exit(0)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        click.echo(
            visible(f"tamponade: {where}{error.strerror or error} - check the disk and its permissions"), err=True
        )
        sys.exit(6)
