"""A minute of reading before a shift: which words fail in this voice and this room, and what to say instead."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from log.basics.errors import EngineError, InputError
from log.basics.visible import visible
from log.definition.procedure import Procedure
from log.rules.definitions import load
from tui.commands.kept_speech import Clip, Keeping, check, keep
from tui.commands.options import definition_option, ears, engine_option, lead_word_option, local_option
from tui.room.big import large_lines
from tui.views.sound_check import Source
from tui.views.sound_check import report as room_report
from voice.check.voice_check import (
    HOW_MANY,
    OfAKind,
    Outcome,
    Prompt,
    Report,
    Tried,
    in_order,
    prompts,
    report,
    silent,
    tried,
)
from voice.meaning.ears import Ears, EngineChoice
from voice.meaning.matcher import Listening
from voice.meaning.verdict import Hearing
from voice.phrases.phrases import Phrases, compile_phrases
from voice.sound.audio import FRAME_SAMPLES, AudioFile, Frame
from voice.sound.endpoint import Endpointer
from voice.sound.reception import Lost
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.sound.sound_check import RoomCheck, SoundCheckResult

WAIT_SECONDS = 8.0
"""For which a prompt stands when nobody reads it."""

WORDS: dict[Outcome, str] = {"right": "right", "asked": "ASKED", "wrong": "WRONG", "not heard": "NOT HEARD"}

LARGE_ROWS = 12

LOCAL_ONLY = "Nothing is kept, and nothing leaves this machine."


@click.command("voice-check", short_help="Read aloud for a minute: which phrases fail in this voice and room.")
@click.option("--audio", type=click.Path(path_type=Path), metavar="FILE", help="A recording of the phrases, in order.")
@click.option("--device", metavar="NAME", help="The microphone, by number or part of its name; see: tamponade devices.")
@click.option("--seed", type=click.IntRange(0), metavar="N", help="Which phrases; without it those of today.")
@click.option("--phrases", "how_many", type=click.IntRange(4, 60), default=HOW_MANY, show_default=True, metavar="N")
@click.option("--list", "only_list", is_flag=True, help="Print the phrases and end, to record them elsewhere.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--keep",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Keep the recording as training data in this folder; needs --speaker, --consent and --licence.",
)
@click.option("--speaker", default="", metavar="ID", help="An id for whoever reads; no name is needed.")
@click.option("--consent", default="", metavar="TEXT", help="Who consented to what is kept, and when.")
@click.option("--licence", default="", metavar="NAME", help='Under which licence it is kept, like "CC BY 4.0".')
@definition_option
@local_option
@lead_word_option("log")
@engine_option
def command(
    audio: Path | None,
    device: str | None,
    seed: int | None,
    how_many: int,
    only_list: bool,
    as_json: bool,
    folder: Path | None,
    speaker: str,
    consent: str,
    licence: str,
    definition: str,
    local: Path | None,
    lead_word: str | None,
    engine: EngineChoice,
) -> None:
    """Read some phrases aloud, one after the other, and see which words and numbers fail and what to say instead.

    The recording is forgotten unless --keep says where it may stay.
    """
    phrases = compile_phrases(load(definition, local).procedure)
    now = datetime.now().astimezone()
    asked = prompts(phrases, int(f"{now:%Y%m%d}") if seed is None else seed, lead_word, how_many)
    if only_list:
        click.echo("\n".join(prompt.text for prompt in asked))
        return
    keeping = _keeping(folder, speaker, consent, licence)
    if audio is not None:
        AudioFile(audio).check()
    with ears(phrases, lead_word, engine) as engines:
        reader = _Reader(engines, lead_word, asked, as_json)
        every, sound = reader.recording(AudioFile(audio)) if audio is not None else reader.live(device)
    found = report(phrases, every)
    kept = keep(keeping, reader.clips, now) if keeping is not None else 0
    if as_json:
        click.echo(json.dumps(_plain(found, sound, keeping, kept, phrases.procedure), ensure_ascii=False))
        return
    _show(found, sound, phrases)
    click.echo(visible(f"{kept} clips are kept in {keeping.folder}") if keeping is not None else LOCAL_ONLY)


def _keeping(folder: Path | None, speaker: str, consent: str, licence: str) -> Keeping | None:
    """The terms for keeping speech; a voice identifies a person, so nothing is kept without consent."""
    given = {"--speaker": speaker.strip(), "--consent": consent.strip(), "--licence": licence.strip()}
    if folder is None:
        if any(given.values()):
            raise click.UsageError(f"{next(name for name in given if given[name])} goes with --keep")
        return None
    missing = [name for name, text in given.items() if not text]
    if missing:
        raise click.UsageError(f"--keep needs {', '.join(missing)}: a voice is not kept without consent")
    keeping = Keeping(folder, given["--speaker"], given["--consent"], given["--licence"])
    check(keeping)
    return keeping


class _Reader:
    """Hears the prompts being read, from a microphone or a recording."""

    def __init__(self, engines: Ears, lead_word: str | None, asked: tuple[Prompt, ...], quiet: bool) -> None:
        self.clips: list[Clip] = []
        self._ears, self._listening = engines, Listening(lead_word=lead_word)
        self._asked, self._quiet = asked, quiet
        self._room = RoomCheck()
        self._sound: SoundCheckResult | None = None

    def recording(self, source: AudioFile) -> tuple[list[Tried], SoundCheckResult | None]:
        """All of a recording, each utterance with the prompt that it is. Raises InputError if nobody speaks in it."""
        heard = [self._ears.hear(said, self._listening) for said in self._utterances(source) if said is not None]
        if not heard:
            raise InputError(f"{source.path}: nobody speaks in this recording", "read the phrases of --list into it")
        places = in_order(self._asked, [one.text for one in heard])
        return [
            self._tried(prompt, heard[place]) if place is not None else silent(prompt)
            for prompt, place in zip(self._asked, places, strict=True)
        ], self._sound

    def live(self, device: str | None) -> tuple[list[Tried], SoundCheckResult | None]:
        """One prompt after the other through a microphone. Raises EngineError if that fails."""
        from voice.sound.microphone import Microphone
        from voice.sound.portaudio import silenced

        with ExitStack() as stack:
            stack.enter_context(silenced())
            return self.one_by_one(stack.enter_context(Microphone(device)))

    def one_by_one(self, microphone: Source) -> tuple[list[Tried], SoundCheckResult | None]:
        """Shows a prompt, takes the next utterance for it, and goes on; what nobody reads is left after a while."""
        utterances, every = self._utterances(microphone), list[Tried]()
        for number, prompt in enumerate(self._asked, start=1):
            self._prompt(prompt, number, every[-1] if every else None)
            for quiet, said in enumerate(utterances):
                if said is not None:
                    every.append(self._tried(prompt, self._ears.hear(said, self._listening)))
                    break
                if quiet * FRAME_SAMPLES / SAMPLE_RATE > WAIT_SECONDS:
                    every.append(silent(prompt))
                    break
            else:
                raise EngineError("the microphone ended", "check it and start again")
        return every, self._sound

    def _utterances(self, source: Source | AudioFile) -> Iterator[Segment | None]:
        """Each utterance when it is over, and None for every frame in which nobody speaks."""
        ended: Endpointer | None = None
        for came in source.frames():
            if isinstance(came, Lost):
                raise EngineError(
                    f"the voice check was interrupted: {came.reason}", "check the microphone and start again"
                )
            if not isinstance(came, Frame):
                continue
            ended = ended or Endpointer(came.first_sample)
            segment = ended.push(came)
            self._sound = self._room.push(came, ended.in_speech) or self._sound
            if segment is not None or not ended.in_speech:
                yield segment
        while ended is not None and (last := ended.flush()) is not None:
            yield last

    def _tried(self, prompt: Prompt, hearing: Hearing) -> Tried:
        one = tried(prompt, hearing.text, hearing.meaning)
        self.clips.append(Clip(hearing.segment, prompt.text, one.outcome))
        return one

    def _prompt(self, prompt: Prompt, number: int, last: Tried | None) -> None:
        where = f"{number} of {len(self._asked)}"
        if self._quiet or not sys.stdout.isatty():
            click.echo(f'{where}: say "{prompt.text}"', err=self._quiet)
            return
        width = shutil.get_terminal_size().columns
        click.clear()
        before = f"   (the last one: {WORDS[last.outcome]})" if last is not None else ""
        click.echo(f"{where}: read this as you will say it at the bedside{before}\n")
        click.echo(f"{large_lines(prompt.text, width - 2, LARGE_ROWS)}\n\n  {prompt.text}")


def _show(found: Report, sound: SoundCheckResult | None, phrases: Phrases) -> None:
    for one in found.tried:
        click.echo(visible(f"{WORDS[one.outcome]:<10} {one.prompt.text}{_heard(one)}"))
    outcomes = (f"{found.count(outcome)} {word.lower()}" for outcome, word in WORDS.items())
    click.echo(f"\nof {len(found.tried)} phrases: {', '.join(outcomes)}")
    for name, kind in (("teens", found.teens), ("tens", found.tens), ("digit by digit", found.digits)):
        click.echo(f"{name:<15}{_kind(kind)}")
    failing = ", ".join(f"{word} ({times} of {said})" for word, times, said in found.failing)
    click.echo(visible(f"failed more than once: {failing or 'no word'}"))
    for line in room_report(sound) if sound is not None else ["the room was not quiet long enough to be measured"]:
        click.echo(line)
    for advice in found.advice:
        click.echo(visible(f"-> {advice}"))
    click.echo(visible(" ".join(phrases.procedure.cautions[:2])))


def _heard(one: Tried) -> str:
    if one.outcome == "right" or not one.heard:
        return ""
    return f'  heard: "{one.heard}"' if one.missed else "  heard so, but not clearly enough"


def _kind(kind: OfAKind) -> str:
    if not kind.said:
        return "none was read"
    as_the_other = f", {kind.as_the_other} heard as the other" if kind.as_the_other else ""
    return f"{kind.right} of {kind.said} right at once, {kind.asked} asked{as_the_other}"


def _plain(
    found: Report, sound: SoundCheckResult | None, keeping: Keeping | None, kept: int, procedure: Procedure
) -> dict[str, object]:
    return {
        "phrases": [
            {"said": one.prompt.text, "heard": one.heard, "outcome": one.outcome, "missed": list(one.missed)}
            for one in found.tried
        ],
        "counts": {outcome: found.count(outcome) for outcome in WORDS},
        "failing": [{"word": word, "failed": times, "said": said} for word, times, said in found.failing],
        "teens": asdict(found.teens),
        "tens": asdict(found.tens),
        "digits": asdict(found.digits),
        "sound": None if sound is None else asdict(sound),
        "advice": list(found.advice),
        "kept": None if keeping is None else {"folder": str(keeping.folder), "clips": kept},
        "cautions": list(procedure.cautions),
    }
