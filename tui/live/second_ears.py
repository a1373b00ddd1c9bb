"""The ears of a second hearing: all that there are on this machine, with their wider search."""

from __future__ import annotations

from voice.engines import models
from voice.engines.vosk import available
from voice.engines.words import WordsSpec
from voice.engines.words_models import words_model
from voice.english.context import CONTEXT
from voice.meaning.again import WIDE, SecondEars
from voice.meaning.ears import Ears, EngineChoice
from voice.phrases.phrases import Phrases


def second_ears(phrases: Phrases, engine: EngineChoice = "auto") -> SecondEars:
    """Raises EngineError, and InputError for a general recogniser that is named and not known."""
    words = words_model()
    spec = WordsSpec(words.path, words.name, CONTEXT) if words is not None else None
    vosk = engine in ("auto", "vosk", "both") and available()
    model = models.default_model(models.models_dir()) if vosk else None
    if model is None:
        return SecondEars(Ears(phrases, None, engine, beam=WIDE), spec)
    return SecondEars(Ears(phrases, None, engine, model.path, model.runtime_grammar, beam=WIDE), spec)
