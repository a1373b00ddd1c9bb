"""Accents in which numbers have other sounds than the synthesisers give them. A real speaker's "three" with a gliding
vowel and a TH too soft for the microphone was heard as "eight", and another's "sixty" as "six eight": no voice that
trained the nets had spoken so. Who learnt English later says other consonants too.

The names of the vowels are Wells's lexical sets. What they sound like in which accent is from memory of the same book:
Accents of English, 1982; what learners bring along from their language, of Swan and Smith: Learner English, 2001.
Sounds are in espeak-ng's symbols, which Kokoro is given by way of espeak-ng too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

ENGINES = ("espeak", "kokoro")
"""Synthesisers that can be told sounds."""

NUMBERS: Mapping[str, str] = {
    "zero": "{z}'{near}{r}{goat}",
    "oh": "'{goat}",
    "one": "{w}'{one}n",
    "three": "{th}{r}'{fleece}",
    "four": "f'{force}",
    "five": "f'{price}{v}",
    "six": "s'{kit}ks",
    "seven": "s'{dress}v{weak}n",
    "eight": "'{face}t",
    "nine": "n'{price}n",
    "ten": "t'{dress}n",
    "eleven": "{kit}l'{dress}v{weak}n",
    "twelve": "t{w}'{dress}l{v}",
    "thirteen": "{th}{nurse}t'{fleece}n",
    "fourteen": "f{north}t'{fleece}n",
    "fifteen": "f{kit}ft'{fleece}n",
    "sixteen": "s{kit}kst'{fleece}n",
    "seventeen": "s{dress}v{weak}nt'{fleece}n",
    "eighteen": "{face}t'{fleece}n",
    "nineteen": "n{price}nt'{fleece}n",
    "twenty": "t{w}'{dress}nt{happy}",
    "thirty": "{th}'{nurse}t{happy}",
    "forty": "f'{north}t{happy}",
    "fifty": "f'{kit}ft{happy}",
    "sixty": "s'{kit}kst{happy}",
    "seventy": "s'{dress}v{weak}nt{happy}",
    "eighty": "'{face}t{happy}",
    "ninety": "n'{price}nt{happy}",
    "hundred": "{h}'{strut}nd{r}{red}d",
}
"""Number words that have one of the sounds below; the others sound much the same everywhere."""

USUAL: Mapping[str, str] = {
    "fleece": "i:",
    "happy": "i",
    "face": "eI",
    "price": "aI",
    "goat": "oU",
    "kit": "I",
    "dress": "E",
    "strut": "V",
    "nurse": "3:",
    "north": "O@",
    "force": "o@",
    "near": "i@",
    "one": "02",
    "weak": "@",
    "red": "I2",
    "th": "T",
    "r": "r",
    "w": "w",
    "v": "v",
    "z": "z",
    "h": "h",
}
"""Vowels by lexical set, those of single words by the word; `weak` is the second vowel of "seven", `v` ends a word."""


def _accents(*lines: str) -> Sequence[Mapping[str, str]]:
    return [dict(part.split("=") for part in line.split()) for line in lines]


ACCENTS = _accents(
    # Australia, New Zealand, London, Birmingham, the southern United States: long vowels begin more open.
    "fleece=EI happy=eIi:",
    "fleece=eIi: happy=Ii:",
    "fleece=Ii: happy=eIi: face=a|I price=OI goat=VU",
    "fleece=EI happy=Ii: face=a|I price=OI goat=aU",
    # The southern United States: "five" and "nine" with one long vowel.
    "fleece=EI happy=Ii: price=A:",
    "price=A:",
    # The North of England, older British speech: the last vowel of "sixty" is short.
    "happy=I",
    # New Zealand, South Africa: "six" with the vowel of "the", "ten" nearly with that of "tin".
    "fleece=Ii: happy=Ii: kit=@ dress=I",
    "kit=@",
)
"""The vowels that are not the usual ones, accent by accent."""

LEARNERS = _accents(
    # German, Dutch: voiced ends are voiceless, r far back.
    "th=s r=Q w=v v=f strut=a one=a red=E",
    "th=t w=v v=f strut=a weak=E face=e: goat=o:",
    # French: no h, one i for both.
    "th=s r=Q h= kit=i fleece=i one=a weak=E face=E goat=o",
    "th=f r=Q h= kit=i fleece=i nurse=E* strut=0 goat=o",
    # Spanish, Portuguese, Greek; Italian: r with the tip of the tongue, pure vowels, no weak ones.
    "r=* z=s v=B h=x kit=i fleece=i strut=a one=a weak=e red=e nurse=E* north=o* force=o* near=e goat=o",
    "th=t r=R v=v@ h= kit=i fleece=i strut=a one=a weak=E red=E nurse=ER north=OR force=OR near=E goat=o",
    # Slavonic languages: r rolled, h of the throat.
    "th=s r=R w=v v=f h=x kit=i fleece=i strut=a weak=E",
    "th=f r=R w=v h=x kit=i fleece=i one=a goat=o nurse=3:*",
    # Languages of India: v and w are one, long pure vowels.
    "th=t[ r=* w=v# v=v# face=e: goat=o: nurse=V* red=E",
    # Chinese, Japanese: no v at the end, one i for both.
    "th=s v=f kit=i strut=a one=a",
    "th=s r=* v=b kit=i fleece=i strut=a face=e: nurse=A:",
    # Nordic languages: s for z.
    "th=t r=* z=s w=v face=e:",
)
"""The same of those who learnt English later, by what they spoke before."""

SOFT = _accents(
    "th=",
    "th= fleece=EI",
    "th= fleece=Ii: nurse=@",
    "th= r=*",
    # London: F for TH.
    "th=f",
    "th=f fleece=eIi:",
)
"""A TH that the microphone does not hear, or hears as another sound: "three" begins with its r."""

EVERY = (ACCENTS, LEARNERS, SOFT)
"""Each as likely as the others."""


def spelt(word: str, accent: Mapping[str, str]) -> str | None:
    """How a synthesiser is made to say a number so; None where the accent makes no difference to the word."""
    sounds = NUMBERS.get(word, "")
    if not any(f"{{{sound}}}" in sounds for sound in accent):
        return None
    return f"[[{sounds.format_map({**USUAL, **accent})}]]"
