"""Accents in which numbers have other vowels than the synthesisers give them. A real speaker's "three" with a gliding
vowel was heard as "eight", and another's "sixty" as "six eight": no voice that trained the nets had spoken so.

The names of the vowels are Wells's lexical sets, and what they sound like in which accent is from memory of the same
book: Accents of English, 1982. Sounds are in espeak-ng's symbols, which Kokoro is given by way of espeak-ng too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

ENGINES = ("espeak", "kokoro")
"""Synthesisers that can be told sounds."""

NUMBERS: Mapping[str, str] = {
    "zero": "z'i@r{goat}",
    "oh": "'{goat}",
    "three": "Tr'{fleece}",
    "five": "f'{price}v",
    "six": "s'{kit}ks",
    "seven": "s'{dress}v@n",
    "eight": "'{face}t",
    "nine": "n'{price}n",
    "ten": "t'{dress}n",
    "eleven": "{kit}l'{dress}v@n",
    "twelve": "tw'{dress}lv",
    "thirteen": "T3:t'{fleece}n",
    "fourteen": "fO@t'{fleece}n",
    "fifteen": "f{kit}ft'{fleece}n",
    "sixteen": "s{kit}kst'{fleece}n",
    "seventeen": "s{dress}v@nt'{fleece}n",
    "eighteen": "{face}t'{fleece}n",
    "nineteen": "n{price}nt'{fleece}n",
    "twenty": "tw'{dress}nt{happy}",
    "thirty": "T'3:t{happy}",
    "forty": "f'O@t{happy}",
    "fifty": "f'{kit}ft{happy}",
    "sixty": "s'{kit}kst{happy}",
    "seventy": "s'{dress}v@nt{happy}",
    "eighty": "'{face}t{happy}",
    "ninety": "n'{price}nt{happy}",
}
"""Number words that have one of the vowels below; the others sound much the same everywhere."""

USUAL: Mapping[str, str] = {
    "fleece": "i:",
    "happy": "i",
    "face": "eI",
    "price": "aI",
    "goat": "oU",
    "kit": "I",
    "dress": "E",
}

ACCENTS: Sequence[Mapping[str, str]] = (
    # Australia, New Zealand, London, Birmingham, the southern United States: long vowels begin more open.
    {"fleece": "EI", "happy": "eIi:"},
    {"fleece": "eIi:", "happy": "Ii:"},
    {"fleece": "Ii:", "happy": "eIi:", "face": "a|I", "price": "OI", "goat": "VU"},
    {"fleece": "EI", "happy": "Ii:", "face": "a|I", "price": "OI", "goat": "aU"},
    # The southern United States: "five" and "nine" with one long vowel.
    {"fleece": "EI", "happy": "Ii:", "price": "A:"},
    {"price": "A:"},
    # The North of England, older British speech: the last vowel of "sixty" is short.
    {"happy": "I"},
    # New Zealand, South Africa: "six" with the vowel of "the", "ten" nearly with that of "tin".
    {"fleece": "Ii:", "happy": "Ii:", "kit": "@", "dress": "I"},
    {"kit": "@"},
)
"""The vowels that are not the usual ones, accent by accent."""


def spelt(word: str, accent: Mapping[str, str]) -> str | None:
    """How a synthesiser is made to say a number so; None where the accent makes no difference to the word."""
    sounds = NUMBERS.get(word, "")
    if not any(f"{{{vowel}}}" in sounds for vowel in accent):
        return None
    return f"[[{sounds.format_map({**USUAL, **accent})}]]"
