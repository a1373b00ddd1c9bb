"""Pictures of the room's screen in every state, at every size and in every look, to be looked at: SVG, and PNG where
chromium is installed.

    python -m tests.bench.pictures FOLDER [--state asked] [--size 80x24] [--look light]

They are no goldens; those lie in `tests/tui/room/pictures`.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import product
from pathlib import Path

from textual.pilot import Pilot
from textual.widgets import Input

from tests.tui.room.test_room_pictures import STATES
from tests.tui.rooms import Size, shown_of
from tui.room.app import RoomApp

SIZES: tuple[Size, ...] = ((80, 24), (120, 40), (160, 48), (200, 60))
LOOKS = ("dark", "light", "no-colour")


def main() -> None:
    """Writes them, and prints where."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--state", action="append", choices=tuple(STATES))
    parser.add_argument("--size", action="append", type=_size)
    parser.add_argument("--look", action="append", choices=LOOKS)
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    os.environ["TAMPONADE_KEY"] = str(options.folder / "key")
    for state, size, look in product(options.state or STATES, options.size or SIZES, options.look or LOOKS):
        path = options.folder / f"{state}-{size[0]}-{look}.svg"
        path.write_text(picture(state, size, look), encoding="utf-8")
        print(*(str(one) for one in (path, *_as_png(path))))


def _size(text: str) -> Size:
    columns, rows = text.split("x")
    return int(columns), int(rows)


def picture(state: str, size: Size, look: str) -> str:
    """One of them as SVG."""
    begin, act = STATES[state]
    os.environ.pop("NO_COLOR", None)
    if look == "no-colour":
        os.environ["NO_COLOR"] = "1"
    taken: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        begun = begin(Path(folder))

        async def acted(app: RoomApp, pilot: Pilot[None]) -> None:
            await act(begun, app, pilot)
            for field in app.screen.query(Input):
                field.cursor_blink = False
            await pilot.pause()
            app.picture.lay_out()
            await pilot.pause()
            taken.append(app.export_screenshot())

        shown_of(begun.app(light=look == "light"), acted, size)
        begun.session.case.close()
    return taken[0]


def _as_png(path: Path) -> Iterator[Path]:
    browser = shutil.which("chromium")
    if browser is None:
        return
    png = path.with_suffix(".png").absolute()
    command = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=1600,1300"]
    subprocess.run([*command, f"--screenshot={png}", path.absolute().as_uri()], check=True, capture_output=True)
    yield png


if __name__ == "__main__":
    main()
