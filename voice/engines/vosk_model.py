"""A vosk model as it lies in its folder: its abilities, its words and its sounds.

Of the models one can install, those of our make (they have a phones.txt) get new sounds and sentences; ready-made
models with a separate grammar keep their words and sounds and get new sentences; models with one ready-made graph for
everything (HCLG.fst) cannot be made strict.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path

from log.basics.errors import EngineError
from voice.engines.dictionary import Lexicon
from voice.engines.openfst import read_symbols
from voice.engines.vosk_graph import Sounds, Words

PHONES, LEXICON, ACOUSTIC = Path("phones.txt"), Path("lexicon.txt"), Path("am", "final.mdl")


_MODEL_START = b"\0B<TransitionModel> <Topology> \x04"


_ADD_AGAIN = "remove it and add it again: tamponade models add"


class ModelKind(StrEnum):
    """The abilities of a model."""

    OURS = "ours"
    """Sounds and sentences are made anew."""
    LOOKAHEAD = "lookahead"
    """Its sounds and words are kept, the sentences are made anew."""
    FIXED = "fixed"
    """It cannot be made strict: it has one graph for everything, or an older layout."""


def kind_of(model: Path) -> ModelKind:
    """The abilities of the model in this folder."""
    if (model / ACOUSTIC).is_file() and (model / PHONES).is_file():
        return ModelKind.OURS
    graph = model / "graph"
    separate = all(path.is_file() for path in (model / ACOUSTIC, graph / "HCLr.fst", graph / "Gr.fst"))
    return ModelKind.LOOKAHEAD if separate and not (graph / "HCLG.fst").exists() else ModelKind.FIXED


def vocabulary(model: Path) -> Words:
    """The words of a ready-made model, from its words.txt or from inside its grammar. Raises EngineError."""
    graph = model / "graph"
    inside = read_symbols(graph / "Gr.fst")  # preferred, as by vosk itself
    if inside is not None:
        return Words(inside)
    try:
        lines = (graph / "words.txt").read_text(encoding="utf-8").splitlines()
        return Words({word: int(label) for word, label in (line.split() for line in lines if line.strip())})
    except (OSError, ValueError):
        raise EngineError(f"{graph / 'words.txt'}: the model's words cannot be read", _ADD_AGAIN) from None


def missing_words(model: Path, words: Iterable[str]) -> tuple[str, ...]:
    """Those of the words that a ready-made model cannot hear; our make has them all. Raises EngineError."""
    if kind_of(model) is ModelKind.OURS:
        return ()
    return tuple(sorted(set(words).difference(vocabulary(model).labels)))


def trained_words(model: Path) -> Lexicon:
    """Words that a model of our make was trained to hear otherwise than the dictionary has them. Raises EngineError."""
    try:
        lines = (model / LEXICON).read_text(encoding="utf-8").splitlines() if (model / LEXICON).exists() else []
    except (OSError, ValueError) as error:
        raise EngineError(f"{model / LEXICON}: cannot be read ({error})", _ADD_AGAIN) from None
    found: dict[str, tuple[tuple[str, ...], ...]] = {}
    for word, *phones in map(str.split, filter(None, lines)):
        found[word] = (*found.get(word, ()), tuple(phones))
    return found


def sounds_of(model: Path) -> Sounds:
    """The sounds of a model of our make: one base phone a line in phones.txt, SIL first. Raises EngineError."""
    try:
        sounds = Sounds((model / PHONES).read_text(encoding="utf-8").split())
        with (model / ACOUSTIC).open("rb") as file:
            start = file.read(len(_MODEL_START) + 4)
    except (OSError, ValueError) as error:
        raise EngineError(f"{model}: its sounds cannot be read ({error})", _ADD_AGAIN) from None
    if start != _MODEL_START + struct.pack("<i", sounds.count):
        raise EngineError(f"{model}: {PHONES} does not belong to its {ACOUSTIC.as_posix()}", _ADD_AGAIN)
    return sounds
