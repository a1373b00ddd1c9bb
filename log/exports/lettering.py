"""The two faces that paper is set in, and for every character that they do not have its code point."""

from __future__ import annotations

import unicodedata
from functools import cache
from importlib.resources import files
from io import BytesIO

from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"


def legible(text: str) -> str:
    """The text with the code point in place of what the faces cannot show: "[U+4E2D]"."""
    glyphs = _glyphs()
    composed = unicodedata.normalize("NFC", text)
    return "".join(sign if ord(sign) in glyphs else f"[U+{ord(sign):04X}]" for sign in composed)


@cache
def _glyphs() -> frozenset[int]:
    """The code points that both faces can show. The faces are registered on the way."""
    known = []
    for name in (PLAIN, BOLD):
        content = (files("log.exports") / "fonts" / f"{name}-subset.ttf").read_bytes()
        font = TTFont(name, BytesIO(content))
        registerFont(font)
        known.append(frozenset(font.face.charToGlyph))
    registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    return known[0] & known[1]
