"""Writes what the ear's language of sentences is learnt from: the lines of our own sets of natural wording.

    python -m tests.bench.as_said

The sets in `HELD_OUT` are left out: they say how well sentences are heard that the ear was not taught.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from tests.bench.hearing.gather import phrases
from tests.bench.natural import OWN, rows
from voice.meaning.normalise import PAUSE, sentence
from voice.phrases.language import SAID, numbers_as_one

HEAD = """\
;; How people say entries, and what else is said in the room: what the ear's language of sentences is learnt from
;; (voice/phrases/language.py). Written by us in the voices of invented people; # is any number. Made by
;; python -m tests.bench.as_said
"""
HELD_OUT = frozenset({"own-u", "own-v", "own-w"})
MARKS = frozenset({PAUSE, "?", "#"})


def main() -> None:
    """Writes the file."""
    lines = sorted(set(_lines()))
    text = HEAD + "".join(f"{line}\n" for line in lines if line)
    Path(str(files("voice.english") / SAID)).write_text(text, encoding="utf-8")
    print(f"{len(lines)} lines")


def _lines() -> Iterator[str]:
    known = phrases().words
    for path in sorted(OWN.glob("own-*.jsonl")):
        for row in rows(path) if path.stem not in HELD_OUT else ():
            said = tuple(word for word in sentence(row["text"], known) if word not in MARKS)
            yield " ".join(numbers_as_one(said))


if __name__ == "__main__":
    main()
