"""Teams that rehearse, as text: what they say and when, and what their score comes to.

# what this shows                      first line; everything after "#" is for the reader
scenario: misplaced
00:10 airway secured                   minutes and seconds of the case, or hours before that
= logged 13 of 17                      a section of the score: how many were kept, of how many that came up
NO logged: gastric leak test           each line of it that was not kept; all of them, or the test fails
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "scenarios" / "rehearsals"
TEAMS = sorted(FOLDER.glob("*.txt"))


@dataclass
class Team:
    """One file."""

    scenario: str = ""
    script: str = ""
    counts: dict[str, tuple[int, int]] = field(default_factory=dict)
    not_kept: list[tuple[str, str]] = field(default_factory=list)


def team(path: Path) -> Team:
    """Reads one file; an odd line is an error, never skipped."""
    found = Team()
    for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        line = text.partition("#")[0].strip()
        count, not_kept = re.fullmatch(r"= (\w+) (\d+) of (\d+)", line), re.fullmatch(r"NO (\w+): (.+)", line)
        if line.startswith("scenario: "):
            found.scenario = line.removeprefix("scenario: ")
        elif count:
            found.counts[count[1]] = int(count[2]), int(count[3])
        elif not_kept:
            found.not_kept.append((not_kept[1], not_kept[2]))
        elif re.match(r"\d+:\d\d", line):
            found.script += f"{line}\n"
        elif line:
            pytest.fail(f"{path.name}:{number}: cannot be read: {text}")
    return found
