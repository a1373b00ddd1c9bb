"""The colours of the room, dark, light and without colour. A priority has colour, shape and word: high is red, medium
yellow, low cyan (IEC 60601-1-8, table of indicator lights, open terms), and each stands in a bar with its sign.

Contrast is that of WCAG 2.2 (at least 4.5 to 1 for text), and colours are told apart by people who see no red, no green
or no blue: tests/tui/room/test_theme.py measures both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from textual.theme import Theme

from log.basics.patterns import Level


@dataclass(frozen=True, slots=True)
class Look:
    """Styles by what they mean. "" means: as the text around it."""

    name: str
    paper: str
    ink: str
    soft: str
    """For what stands beside: limits, sources."""
    bar: Mapping[Level, str]
    """Of the bar with sign and word."""
    text: Mapping[Level, str]
    """Of figures and words that are of this priority."""

    @property
    def theme(self) -> Theme:
        """For the terminal library."""
        return Theme(
            self.name,
            primary="#2f6fb3" if self.name != LIGHT_NAME else "#1d5a9c",
            foreground=self.ink,
            background=self.paper,
            surface=self.paper,
            panel=self.paper,
            error=self.bar["high"].rpartition(" ")[2],
            dark=self.name != LIGHT_NAME,
        )


DARK_NAME, LIGHT_NAME = "room-dark", "room-light"


def _look(
    name: str, paper: str, ink: str, soft: str, bars: dict[Level, tuple[str, str]], texts: dict[Level, str]
) -> Look:
    bar: dict[Level, str] = {level: f"bold {on} on {back}" for level, (on, back) in bars.items()}
    text: dict[Level, str] = {level: f"bold {colour}" for level, colour in texts.items()}
    return Look(name, paper, ink, soft, MappingProxyType(bar), MappingProxyType(text))


DARK = _look(
    DARK_NAME,
    "#0f1115",
    "#eceff3",
    "#a4adb8",
    {
        "high": ("#ffffff", "#d0202f"),
        "medium": ("#111111", "#ffd23f"),
        "low": ("#08181c", "#4fd3e6"),
        "information": ("#eceff3", "#3a424d"),
    },
    {"high": "#ff8e8a", "medium": "#ffd23f", "low": "#5fd8e8", "information": "#c3cad3"},
)
LIGHT = _look(
    LIGHT_NAME,
    "#fbfbf8",
    "#14171b",
    "#50565e",
    {
        "high": ("#ffffff", "#b80f24"),
        "medium": ("#14171b", "#f5c400"),
        "low": ("#ffffff", "#006d80"),
        "information": ("#14171b", "#d7dbe0"),
    },
    {"high": "#b00d22", "medium": "#725800", "low": "#00606f", "information": "#454b53"},
)
PLAIN = Look(
    "room-plain",
    "",
    "",
    "dim",
    MappingProxyType({"high": "bold reverse", "medium": "bold reverse", "low": "bold", "information": ""}),
    MappingProxyType({"high": "bold", "medium": "bold", "low": "", "information": ""}),
)
"""Where NO_COLOR is set, or the terminal has none: signs, words, bold and reverse carry everything."""


def look_of(theme: str, no_colour: bool) -> Look:
    """The styles that go with a theme of the terminal library, by its name."""
    return PLAIN if no_colour else LIGHT if theme == LIGHT_NAME else DARK
