"""The manual page, made of what each command says of itself, and completion for a shell."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import version

import click
from click.shell_completion import get_completion_class

NAME = "tamponade"
SHELLS = ("bash", "zsh", "fish")


@click.command("manual", short_help="Print the manual page, or completion for a shell.")
@click.option("--completion", "shell", type=click.Choice(SHELLS), help="Print the script that completes in this shell.")
@click.pass_context
def command(context: click.Context, shell: str | None) -> None:
    """Print the manual page: tamponade manual | man -l -

    Completion: put what --completion prints into a file that your shell reads when it starts, as
    ~/.local/share/bash-completion/completions/tamponade
    """
    root = context.find_root().command
    click.echo(_completion(root, shell) if shell else "\n".join(page(root)))


def _completion(root: click.Command, shell: str) -> str:
    made_by = get_completion_class(shell)
    assert made_by is not None, shell
    return made_by(root, {}, NAME, f"_{NAME.upper()}_COMPLETE").source()


def page(root: click.Command) -> Iterator[str]:
    """The manual page in the language of man(7), line by line."""
    yield f'.TH {NAME.upper()} 1 "" "{NAME} {version("tamponade-log")}"'
    yield f".SH NAME\n{NAME} \\- {_text(root.get_short_help_str(200))}"
    yield f".SH SYNOPSIS\n.B {NAME}\n.I COMMAND\n[options] [arguments]"
    yield f".SH DESCRIPTION\n{_text(root.help or '')}"
    yield ".SH COMMANDS"
    yield from _commands(root, click.Context(root, info_name=NAME))
    yield f".SH NOTES\n{_text(root.epilog or '')}"


def _commands(group: click.Command, context: click.Context) -> Iterator[str]:
    assert isinstance(group, click.Group)
    for name in group.list_commands(context):
        one = group.get_command(context, name)
        assert one is not None
        inner = click.Context(one, info_name=name, parent=context)
        pieces = " ".join(one.collect_usage_pieces(inner))
        yield f".SS {_text(f'{inner.command_path} {pieces}'.strip())}"
        yield from (f"{_text(paragraph)}\n.PP" for paragraph in (one.help or "").split("\n\n"))
        for option in one.get_params(inner):
            if (said := option.get_help_record(inner)) is not None:
                yield f".TP\n.B {_text(said[0])}\n{_text(said[1])}"
        if isinstance(one, click.Group):
            yield from _commands(one, inner)


def _text(text: str) -> str:
    """Text in one line, in which nothing is a request."""
    plain = " ".join(text.split()).replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{plain}" if plain.startswith((".", "'")) else plain
