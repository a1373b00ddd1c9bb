"""From a voice to the page: spoken by a synthesiser, heard by the engines that are shipped, in the room's lines."""

from __future__ import annotations

from pathlib import Path

from log.facts.events import EntryLogged
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.tui.conftest import alone
from tests.tui.speech import spoken


def test_cut_the_tube_without_the_lead_word_shows_what_to_do_at_once(tmp_path: Path, room_model: Path) -> None:
    said = ("log oesophageal balloon up", "cut the tube", "log tube out")
    audio = spoken(tmp_path / "room.wav", said)
    listen = ("listen", "--plain", "--audio", audio, "--cases", tmp_path, "--case", "night", "--mode", "lead")
    told = alone(*listen).done()
    page, logged = told.index("!! EMERGENCY since "), told.index("logged", told.index("!! EMERGENCY"))
    assert page < told.index("Cut all lumens in one cut") < logged
    assert "oesophageal up, volume not said" in told
    assert "-- the emergency is over after 0:00:0" in told
    entries = [f.entry for f in store.read(tmp_path, "night").facts if isinstance(f, EntryLogged)]
    assert [(e.kind, e.value) for e in entries] == [("balloon", "up"), ("emergency", "cut"), ("tube", "out")]
    assert not verify(tmp_path / f"night{SUFFIX}").problems
