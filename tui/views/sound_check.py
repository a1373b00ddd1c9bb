"""The check before the start, on screen: be silent, say something, and read what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

from log.basics.errors import EngineError
from voice.sound.audio import Frame
from voice.sound.reception import Back, Lost
from voice.sound.sound_check import Level, Phase, SoundCheck, SoundCheckResult, Verdict

PHRASE = "gastric pressure two zero"

ASKED: dict[Phase, str] = {
    "silence": "Be silent for two seconds: the noise of the room is measured.",
    "speech": f'Now say, as you will speak at the bedside: "{PHRASE}"',
}

SHOWN_EVERY = 10
"""Frames between two pictures of the level: 0.3 s."""

LOWEST_DB = -70
BAR = 35


class Source(Protocol):
    """A microphone, or what stands for one."""

    def frames(self) -> Iterator[Frame | Lost | Back]:
        """Sound, and what was lost of it."""
        ...


def run_check(source: Source, echo: Callable[[str], None]) -> SoundCheckResult:
    """Measures the room through this source, printing line by line what to do and what came of it.

    Ends when the result is there; the source is left as it is. Raises EngineError if sound is lost meanwhile.
    """
    check, phase = SoundCheck(), None
    for number, came in enumerate(source.frames()):
        if isinstance(came, Lost):
            raise EngineError(f"the sound check was interrupted: {came.reason}", "check the microphone and start again")
        if not isinstance(came, Frame):
            continue
        if check.phase != phase:
            phase = check.phase
            echo(ASKED[phase])
        if check.push(came) == "done":
            break
        if number % SHOWN_EVERY == 0:
            echo(f"  {bar(check.level)}")
    result = check.result()
    for line in report(result):
        echo(line)
    return result


def in_one_line(result: SoundCheckResult) -> str:
    """The verdict and what to do."""
    return f"{HEADING[result.verdict]}: {result.advice}"


HEADING: dict[Verdict, str] = {
    "good": "sound good",
    "too quiet": "TOO QUIET",
    "too noisy": "TOO NOISY",
    "clipped": "TOO LOUD",
    "nothing heard": "NOTHING HEARD",
}


def bar(level: Level) -> str:
    """A level as a line of signs and in figures."""
    filled = round(max(0.0, 1 - level.rms_db / LOWEST_DB) * BAR)
    return f"{'#' * filled:<{BAR}} {level.rms_db:6.1f} dB" + (" TOO LOUD" if level.clipped else "")


def report(result: SoundCheckResult) -> Iterator[str]:
    """The result in words, the verdict and what to do last."""
    yield f"noise of the room  {result.noise_db:6.1f} dB below full scale"
    if result.speech_db is not None and result.snr_db is not None:
        yield f"speech             {result.speech_db:6.1f} dB below full scale"
        yield f"speech over noise  {result.snr_db:6.1f} dB"
    if result.clipped:
        yield f"cut flat           {result.clipped:6.1%} of the speech"
    yield f"{result.verdict}: {result.advice}"
