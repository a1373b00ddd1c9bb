"""Units that are said at the bedside and never logged: a number in one of them is another number."""

from __future__ import annotations

from voice.english.listed import words_of

OTHER_UNITS = words_of("kilopascal kilopascals kpa inch inches pound pounds ounce ounces psi hectopascals")
