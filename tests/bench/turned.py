"""How often what is denied, asked, wished for or only supposed becomes the statement that it is not.

    python -m tests.bench.turned [--wrong]

Thirty statements of the definitions, each denied, asked or wished for in six ways, by two voices of espeak-ng and two
of flite that
trained nothing, in pink noise of 25 dB; and as they are, to see that they are still heard. With the lead word before
them, and as everything said while the talk key is down. What is absent is left out.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from tests.bench import talk
from tests.bench.hearing import tables
from tests.bench.hearing.gather import LEAD_WORD, phrases
from tests.bench.noise import frames, noisy
from voice.engines import models
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.meaning.thresholds import PUSH_TO_TALK, WITH_LEAD_WORD
from voice.sound.endpoint import segments

LEVEL = 25.0
STATEMENTS = (
    ("the manometer", "zeroed"),
    ("the scissors", "taped to the bed"),
    ("the airway", "secured"),
    ("traction", "on"),
    ("the traction", "off"),
    ("the gastric balloon", "inflated"),
    ("the oesophageal balloon", "inflated"),
    ("the oesophageal balloon", "deflated"),
    ("the gastric port", "clamped"),
    ("the tube", "in"),
    ("the tube", "secured"),
    ("the tube", "out"),
    ("the bleeding", "controlled"),
    ("the bleeding", "stopped"),
    ("the x-ray", "taken"),
    ("the kit", "complete"),
    ("the suction", "ready"),
    ("time out", "done"),
    ("the team", "introduced"),
    ("consent", "documented"),
    ("the endoscopy team", "called"),
    ("the skin", "intact"),
    ("hand over", "done"),
    ("removal", "started"),
    ("tranexamic acid", "given"),
    ("the terlipressin infusion", "running"),
    ("gastric contents", "aspirated"),
    ("the gastric balloon leak test", "passed"),
    ("position", "confirmed on x-ray"),
    ("air", "heard over the stomach"),
)
FORMS = (
    "{what} is not {how}",
    "{what} not {how} yet",
    "is {what} {how}",
    "{what} should be {how}",
    "when {what} is {how} tell me",
    "make sure {what} is {how}",
    "{bare} {how}",
    "{what} {be} {how}",
)
STATED = FORMS[-2:]
"""The statement itself, as the definitions have it and as a sentence."""

DENIED = "not confirmed on x-ray"
"""The one denial that is an entry of its own."""


def main() -> None:
    """Hears everything and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--wrong",
        action="store_true",
        help="print every one that was logged although it was denied, asked or wished for",
    )
    options = parser.parse_args()
    print(f"| said | mode | {HEADER}")
    for mode, listening, ears in modes():
        for form in FORMS:
            texts = [
                text
                for what, how in STATEMENTS
                if DENIED not in (text := form.format(what=what, bare=what.removeprefix("the "), be=_is(what), how=how))
            ]
            print(row(f"{form} | {mode}", ears, listening, texts, options.wrong and form not in STATED), flush=True)


HEADER = "n | logged | asked | nothing |\n|---|---|---|---|---|---|"
"""Of the table whose rows `row` makes, behind two columns of the bench's own."""


def modes() -> Iterator[tuple[str, Listening, Ears]]:
    """How entries are said, each with engines that hear so."""
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    for name, listening, thresholds in (
        ("with the lead word", Listening(lead_word=LEAD_WORD), WITH_LEAD_WORD),
        ("talk key", Listening(), PUSH_TO_TALK),
    ):
        with Ears(phrases(), listening.lead_word, "both", model.path, thresholds=thresholds) as ears:
            yield name, listening, ears


def row(name: str, ears: Ears, listening: Listening, texts: Sequence[str], told: bool) -> str:
    """What becomes of these sentences in all voices; `told`: print each that is logged."""
    said = Counter(
        outcome(ears, listening, voice, text, say, told) for voice, say in talk.voices(None) for text in texts
    )
    return f"| {name} | {said.total()} | {' | '.join(str(said[kind]) for kind in ('logged', 'asked', 'nothing'))} |"


def _is(what: str) -> str:
    return "are" if what == "the scissors" else "is"


def outcome(ears: Ears, listening: Listening, voice: str, text: str, say: talk.Voice, told: bool) -> str:
    """What became of one sentence."""
    wave = say(f"{listening.lead_word} {text}" if listening.lead_word else text)
    around = np.concatenate([np.zeros(8_000), wave / np.abs(wave).max(), np.zeros(12_000)])
    heard = [ears.hear(one, listening) for one in segments(frames(noisy(around, LEVEL, sum(map(ord, voice + text)))))]
    asked = [asked for hearing in heard for _, asked in tables.items(hearing.meaning)]
    if told and False in asked:
        print(f"  {voice}: {text} -> {' / '.join(hearing.text for hearing in heard)}", flush=True)
    return "nothing" if not asked else "asked" if all(asked) else "logged"


if __name__ == "__main__":
    main()
