"""How words sound: as the model was trained, else as the English dictionary has them (ARPAbet without stress).

The dictionary comes with pocketsphinx, whose engine is not used; only this module imports it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path

from log.basics.errors import EngineError

Lexicon = Mapping[str, tuple[tuple[str, ...], ...]]
"""Word -> its pronunciations, each as phones."""


def dictionary() -> Path:
    """The file: a word and its phones a line."""
    from pocketsphinx import get_model_path

    return Path(get_model_path()) / "en-us" / "cmudict-en-us.dict"


def lexicon(words: Iterable[str], extra: Mapping[str, tuple[str, ...]], trained: Lexicon) -> Lexicon:
    """How each word sounds: as the model was trained, that is by its own list, else the first way of the dictionary;
    words that neither has, by the definition. Raises EngineError naming words that have no pronunciation.
    """
    found = pronounced(words, extra, trained)
    missing = sorted(set(words) - found.keys())
    if missing:
        raise EngineError(
            f"the speech engine cannot pronounce: {', '.join(missing)}",
            "add them under [pronunciations] in the definition",
        )
    return found


def pronounced(words: Iterable[str], extra: Mapping[str, tuple[str, ...]], trained: Lexicon) -> Lexicon:
    """The same of those words that have a pronunciation; with "'s" behind it a word sounds as it does without."""
    wanted = sorted(set(words))
    found = {word: list(trained.get(word, ())) for word in (*wanted, *(word.removesuffix("'s") for word in wanted))}
    for word, said in _entries():
        if word in found and not found[word]:
            found[word] = [said]
    for word in found:
        found[word] = found[word] or [tuple(said.split()) for said in extra.get(word, ())] or _ours().get(word, [])
    for word in wanted:
        found[word] = found[word] or [(*said, *_sound_of_s(said[-1])) for said in found[word.removesuffix("'s")]]
    return {word: tuple(found[word]) for word in wanted if found[word]}


@cache
def _ours() -> Mapping[str, list[tuple[str, ...]]]:
    """Words that people say at the bedside and the dictionary lacks."""
    lines = (files("voice.english") / "pronounced.txt").read_text(encoding="utf-8").splitlines()
    return {word: [tuple(sounds)] for word, *sounds in map(str.split, lines)}


def _sound_of_s(before: str) -> tuple[str, ...]:
    """How "'s" sounds behind another sound."""
    if before in ("S", "Z", "SH", "ZH", "CH", "JH"):
        return ("IH", "Z")
    return ("S",) if before in ("P", "T", "K", "F", "TH") else ("Z",)


def _entries() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Word and phones; a further pronunciation of a word is listed as "word(2)"."""
    with dictionary().open(encoding="utf-8") as lines:
        for line in lines:
            word, _, phones = line.partition(" ")
            yield word.partition("(")[0], tuple(phones.split())
