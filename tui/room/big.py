"""Figures and words that can be read across a room, drawn with blocks, the same in monochrome: figures as large as
there is room for, those of a question hollow; words, which are for alarms alone, five rows high or three.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

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
    ":": ("  ", "  ", "██", "  ", "██", "  ", "  "),
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
DOTS_OF = {block: dots for dots, block in HALVES.items()}


SCALES = (3, 2, 1)
"""How many times seven rows."""

OUTLINES = ((6, 3), (4, 2), (3, 2), (2, 1))
"""Columns and rows of a dot of an outline; figures are three dots wide and five high."""

THIN = {
    "0": ("###", "#.#", "#.#", "#.#", "###"),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###", "..#", "###", "#..", "###"),
    "3": ("###", "..#", "###", "..#", "###"),
    "4": ("#.#", "#.#", "###", "..#", "..#"),
    "5": ("###", "#..", "###", "..#", "###"),
    "6": ("###", "#..", "###", "#.#", "###"),
    "7": ("###", "..#", "..#", "..#", "..#"),
    "8": ("###", "#.#", "###", "#.#", "###"),
    "9": ("###", "#.#", "###", "..#", "###"),
    ".": (".", ".", ".", ".", "#"),
    "/": ("..#", "..#", ".#.", "#..", "#.."),
    "?": ("###", "..#", ".##", "...", ".#."),
}
"""Of one stroke's width, for outlines."""

CORNERS = " ╹╻┃╸┛┓┫╺┗┏┣━┻┳╋"
"""By the edges that meet in a corner: 1 above, 2 below, 4 to the left, 8 to the right."""


def large(figures: str, scale: int = 1) -> str:
    """The figures in rows of blocks, seven times `scale` high; a character that is no figure is left out."""
    glyphs = [GLYPHS[sign] for sign in figures if sign in GLYPHS]
    rows = ["  ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT)]
    return "\n".join(rows if scale == 1 else _enlarged(rows, scale))


def as_large(figures: str, width: int, rows: int) -> str:
    """The figures as large as they can be drawn in so much room; on one line as they are if they cannot."""
    for scale in SCALES:
        drawn = large(figures, scale)
        if HEIGHT * scale <= rows and drawn.index("\n") <= width:
            return drawn
    return large_words(figures, width, rows)


def hollow(readings: Sequence[str], width: int, rows: int) -> str:
    """A question in outlined figures, "15 or 50 ?", side by side or below one another, as large as there is room for.
    In plain signs if there is none, or if a reading is a word."""
    asked = f"{' or '.join(readings)} ?"
    if not all(set(one) <= set(THIN) for one in readings):
        return asked
    for dot in OUTLINES:
        parts = [*(part for one in readings for part in (_outlined(one, *dot), "or")), _outlined("?", *dot)]
        del parts[-2:-1]
        beside = _beside(parts)
        if _room(beside, width, rows):
            return "\n".join(beside)
        below = [row for one in readings[:-1] for row in _beside([_outlined(one, *dot), "or"])]
        below += _beside([_outlined(readings[-1], *dot), _outlined("?", *dot)])
        if _room(below, width, rows):
            return "\n".join(below)
    words = [part for one in readings for part in (_halved(_dotted(one)), "or")]
    small = _beside([*words[:-1], "?"])
    return "\n".join(small) if _room(small, width, rows) else asked


def _enlarged(rows: Sequence[str], scale: int) -> list[str]:
    """Each dot of the blocks, of which two stand in a sign, so many times as wide and as high."""
    dots = [row for signs in rows for row in zip(*(DOTS_OF[sign] for sign in signs), strict=True)]
    high = [row for row in dots for _ in range(scale)]
    pairs = zip(high[::2], high[1::2], strict=True)
    return ["".join(HALVES[a + b] * scale for a, b in zip(*pair, strict=True)) for pair in pairs]


def _outlined(figures: str, wide: int, high: int) -> list[str]:
    """The outline of the figures, each dot so many columns wide and so many rows high."""
    dots = [".".join(THIN[sign][row] for sign in figures) for row in range(ROWS)]
    on = {(x, y) for y, row in enumerate(dots) for x, sign in enumerate(row) if sign == "#"}

    def inside(x: int, y: int) -> bool:
        return (x // wide, y // high) in on

    def corner(x: int, y: int) -> str:
        nw, ne, sw, se = inside(x - 1, y - 1), inside(x, y - 1), inside(x - 1, y), inside(x, y)
        return CORNERS[(nw != ne) + 2 * (sw != se) + 4 * (nw != sw) + 8 * (ne != se)]

    return ["".join(corner(x, y) for x in range(len(dots[0]) * wide + 1)) for y in range(ROWS * high + 1)]


def _beside(parts: Sequence[list[str] | str]) -> list[str]:
    """Blocks side by side; a word between them stands in the middle."""
    height = max(len(part) for part in parts if isinstance(part, list))
    columns = [part if isinstance(part, list) else _amid(f" {part} ", height) for part in parts]
    return [" ".join(rows) for rows in zip(*columns, strict=True)]


def _amid(word: str, height: int) -> list[str]:
    return [word if row == height // 2 else " " * len(word) for row in range(height)]


def _room(block: Sequence[str], width: int, rows: int) -> bool:
    return len(block) <= rows and all(len(row) <= width for row in block)


def large_words(text: str, width: int, rows: int) -> str:
    """The words as large as they can be drawn in so much room, or as they are if they cannot."""
    for dots_across, words_below in product((4, 2, 1), (False, True)):
        lines = [_dotted(part) for part in (text.upper().split() if words_below else [text.upper()])]
        drawn = [_at_size(line, dots_across) for line in lines]
        if _fits(drawn, width, rows):
            return "\n\n".join("\n".join(block) for block in drawn)
    return text.upper()


def large_lines(text: str, width: int, rows: int) -> str:
    """A sentence line after line, as large as it can be drawn in so much room; in plain capitals if it cannot."""
    for across in (4, 2, 1):
        drawn = [_at_size(_dotted(line), across) for line in _filled(text.upper().split(), width, across)]
        if across > 1 and _fits(drawn, width, rows):
            return "\n\n".join("\n".join(block) for block in drawn)
    if sum(map(len, drawn)) > rows or any(len(row) > width for block in drawn for row in block):
        return text.upper()
    return "\n".join(row for block in drawn for row in block)


def _filled(words: Sequence[str], width: int, across: int) -> list[str]:
    """Lines as long as they can be where a dot is so many columns wide."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if len(_dotted(longer)[0]) * across <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _at_size(dots: list[str], across: int) -> list[str]:
    return _halved(dots) if across == 1 else _blocks(dots, across)


def _dotted(text: str) -> list[str]:
    glyphs = [DOTS[sign] for sign in text if sign in DOTS]
    return [".".join(glyph[row] for glyph in glyphs) for row in range(ROWS)]


def _blocks(dots: list[str], across: int) -> list[str]:
    """Each dot so many columns wide, and half as many rows high, as wide as high on the screen."""
    return [row.replace("#", "█" * across).replace(".", " " * across) for row in dots for _ in range(across // 2)]


def _halved(dots: list[str]) -> list[str]:
    padded = [*dots, "." * len(dots[0])]
    pairs = [zip(padded[row], padded[row + 1], strict=True) for row in range(0, ROWS, 2)]
    return ["".join(HALVES[upper + lower] for upper, lower in pair) for pair in pairs]


def _fits(drawn: list[list[str]], width: int, rows: int) -> bool:
    height = sum(map(len, drawn)) + len(drawn) - 1
    return height <= rows and all(len(row) <= width for block in drawn for row in block)
