"""The microphones of this machine, and whether one can hear the room."""

from __future__ import annotations

import click

from log.basics.visible import visible


@click.command("devices", short_help="List the microphones; check that one hears you.")
@click.option("--check", is_flag=True, help="Measure noise and speech through the microphone, and say what to do.")
@click.option("--device", metavar="NAME|NUMBER", help="Which microphone to check; without it the default one.")
def command(check: bool, device: str | None) -> None:
    """List the microphones: number, name, channels, rate. The default one is marked.

    With --check, be silent for two seconds and then say a phrase; the verdict says what to do.
    """
    from voice.sound.portaudio import silenced

    if device is not None and not check:
        raise click.UsageError("--device goes with --check")
    with silenced():
        if check:
            _check(device)
        else:
            _list()


def _list() -> None:
    from voice.sound.portaudio import devices

    found = devices()
    if not found:
        click.echo("There is no microphone. Plug one in and ask again.")
        return
    width = max(len(visible(one.name)) for one in found)
    for one in found:
        mark = "default" if one.is_default else ""
        channels = "1 channel " if one.channels == 1 else f"{one.channels} channels"
        name = visible(one.name)
        click.echo(f"{one.index:>3}  {name:<{width}}  {channels:<12} {one.rate:>6} Hz  {one.host_api}  {mark}".rstrip())


def _check(device: str | None) -> None:
    from tui.views.sound_check import run_check
    from voice.sound.microphone import Microphone

    with Microphone(device) as microphone:
        run_check(microphone, click.echo)
