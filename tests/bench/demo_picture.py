"""Makes the README's picture: a stretch of the demonstration as it looks in a terminal of 120 columns.

python tests/bench/demo_picture.py
"""

from __future__ import annotations

import io
import re
import tempfile
from importlib.resources import as_file, files
from pathlib import Path

from rich.console import Console

from log.definition.load import in_force
from log.facts.events import Fact
from log.rules.definitions import read_procedure
from log.scribe.opening import Keeping, open_case
from tui.commands.options import ears
from tui.live.replay import replay
from tui.views.read_back import ReadBack
from voice.meaning.verdict import Hearing
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile

FROM, TO = 40.0, 125.0
"""Seconds of the demonstration that are shown."""


class Stretch(ReadBack):
    """The read-back, silent outside the stretch."""

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """Prints what was said in the stretch."""
        if FROM <= hearing.said_at <= TO:
            super().heard(hearing, facts)


def main() -> None:
    """Hears the demonstration and writes tui/demo/demo.svg."""
    console = Console(record=True, width=120, file=io.StringIO(), force_terminal=True, highlight=False)
    with tempfile.TemporaryDirectory() as folder, as_file(files("tui.demo") / "demo.opus") as sound:
        session = open_case(Path(folder), None, in_force(read_procedure("three-lumen"), None), "demo.opus", Keeping())
        view = Stretch(session, console)
        view.start("Tamponade log: an invented case, heard from a recording")
        with ears(compile_phrases(session.procedure), "log", "pocketsphinx") as listening:
            replay(AudioFile(sound), session, listening, view)
    target = Path(__file__).resolve().parents[2] / "tui" / "demo" / "demo.svg"
    drawn = re.sub(r"<!--.*?-->\s*", "", console.export_svg(title="tamponade demo"), flags=re.DOTALL)
    target.write_text(re.sub(r"@font-face\s*\{.*?\}\s*", "", drawn, flags=re.DOTALL), encoding="utf-8")  # no network
    print(target)


if __name__ == "__main__":
    main()
