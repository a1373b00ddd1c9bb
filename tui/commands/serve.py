"""A second display: the bedside page of a case, for a browser, while another program writes the case."""

from __future__ import annotations

import errno
import signal
import socket
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import click

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.store import encryption
from log.store.folder import cases_folder
from tui.commands.options import cases_option

if TYPE_CHECKING:
    from tui.serve.following import Following

GOODBYE_SECONDS = 1
"""For which a browser that takes nothing any more is waited for at the end."""

IN_THE_CLEAR = (
    "what this page shows is not encrypted: anybody on the network between can read it, the address's token included. "
    "Use a network that is yours alone."
)


@click.command("serve", short_help="Show a case on a second display: a page in a browser that follows it.")
@click.argument("case")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    metavar="ADDRESS",
    help="Address to listen on; by default no other machine can reach the page.",
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, show_default=True, help="The port; 0: one that is free."
)
@click.option(
    "--unencrypted", is_flag=True, help="Allow a --host that other machines can reach. The page is not encrypted."
)
@cases_option
def command(case: str, host: str, port: int, unencrypted: bool, cases: Path | None) -> None:
    """Show CASE in a browser, large enough to be read from three metres, as it is written by another program.

    The page only reads. The address that is printed works once, in the first browser that opens it; any other is
    refused. When the page can no longer keep up it says so. End with Ctrl-C.
    """
    try:
        from tui.serve.access import is_loopback
        from tui.serve.following import Following
    except ImportError:
        raise TamponadeError(
            "the page for a browser needs packages that are not installed",
            "install them: pip install 'tamponade-log[serve]'",
        ) from None
    if host in ("", "0.0.0.0", "::"):
        raise click.UsageError("--host: say which address of this machine the other display is to open")
    if not is_loopback(host):
        if not unencrypted:
            raise click.UsageError(f"--host {host} can be reached from other machines: add --unencrypted to allow it")
        click.echo(f"tamponade: {IN_THE_CLEAR}", err=True)
    if encryption.ask is not None:
        encryption.ask = cache(encryption.ask)  # the case is opened again and again; the person is asked once
    following = Following(cases_folder(cases), case)
    with closing(_listening(host, port)) as listening:
        _serve(following, host, listening)


def _listening(host: str, port: int) -> socket.socket:
    """The port, taken. Raises TamponadeError."""
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address[:2], family=family)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise TamponadeError(
                f"port {port} of {host} is in use", "choose another --port, or leave it out for one that is free"
            ) from None
        if error.errno == errno.EACCES:
            raise TamponadeError(f"port {port} needs root", "choose a --port above 1023") from None
        raise TamponadeError(
            f"cannot listen on {visible(host)} ({error.strerror})", "give an address of this machine as --host"
        ) from None


def _serve(following: Following, host: str, listening: socket.socket) -> None:
    """Answers until somebody ends it: Ctrl-C as everywhere, and a request to terminate is an end like any other."""
    import uvicorn

    from tui.serve.access import Access
    from tui.serve.app import bedside_app
    from tui.serve.half_open import Impatient

    access = Access(host, listening.getsockname()[1])
    config = uvicorn.Config(
        bedside_app(following, access, ended=lambda: server.should_exit),
        http=Impatient,
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="critical",  # a browser that goes away, or sends nonsense, is no news for the terminal
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GOODBYE_SECONDS,
    )
    server = uvicorn.Server(config)
    signal.signal(signal.SIGTERM, server.handle_exit)  # else uvicorn, all ended in good order, has the signal kill us
    click.echo(visible(f"case {following.case.opened.case}, read-only, as it is being written:"))
    click.echo(f"  {access.address}")
    click.echo("It opens once, in the first browser that asks. End with Ctrl-C.")
    server.run(sockets=[listening])
