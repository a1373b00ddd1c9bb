"""How words sound: the dictionary that comes with pocketsphinx, and the words of the procedure it lacks."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

SILENCE = "SIL"

Phones = tuple[str, ...]

SPOKEN_WORDS = Path(__file__).with_name("spoken_words.txt")
"""Words that people use beside the phrases: a word and its sounds a line. By ear, common practice, no source."""


def _spoken_words() -> dict[str, str]:
    lines = SPOKEN_WORDS.read_text(encoding="utf-8").splitlines()
    return {word: sounds for word, _, sounds in (line.partition(" ") for line in lines)}


PROCEDURE_WORDS: Mapping[str, str] = _spoken_words() | {
    "oesophageal": "IH S AA F AH JH IY AH L",
    "oesophagus": "IH S AA F AH G AH S",
    "lavage": "L AH V AA ZH",
    "lavaged": "L AH V AA ZH D",
    "litre": "L IY T ER",
    "litres": "L IY T ER Z",
    "millilitre": "M IH L IH L IY T ER",
    "millilitres": "M IH L IH L IY T ER Z",
    "millimetres": "M IH L IH M IY T ER Z",
    "centimetre": "S EH N T IH M IY T ER",
    "centimetres": "S EH N T IH M IY T ER Z",
    "mil": "M IH L",
    "mils": "M IH L Z",
    "manometer": "M AH N AA M AH T ER",
    "unclamped": "AH N K L AE M P T",
    "unclamp": "AH N K L AE M P",
    "capnography": "K AE P N AA G R AH F IY",
    "x-ray": "EH K S R EY",
    "variceal": "V EH R IH S IY AH L",
    "varices": "V EH R IH S IY Z",
    "terlipressin": "T ER L IH P R EH S IH N",
    "octreotide": "AA K T R IY AH T AY D",
    "ceftriaxone": "S EH F T R AY AE K S OW N",
    "tranexamic": "T R AE N EH K S AE M IH K",
    "ketamine": "K EH T AH M IY N",
    "propofol": "P R OW P AH F AA L",
    "rocuronium": "R AA K Y ER OW N IY AH M",
    "fentanyl": "F EH N T AH N IH L",
    "midazolam": "M IH D AE Z AH L AE M",
    "noradrenaline": "N AO R AH D R EH N AH L IH N",
    "adrenaline": "AH D R EH N AH L IH N",
    "metaraminol": "M EH T ER AE M IH N AA L",
    "cryoprecipitate": "K R AY OW P R IH S IH P IH T EY T",
    "platelets": "P L EY T L AH T S",
    "crystalloid": "K R IH S T AH L OY D",
    "systolic": "S IH S T AA L IH K",
    "diastolic": "D AY AH S T AA L IH K",
    "saturation": "S AE CH ER EY SH AH N",
    "deflated": "D IH F L EY T IH D",
    "deflate": "D IH F L EY T",
    "reinflated": "R IY IH N F L EY T IH D",
    "somatostatin": "S AH M AE T AH S T AE T IH N",
    "vasopressin": "V EY Z OW P R EH S IH N",
    "erythromycin": "IH R IH TH R AH M AY S IH N",
    "pantoprazole": "P AE N T OW P R AH Z OW L",
    "suxamethonium": "S AH K S AH M AH TH OW N IY AH M",
    "norepinephrine": "N AO R EH P IH N EH F R IH N",
    "fibrinogen": "F AY B R IH N AH JH AH N",
    "prothrombin": "P R OW TH R AA M B IH N",
    "albumin": "AE L B Y UH M IH N",
    "endoscopy": "EH N D AA S K AH P IY",
    "suctions": "S AH K SH AH N Z",
    "lumens": "L UW M AH N Z",
    "haemoglobin": "HH IY M AH G L OW B IH N",
    "millimoles": "M IH L IH M OW L Z",
    "decilitre": "D EH S IH L IY T ER",
    "micrograms": "M AY K R OW G R AE M Z",
    "intubated": "IH N T UW B EY T IH D",
    "extubated": "EH K S T UW B EY T IH D",
    "lumen": "L UW M AH N",
    "c": "S IY",
}
"""Words that the dictionary lacks or has otherwise. By ear, common practice, no source."""

T_FOR_TH: Mapping[str, Mapping[str, str]] = {
    "three": {"tree": "T R IY"},
    "thirteen": {"tirteen": "T ER T IY N", "torteen": "T AO R T IY N"},
    "thirty": {"tirty": "T ER T IY", "torty": "T AO R T IY"},
}
"""How numbers sound in accents that make a T of TH (of Ireland, West Africa, India, the Caribbean), by spellings that
make the voices say so. In some of them the vowel is that of "forty" too, so that the first sound alone tells them
apart. From memory: Wells, Accents of English, 1982."""


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Words and their sounds in ARPAbet symbols without stress."""

    words: Mapping[str, Phones]
    phones: Phones
    """Every sound, silence first: the order of the net's outputs."""

    def sounds(self, text: str) -> list[Phones] | None:
        """The sounds of each word, or None when one of them is unknown."""
        found = [self.words.get(word) for word in text.split()]
        return None if any(word is None for word in found) else [word for word in found if word is not None]


def load_lexicon(dictionary: Path) -> Lexicon:
    """The first pronunciation of every word: what is trained and what is decoded have to be the same."""
    words: dict[str, Phones] = {}
    for line in dictionary.read_text(encoding="utf-8").splitlines():
        word, *phones = line.split()
        if re.fullmatch(r"[a-z][a-z'-]*", word):
            words[word] = tuple(phones)
    words |= {word: tuple(sounds.split()) for word, sounds in PROCEDURE_WORDS.items()}
    phones = sorted({phone for sounds in words.values() for phone in sounds} - {SILENCE})
    return Lexicon(words, (SILENCE, *phones))


def lexicon_lines(lexicon: Lexicon) -> Iterator[str]:
    """The words that are heard otherwise than the dictionary's first pronunciation, or in more than one way."""
    for word in sorted({*PROCEDURE_WORDS, *T_FOR_TH}):
        for sounds in (" ".join(lexicon.words[word]), *T_FOR_TH.get(word, {}).values()):
            yield f"{word} {sounds}\n"
