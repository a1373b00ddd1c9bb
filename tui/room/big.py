"""Figures that can be read across a room: seven rows high, drawn with blocks, the same in monochrome."""

from __future__ import annotations

GLYPHS = {
    "0": ("▄████▄", "██  ██", "██  ██", "██  ██", "██  ██", "██  ██", "▀████▀"),
    "1": ("  ▄██ ", "▄████ ", "  ██  ", "  ██  ", "  ██  ", "  ██  ", "██████"),
    "2": ("▄████▄", "██  ██", "    ██", "  ▄██▀", "▄██▀  ", "██    ", "██████"),
    "3": ("▄████▄", "██  ██", "    ██", "  ███▄", "    ██", "██  ██", "▀████▀"),
    "4": ("   ▄██", "  ▄███", " ▄█▀██", "██  ██", "██████", "    ██", "    ██"),
    "5": ("██████", "██    ", "█████▄", "    ██", "    ██", "██  ██", "▀████▀"),
    "6": ("▄████▄", "██  ▀▀", "██    ", "█████▄", "██  ██", "██  ██", "▀████▀"),
    "7": ("██████", "    ██", "   ▄█▀", "  ▄█▀ ", "  ██  ", "  ██  ", "  ██  "),
    "8": ("▄████▄", "██  ██", "██  ██", "▄████▄", "██  ██", "██  ██", "▀████▀"),
    "9": ("▄████▄", "██  ██", "██  ██", "▀█████", "    ██", "▄▄  ██", "▀████▀"),
    ".": ("  ", "  ", "  ", "  ", "  ", "██", "██"),
    "-": ("    ", "    ", "    ", "████", "    ", "    ", "    "),
}
HEIGHT = 7


def large(figures: str) -> str:
    """The figures in rows of blocks; a character that is no figure is left out."""
    glyphs = [GLYPHS[sign] for sign in figures if sign in GLYPHS]
    return "\n".join("  ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT))
