"""Figures and words that can be read across a room, drawn with blocks, the same in monochrome: figures seven rows high,
words five or three, whatever has room.
"""

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
    "/": ("     ██", "    ▄█▀", "   ▄█▀ ", "   ██  ", " ▄█▀   ", "▄█▀    ", "██     "),
}
HEIGHT = 7

DOTS = {
    "A": (".##.", "#..#", "####", "#..#", "#..#"),
    "B": ("###.", "#..#", "###.", "#..#", "###."),
    "C": (".###", "#...", "#...", "#...", ".###"),
    "D": ("###.", "#..#", "#..#", "#..#", "###."),
    "E": ("####", "#...", "###.", "#...", "####"),
    "F": ("####", "#...", "###.", "#...", "#..."),
    "G": (".###", "#...", "#.##", "#..#", ".###"),
    "H": ("#..#", "#..#", "####", "#..#", "#..#"),
    "I": ("###", ".#.", ".#.", ".#.", "###"),
    "J": ("..##", "...#", "...#", "#..#", ".##."),
    "K": ("#..#", "#.#.", "##..", "#.#.", "#..#"),
    "L": ("#...", "#...", "#...", "#...", "####"),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#"),
    "N": ("#...#", "##..#", "#.#.#", "#..##", "#...#"),
    "O": (".##.", "#..#", "#..#", "#..#", ".##."),
    "P": ("###.", "#..#", "###.", "#...", "#..."),
    "Q": (".##.", "#..#", "#..#", "#.##", ".###"),
    "R": ("###.", "#..#", "###.", "#.#.", "#..#"),
    "S": (".###", "#...", ".##.", "...#", "###."),
    "T": ("#####", "..#..", "..#..", "..#..", "..#.."),
    "U": ("#..#", "#..#", "#..#", "#..#", ".##."),
    "V": ("#...#", "#...#", "#...#", ".#.#.", "..#.."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#"),
    "X": ("#...#", ".#.#.", "..#..", ".#.#.", "#...#"),
    "Y": ("#...#", ".#.#.", "..#..", "..#..", "..#.."),
    "Z": ("####", "...#", ".##.", "#...", "####"),
    "0": (".##.", "#..#", "#..#", "#..#", ".##."),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###.", "...#", ".##.", "#...", "####"),
    "3": ("###.", "...#", ".##.", "...#", "###."),
    "4": ("#..#", "#..#", "####", "...#", "...#"),
    "5": ("####", "#...", "###.", "...#", "###."),
    "6": (".##.", "#...", "###.", "#..#", ".##."),
    "7": ("####", "...#", "..#.", ".#..", ".#.."),
    "8": (".##.", "#..#", ".##.", "#..#", ".##."),
    "9": (".##.", "#..#", ".###", "...#", ".##."),
    ".": (".", ".", ".", ".", "#"),
    "-": ("...", "...", "###", "...", "..."),
    ":": (".", "#", ".", "#", "."),
    "/": ("...#", "..#.", "..#.", ".#..", "#..."),
    " ": ("..", "..", "..", "..", ".."),
}
ROWS = 5
HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
"""Upper and lower dot -> the block that shows both."""


def large(figures: str) -> str:
    """The figures in rows of blocks; a character that is no figure is left out."""
    glyphs = [GLYPHS[sign] for sign in figures if sign in GLYPHS]
    return "\n".join("  ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT))


def large_words(text: str, width: int, rows: int) -> str:
    """The words as large as they can be drawn in so much room, or as they are if they cannot."""
    for dots_across, words_below in ((2, False), (2, True), (1, False), (1, True)):
        lines = [_dotted(part) for part in (text.upper().split() if words_below else [text.upper()])]
        drawn = [_doubled(line) if dots_across == 2 else _halved(line) for line in lines]
        if _fits(drawn, width, rows):
            return "\n\n".join("\n".join(block) for block in drawn)
    return text.upper()


def large_lines(text: str, width: int, rows: int) -> str:
    """A sentence in words three rows high, line after line; in plain capitals if there is no room for that."""
    lines, words = [""], text.upper().split()
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if len(_dotted(longer)[0]) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    drawn = [_halved(_dotted(line)) for line in lines]
    if sum(map(len, drawn)) > rows or any(len(row) > width for block in drawn for row in block):
        return text.upper()
    return "\n".join(row for block in drawn for row in block)


def _dotted(text: str) -> list[str]:
    glyphs = [DOTS[sign] for sign in text if sign in DOTS]
    return [".".join(glyph[row] for glyph in glyphs) for row in range(ROWS)]


def _doubled(dots: list[str]) -> list[str]:
    return [row.replace("#", "██").replace(".", "  ") for row in dots]


def _halved(dots: list[str]) -> list[str]:
    padded = [*dots, "." * len(dots[0])]
    pairs = [zip(padded[row], padded[row + 1], strict=True) for row in range(0, ROWS, 2)]
    return ["".join(HALVES[upper + lower] for upper, lower in pair) for pair in pairs]


def _fits(drawn: list[list[str]], width: int, rows: int) -> bool:
    height = sum(map(len, drawn)) + len(drawn) - 1
    return height <= rows and all(len(row) <= width for block in drawn for row in block)
