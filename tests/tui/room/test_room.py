"""What the room sees and what the scribe's keys do; whatever is done is a fact on disk, and the case verifies."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import Input, Label, Static

from log.basics.entry import Entry, Understood
from log.basics.errors import StoreError
from log.facts.events import (
    EntryAmended,
    EntryLogged,
    EntryStruck,
    Fact,
    FindingAcknowledged,
    IdentifiersGiven,
    NoteWritten,
    QuestionAnswered,
)
from log.facts.origin import Origin
from log.scribe.session import Clip
from tests.cases import HOSTILE
from tests.tui.rooms import NARROW, WIDE, Room, Size, drawn, keys, room, seen, shown, told, well_on
from tui.room.app import RoomApp
from tui.room.big import hollow, large
from tui.room.dialogs import Form
from tui.room.help import Help
from tui.room.table import LogTable
from tui.views.one_screen import in_short
from voice.sound.audio import flac

Act = Callable[[RoomApp, Pilot[None]], Awaitable[None]]


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case without lines."""
    return room(tmp_path)


@pytest.fixture
def going(tmp_path: Path) -> Room:
    """A case well on, with a pressure that is too high."""
    return well_on(tmp_path)


def row(app: RoomApp, number: int) -> list[str]:
    """One row of the table."""
    return [cell.plain for cell in app.room.query_one(LogTable).cells(number)]


async def typed(pilot: Pilot[None], text: str, *then: str) -> None:
    """Typed into the field that has the focus."""
    field = pilot.app.focused
    assert isinstance(field, Input)
    field.value = text
    await keys(pilot, *(then or ("enter",)))


def last(begun: Room, kind: type[Fact]) -> Fact:
    """The last fact on disk but for what the rules say, which has to be of this kind; the case has to verify."""
    assert begun.verified()
    facts = [fact for fact in begun.facts() if not fact.fact.startswith("finding_") or isinstance(fact, kind)]
    assert isinstance(facts[-1], kind)
    return facts[-1]


# ---- what is seen -----------------------------------------------------------------------------------------------


def test_a_number_is_read_back_large_with_digits_total_and_standing(begun: Room) -> None:
    begun.say("gastric in five zero")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        text = seen(app, "#read-back")
        for line in large("50", 2).splitlines():
            assert line.rstrip() in text
        for words in ("1 · gastric · volume in", "50 mL · five-zero", "→ gastric 50 mL", "✔ STANDS"):
            assert words in text

    shown(begun, act)


def test_a_word_is_no_alarm_and_is_written_as_a_word(begun: Room) -> None:
    begun.say("x-ray confirms gastric position")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        text = seen(app, "#read-back")
        assert "confirmed" in text and not set("█▀▄") & set(text)

    shown(begun, act)


def test_an_open_question_shows_the_words_to_say_and_in_no_total(begun: Room) -> None:
    begun.say("gastric in fifty")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        text = " ".join(seen(app, "#read-back").split())
        assert "? ASKED: in no total yet" in text
        assert 'Say "confirm" for 50 mL, "one five" for 15 mL. (50 and 15 sound alike)' in text
        assert hollow(("50", "15"), 62, 11).splitlines()[0] in seen(app, "#read-back")
        assert "→" not in text
        assert row(app, 1)[2:4] == ["gastric volume in 50 mL or 15 mL?", "? ASKED"]
        assert "line 1" in seen(app, "#glance")

    shown(begun, act)


def test_a_question_is_read_back_before_what_was_logged_in_the_same_breath(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.notify(begun.say("gastric in fifty clamp on the gastric"))
        await pilot.pause()
        assert "1 · gastric · volume in" in seen(app, "#read-back")

    shown(begun, act)


def test_states_of_the_ear_are_words(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        for state, why, words in (
            ("listening", "", ("● LISTENING", 'say "log" first')),
            ("hearing", "", ("◉ HEARING",)),
            ("lost", "the microphone was unplugged", ("✘ NO SOUND", "the microphone was unplugged")),
            ("muted", "our own voice is speaking", ("○ MUTED", "our own voice is speaking")),
            ("waiting for the key", "", ("○ PRESS TO TALK",)),
            ("stopped", "end of the recording", ("■ STOPPED", "end of the recording")),
        ):
            app.view.state(state, why)  # type: ignore[arg-type]
            await pilot.pause()
            assert all(word in seen(app, "#ear") for word in words)
        app.view.state("listening")
        for _ in range(6):
            app.view.level(b"\xff\x7f" * 480)
        await pilot.pause()
        assert "[############] TOO LOUD" in seen(app, "#ear")

    shown(begun, act)


def test_words_come_before_the_entry_and_what_was_not_understood_is_said(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.partial("gastric in")
        await pilot.pause()
        assert "… gastric in" in seen(app, "#read-back")
        app.view.notify(begun.say("mind the cable"))
        await pilot.pause()
        assert '✘ NOT LOGGED  "mind the cable"' in seen(app, "#read-back")

    shown(begun, act)


def test_findings_come_by_priority_with_sign_and_word_and_clocks_say_what_is_due(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert "▲ ABOVE" in seen(app, "#balloons")
        going.time += timedelta(hours=26)
        app.view.notify(going.session.look(26.5 * 3600))
        app.view.notify(going.gap(9, "unplugged"))
        await pilot.pause()
        findings = app.room.query_one("#findings", Widget)
        text = "\n".join(findings.render_line(line).text for line in range(findings.size.height))
        assert text.index("!!! HIGH") < text.index("!! MEDIUM")
        assert "DUE for" in seen(app, "#glance")
        assert "1, 9 s in all; last: unplugged" in " ".join(seen(app, "#glance").split())

    shown(going, act)


def test_a_narrow_screen_is_the_table_with_a_short_read_back_and_the_most_urgent_finding(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert not app.room.query_one("#right").display
        assert "!!! HIGH" in seen(app, "#banner") and not app.room.query_one("#urgent").display
        assert "oesoph 40 mL 60 mmHg▲ film ✔ mark 52 up 0:13h  1 HIGH" in seen(app, "#balloons")
        assert "60 mmHg · six-zero" in seen(app, "#read-back")
        assert "✔ STANDS" in seen(app, "#read-back")
        assert app.room.query_one(LogTable).size.height >= 5
        assert drawn(app.room.table).splitlines()[0].split() == ["line", "time", "entry", "state"], "no room for heard"
        assert seen(app, "#caution") == "Not a medical device."
        app.view.notify(going.say("gastric in fifty"))
        await pilot.pause()
        app.picture.lay_out()
        await pilot.pause()
        assert " ".join(seen(app, "#urgent").split()).endswith("Never above this: let air out and read again.")
        app.view.notify(going.say("bleeding stopped"))
        await pilot.pause()
        assert seen(app, "#urgent").startswith(" ? NOT CONFIRMED: line 21"), "the question is not forgotten"
        await pilot.resize_terminal(*WIDE)
        assert app.room.query_one("#right").display
        assert not app.room.query_one("#urgent").display

    shown(going, act, NARROW)


def test_the_balloons_are_always_in_sight_with_their_limits_and_the_way_they_go(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        gastric, oesophageal, below = seen(app, "#balloons").splitlines()
        assert "250 mL" in gastric and "███████╂█··│·· 200 to 300" in gastric
        assert "60 mmHg" in oesophageal and "25 to 45 ▲ ABOVE" in oesophageal
        assert below.split("   ")[0].strip() == "✔ film confirmed" and "mark 52 cm   up 0:13 h" in below
        app.view.notify(going.say("oesophageal pressure three two"))
        await pilot.pause()
        assert "32 mmHg↘" in seen(app, "#balloons") and "no HIGH open" in seen(app, "#balloons")
        assert not app.room.query_one("#banner").display
        findings = app.room.query_one("#findings", Widget)
        text = "\n".join(findings.render_line(line).text for line in range(findings.size.height))
        assert "✔ back in range: oesophageal balloon pressure 60 mmHg (line 20)" in " ".join(text.split())

    shown(going, act)


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_hostile_words_are_only_shown(begun: Room, size: Size) -> None:
    hostile = "[bold red]x[/] [@click=app.do('leave')]y[/] [/nothing] \x1b[2J" + HOSTILE
    entry = Entry(kind="tube", value="in", detail=hostile)
    begun.session.take(Understood(items=(entry,)), 1, 1, Origin(by="typed", author=hostile, heard=hostile))
    begun.time += timedelta(seconds=2)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.partial(hostile)
        app.view.state("lost", hostile)
        app.view.failed(StoreError(hostile, hostile))
        await pilot.pause()
        assert "[bold red]x[/]" in row(app, 1)[4]
        assert "[bold red]x[/]" in seen(app, "#read-back")
        assert "[bold red]x[/]" in seen(app, "#ear")
        assert "[bold red]x[/]" in told(app)
        await pilot.press("d")
        assert "[bold red]x[/]" in str(app.screen.query_one("#form-title", Label).content)
        await typed(pilot, hostile, "enter", "enter")
        assert isinstance(app.screen, Form) is False
        assert "\x1b" not in app.export_screenshot()

    shown(begun, act, size)
    assert last(begun, EntryStruck).reason == hostile.strip()  # type: ignore[union-attr]


def test_what_always_stands_there_is_how_the_cautions_begin_and_who_decides() -> None:
    assert in_short(("One thing. And more.", "Two.", "Three.")) == "One thing. Two."
    assert in_short(("One",)) == "One."


# ---- the scribe's keys --------------------------------------------------------------------------------------------


def test_c_answers_with_the_first_candidate(begun: Room) -> None:
    begun.say("gastric in fifty")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("c")
        await pilot.pause()
        assert "✔ CONFIRMED" in seen(app, "#read-back")
        assert "→ gastric 50 mL" in seen(app, "#read-back")
        await pilot.press("c")
        assert "No open question." in told(app)

    shown(begun, act)
    answered = last(begun, QuestionAnswered)
    assert isinstance(answered, QuestionAnswered)
    assert (answered.entry.value, answered.origin.author) == (50, "scribe")


def test_x_strikes_the_newest_line_that_is_not_struck(begun: Room) -> None:
    begun.say("gastric in five zero")
    begun.say("gastric one hundred in")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("x")
        assert "Strike line 2: gastric volume in 100 mL?" in str(app.screen.query_one("#ask", Label).content)
        await keys(pilot, "x", "escape")
        assert row(app, 2)[3] == "✔ stands"
        await keys(pilot, "x", "enter")
        assert "✘ STRUCK" in seen(app, "#read-back")
        assert row(app, 2)[3] == "✘ struck"
        await keys(pilot, "x", "enter", "x")
        assert "There is no line to scratch." in told(app)

    shown(begun, act)
    assert [fact.number for fact in begun.facts() if isinstance(fact, EntryStruck)] == [2, 1]
    last(begun, EntryStruck)


def test_e_amends_value_and_time_and_stays_open_while_something_is_wrong(begun: Room) -> None:
    begun.say("gastric in five zero", 600)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("e")
        await typed(pilot, "gastric")
        await typed(pilot, "25:99")
        await typed(pilot, "misread")
        await keys(pilot, "enter")
        wrong = app.screen.query_one("#form-wrong", Label)
        assert '"gastric" is not one entry' in str(wrong.content)
        app.screen.query_one("#field-words", Input).value = "gastric in four five"
        await keys(pilot, "enter")
        assert '"25:99" is not a time' in str(wrong.content)
        app.screen.query_one("#field-at", Input).value = "23:59:59"
        app.screen.query_one("#field-reason", Input).value = ""
        await keys(pilot, "enter")
        assert "no reason is given" in str(wrong.content)
        app.screen.query_one("#field-reason", Input).value = "misread"
        app.screen.query_one("#field-at", Input).value = "0001-01-01"
        await keys(pilot, "enter")
        assert isinstance(app.screen, Form)
        assert len(begun.facts()) == before
        app.screen.query_one("#field-at", Input).value = "14:05"
        await keys(pilot, "enter")
        await pilot.pause()
        assert "✎ AMENDED" in seen(app, "#read-back")
        assert row(app, 1)[1:4] == ["14:05:00", "gastric volume in 45 mL", "✎ amended"]

    before = len(begun.facts())
    shown(begun, act)
    amended = last(begun, EntryAmended)
    assert isinstance(amended, EntryAmended)
    assert (amended.entry.value, amended.reason, amended.origin.heard) == (45, "misread", "gastric in four five")


def test_d_strikes_the_chosen_line_and_escape_leaves_it(begun: Room) -> None:
    begun.say("gastric in five zero")
    begun.say("clamp on the gastric")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("up", "d", "escape")
        assert not isinstance(app.screen, Form)
        await pilot.press("d")
        await typed(pilot, "never happened", "enter", "enter")

    shown(begun, act)
    struck = last(begun, EntryStruck)
    assert isinstance(struck, EntryStruck)
    assert (struck.number, struck.reason) == (1, "never happened")


def test_a_line_can_be_chosen_with_the_mouse(begun: Room) -> None:
    for words in ("gastric in five zero", "clamp on the gastric", "tube passed"):
        begun.say(words)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.click(LogTable, offset=(20, 2))  # border, heading, line 1
        assert app.room.query_one(LogTable).cursor_row == 0
        await pilot.press("d")
        assert "Strike line 1" in str(app.screen.query_one("#form-title", Label).content)

    shown(begun, act)


def test_n_enters_late(begun: Room) -> None:
    begun.say("gastric in five zero", 600)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("n")
        await typed(pilot, "clamp on the gastric")
        await typed(pilot, "14:05")
        await typed(pilot, "hands were full", "enter", "enter")
        await pilot.pause()
        assert row(app, 2)[1:3] == ["14:05:00", "gastric clamp on (late)"]

    shown(begun, act)
    late = last(begun, EntryLogged)
    assert isinstance(late, EntryLogged)
    assert (late.late_reason, late.origin.author) == ("hands were full", "scribe")


def test_t_writes_a_note_about_a_line_or_this_moment(begun: Room) -> None:
    begun.say("gastric in five zero")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("t")
        await typed(pilot, "syringe two")
        await typed(pilot, "one", "enter", "enter")
        assert "is not a line number" in str(app.screen.query_one("#form-wrong", Label).content)
        app.screen.query_one("#field-line", Input).value = "1"
        await keys(pilot, "enter")

    shown(begun, act)
    note = last(begun, NoteWritten)
    assert isinstance(note, NoteWritten)
    assert (note.text, note.number, note.author) == ("syringe two", 1, "scribe")


def test_f_acknowledges_the_most_urgent_finding_which_stays_to_be_seen(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("f")
        assert "HIGH: oesophageal balloon pressure 60 mmHg" in str(app.screen.query_one("#form-title", Label).content)
        await typed(pilot, "manometer off", "enter", "enter")
        await pilot.pause()
        text = " ".join(seen(app, "#findings").split())
        assert "✔ high (seen by scribe: manometer off) line 20: oesophageal balloon pressure 60 mmHg" in text
        assert "!!! HIGH" not in text

    shown(going, act)
    seen_by = last(going, FindingAcknowledged)
    assert isinstance(seen_by, FindingAcknowledged)
    assert (seen_by.reason, seen_by.author) == ("manometer off", "scribe")


def test_i_keeps_team_and_tube_beside_the_facts(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("i")
        await keys(pilot, *["enter"] * 9)
        assert "nothing is filled in" in str(app.screen.query_one("#form-wrong", Label).content)
        app.screen.query_one("#field-device_lot", Input).value = "x" * 201
        await keys(pilot, "enter")
        assert "shorten what is long" in str(app.screen.query_one("#form-wrong", Label).content)
        app.screen.query_one("#field-device_lot", Input).value = "LOT 7"
        await keys(pilot, "enter")
        assert not isinstance(app.screen, Form)

    shown(begun, act)
    last(begun, IdentifiersGiven)
    assert "LOT 7" not in str(begun.facts())


def test_p_plays_or_says_why_not(begun: Room, clip_pcm: bytes) -> None:
    begun.say("gastric in five zero")

    async def without(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("p")
        assert "No line has sound." in told(app)

    async def with_sound(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("p")

    shown(begun, without)
    entry = Entry(kind="tube", value="in")
    begun.session.take(Understood(items=(entry,)), 20, 21, Origin(), Clip(flac(clip_pcm), 1.0))
    shown(begun, with_sound)
    assert [content[:4] for content in begun.played] == [b"fLaC"]


def test_the_help_names_every_key_and_lies_over_the_room(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("question_mark")
        assert isinstance(app.screen, Help)
        await pilot.pause()
        shown_keys = drawn(app.screen.query_one("#help-keys", Static))
        assert all(f"\n {key:<6}" in shown_keys for key in ("space", *"!?lcxuedntfhpaiwvbmsrq"))
        assert '"gastric in fifty, five zero"' in drawn(app.screen.query_one("#help-card", Static))
        app.view.notify(begun.say("gastric in five zero"))  # the room goes on below it
        await pilot.pause()
        await pilot.press("q")
        assert not isinstance(app.screen, Help)
        assert row(app, 1)[2] == "gastric volume in 50 mL"

    shown(begun, act)


def test_q_asks_before_it_ends(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("q", "escape")
        assert app.is_running and app.return_value is None and not app._exit
        await pilot.press("q", "enter")
        assert app._exit
        assert app.why_ended == "ended by the scribe"

    shown(begun, act)


def test_letters_are_letters_while_somebody_types(begun: Room) -> None:
    begun.say("gastric in five zero")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.press("t", *"cxednftpiq?", "space")
        field = app.focused
        assert isinstance(field, Input)
        assert field.value == "cxednftpiq? "
        await pilot.press("escape")

    before = begun.facts()
    shown(begun, act)
    assert begun.facts() == before


def test_the_table_follows_unless_the_scribe_has_moved(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        table = app.room.query_one(LogTable)
        for _ in range(20):
            app.view.notify(begun.say("gastric aspirate two zero"))
        await pilot.pause()
        assert table.cursor_row == 19
        assert table.scroll_y == table.max_scroll_y > 0
        await pilot.press("up", "up")
        app.view.notify(begun.say("gastric aspirate two zero"))
        await pilot.pause()
        assert table.cursor_row == 17
        await pilot.press("end", "down", "down", "down")
        app.view.notify(begun.say("gastric aspirate two zero"))
        await pilot.pause()
        assert table.cursor_row == 21

    shown(begun, act)


def test_the_command_palette_has_every_action(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        commands = {command.title: command.callback for command in app.get_system_commands(app.screen)}
        assert {
            "Confirm",
            "Scratch",
            "Amend",
            "Strike",
            "Late",
            "Listen: lead word",
            "Listen: open",
            "Listen: push to talk",
            "Mode",
            "Note",
            "Retry",
            "Sound",
            "Acknowledge",
            "Play",
            "Team",
            "Help",
            "End",
        } <= set(commands)
        await commands["Note"]()
        await pilot.pause()
        assert isinstance(app.screen, Form)

    shown(begun, act)


def test_what_is_asked_of_the_log_is_answered(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        from tui.room.messages import Grown

        for kind in ("status", "how_long", "repeat"):
            app.post_message(Grown((), app.record, app.showing.course, (kind,)))
        await pilot.pause()
        assert "oesophageal: 40 mL, 60 mmHg ABOVE" in told(app)
        assert "since the tube went in: 0:14:50 due in 23:45 h" in told(app)

    shown(going, act)


def test_an_error_of_the_disk_is_shown_in_full_and_nothing_is_lost(begun: Room) -> None:
    begun.say("gastric in five zero")
    begun.session.case.close()

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "x", "enter")
        assert "SOMETHING FAILED" in told(app)
        assert "✔ STANDS" in seen(app, "#read-back")

    shown(begun, act)


def test_a_case_that_is_gone_on_with_is_shown_to_its_last_line(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        table = app.room.query_one(LogTable)
        assert (table.row_count, table.cursor_row) == (20, 19)

    shown(going, act)
