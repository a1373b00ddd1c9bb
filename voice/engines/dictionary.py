"""The English dictionary: a word and its phones (ARPAbet without stress) a line. It comes with pocketsphinx, whose
engine is not used; only this module imports it.
"""

from __future__ import annotations

from pathlib import Path


def dictionary() -> Path:
    """The file."""
    from pocketsphinx import get_model_path

    return Path(get_model_path()) / "en-us" / "cmudict-en-us.dict"
