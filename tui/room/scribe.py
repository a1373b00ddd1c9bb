"""The scribe's keys: a function for each. Each ends in facts that the one writing thread puts on disk, or in a form
that stays open with the reason why not.
"""

from __future__ import annotations

from datetime import timedelta

from log.basics.entry import Entry
from log.basics.errors import TamponadeError
from log.facts.act import Act
from log.facts.events import Fact
from log.facts.second_hearing import kept_sounds, waiting
from log.scribe.correct import Correction, last_act, to_be_acknowledged
from log.scribe.session import Session
from log.words.wording import many
from tui.live.view import Mode
from tui.live.writing import Doing
from tui.room import forms
from tui.room.chart import ChartPage
from tui.room.desk import Desk, chosen
from tui.room.help import Help
from tui.room.keys import Key
from tui.room.phrase_page import PhrasePage
from tui.room.second_hearing import SecondHearing
from tui.room.sounds import play, transcribe
from tui.room.table import says

MODES: tuple[Mode, ...] = ("lead word", "push to talk", "open")

JUST_NOW = timedelta(minutes=1)
"""For which what was done is taken back without asking: whoever did it has it still in mind."""

WHILE_ALARMED = ("talk", "scratch", "close")
"""Keys that work while an emergency is up, beside its own: no form goes over it."""


# ---- an emergency ---------------------------------------------------------------------------------------------------


def emergency(desk: Desk) -> None:
    """The tube blocks the airway."""
    if not desk.alarmed:
        desk.called("airway")
        _enter(desk, "airway")
        if desk.listening is not None:
            desk.listening.go_on()  # now everybody has to be heard


def tube_cut(desk: Desk) -> None:
    """The moment at which the tube is cut."""
    desk.called("cut")
    _enter(desk, "cut")


def emergency_over(desk: Desk) -> None:
    """Nothing blocks the airway any more."""
    desk.called(None)
    _enter(desk, "over")


# ---- answers and corrections ----------------------------------------------------------------------------------------


def answer(desk: Desk) -> None:
    """The first candidate of the open question is right."""
    line = chosen(desk, lambda line: line.status == "asked", "No open question.")
    if line is not None:
        by = Correction(desk.scribe, "confirmed by hand", desk.time)
        _at_once(desk, lambda session: session.amend(line.number, line.candidates[0], None, by))


def scratch(desk: Desk) -> None:
    """Strikes the newest line, once that is meant."""
    newest = next(desk.record.newest_first, None)
    if newest is None:
        desk.say("There is no line to scratch.")
        return

    def does() -> None:
        by = Correction(desk.scribe, "scratched by hand", desk.time)
        _at_once(desk, lambda session: session.strike(newest.number, by))

    desk.ask(f"Strike line {newest.number}: {says(desk.session.procedure, newest)}?", does)


def undo(desk: Desk) -> None:
    """Takes back what was struck, amended, answered, entered late or acknowledged last; asks first where that was a
    while ago, or something else was logged since: that is not what somebody means who has just seen a line.
    """
    act = last_act(desk.record)
    if act is None:
        desk.say("Nothing was changed by hand.")
        return

    def does() -> None:
        by = Correction(desk.scribe, "put back by hand", desk.time)
        _at_once(desk, lambda session: session.undo(by))

    since = any(line.logged_at > act.at for line in desk.record.lines)
    if desk.time - act.at <= JUST_NOW and not since:
        does()
        desk.say(f"Put back: {_done(desk, act)}")
    else:
        desk.ask(f"Put back what was done at {act.at:%H:%M}: {_done(desk, act)}?", does)


def _done(desk: Desk, act: Act) -> str:
    """The act of somebody in words: "line 3 was struck: gastric volume in 50 mL"."""
    if act.difference is not None and act.number is None:
        return f"difference {act.difference} was {act.what}"
    if act.number is None or act.what == "acknowledged":
        return f"acknowledged: {act.message}"
    return f"line {act.number} was {act.what}: {says(desk.session.procedure, desk.record.line(act.number))}"


def amend(desk: Desk) -> None:
    """Another value or time for the chosen line."""
    line = chosen(desk, lambda line: line.status != "struck", "There is no line to amend.")
    if line is not None:
        desk.open(forms.amend(desk, line))


def strike(desk: Desk) -> None:
    """Strikes the chosen line, with a reason."""
    line = chosen(desk, lambda line: line.status != "struck", "There is no line to strike.")
    if line is not None:
        desk.open(forms.strike(desk, line))


def late(desk: Desk) -> None:
    """Something that happened earlier."""
    desk.open(forms.late(desk))


def note(desk: Desk) -> None:
    """Free words about this moment, or about a line."""
    desk.open(forms.note(desk))


def acknowledge(desk: Desk) -> None:
    """The most urgent finding that nobody has acknowledged was seen, and why it may stand."""
    most_urgent = to_be_acknowledged(desk.record)
    if most_urgent is not None:
        desk.open(forms.acknowledge(desk, most_urgent))
    else:
        desk.say("No open findings.")


def identify(desk: Desk) -> None:
    """Who is here, and which tube it is."""
    desk.open(forms.identify(desk))


# ---- hearing --------------------------------------------------------------------------------------------------------


def talk(desk: Desk) -> None:
    """Listens to the next utterance."""
    if desk.listening is not None:
        desk.listening.key_pressed()


def pause(desk: Desk) -> None:
    """Hears nothing, until the key is pressed again."""
    if desk.listening is None:
        desk.say("Not listening.")
    elif desk.listening.paused:
        desk.listening.go_on()
    else:
        desk.listening.pause()


def mode(desk: Desk) -> None:
    """The next way in which entries can be said."""
    if desk.listening is not None:
        place = MODES.index(desk.listening.coming or desk.listening.mode)
        change_mode(desk, MODES[(place + 1) % len(MODES)])
    else:
        desk.say("Not listening.")


def change_mode(desk: Desk, to: Mode) -> None:
    """Has entries said in this way from now on; that is a fact."""
    if desk.listening is not None:
        desk.listening.change_mode(to, desk.scribe)
        desk.show_ear()


def sound(desk: Desk) -> None:
    """Takes the line on the sound away; where there is none, measures the room anew."""
    if desk.checked_shown:
        desk.show_check("")
    elif desk.listening is not None:
        desk.listening.check_again()
        desk.show_check("Measuring: a moment of quiet, then the next entry. (s: away)")


def again(desk: Desk) -> None:
    """Listens again where that has ended."""
    if desk.listening is not None and desk.listening.listen_again():
        desk.say("Trying to listen again.")
    else:
        desk.say("Already listening, looking for the microphone, or at the end of the recording.")


# ---- the screen -----------------------------------------------------------------------------------------------------


def watch(desk: Desk) -> None:
    """The watch, or no longer."""
    desk.change_watch()


def chart(desk: Desk) -> None:
    """The last twelve hours of volumes and pressures."""
    desk.open(ChartPage(desk.whole))


def help_page(desk: Desk) -> None:
    """Every key and what can be said."""
    desk.open(Help(desk.session.procedure, KEYS))


def phrase_page(desk: Desk) -> None:
    """How something is said."""
    desk.open(PhrasePage(desk.phrases))


def hear_again(desk: Desk) -> None:
    """Every kept sound is heard again while the room goes on; what differs is taken or left."""
    if not kept_sounds(desk.record):
        desk.say("No sound is kept with this case.")
        return
    desk.second.start()
    desk.open(SecondHearing(desk))


def leave(desk: Desk) -> None:
    """Ends listening and closes the case, once that is meant: the key lies beside others."""
    inside = "A tube is in. " if desk.tube_in else ""
    waits = len(waiting(desk.record))
    inside += f"Second hearing: {many(waits, 'difference')} to be reviewed (a). " if waits else ""
    desk.ask(f"{inside}End listening and close the case?", desk.leave)


def close(desk: Desk) -> None:
    """Ends listening and closes the case at once, but asks while a tube is in."""
    if desk.tube_in:
        leave(desk)
    else:
        desk.leave()


KEYS = (
    Key(
        "exclamation_mark",
        emergency,
        "EMERGENCY",
        "What to do when the tube blocks the airway, at once and over everything (ctrl+e while you type).",
        priority=True,
    ),
    Key("space", talk, "talk", "Hold and speak: what is said is for the log."),
    Key("question_mark", help_page, "help", "Open this page."),
    Key("l", phrase_page, "look up", "Look up how something is said; try it out."),
    Key("c", answer, "confirm", "Answer the question: the first value is right."),
    Key("x", scratch, "scratch", "Strike the newest line, after asking."),
    Key("u", undo, "undo", "Undo the last strike, amend, answer, late entry."),
    Key("e", amend, "amend", "Give the chosen line another value or time."),
    Key("d", strike, "strike", "Strike the chosen line, with a reason."),
    Key("n", late, "late", "Enter what happened and is not in the log."),
    Key("t", note, "note", "Write free words about a line or this moment."),
    Key("h", transcribe, "spoken note", "Hear a spoken note and type its words."),
    Key("f", acknowledge, "acknowledge", "A finding was seen: say why it may stand."),
    Key("a", hear_again, "hear again", "Hear all kept sound again; take what differs."),
    Key("p", play, "play", "Listen to the sound of the chosen line."),
    Key("i", identify, "team", "Write down who is here, and which tube it is."),
    Key("w", watch, "watch", "Show what is due, or again the placing."),
    Key("v", chart, "chart", "See volumes and pressures of the last 12 h."),
    Key("b", pause, "pause / go on", "Hear nothing until you press it again."),
    Key("m", mode, "mode", "Change to lead word, talk key or just speak."),
    Key("s", sound, "sound", "Check the sound anew, or take its line away."),
    Key("r", again, "retry", "Listen again after the microphone failed."),
    Key("q", leave, "end", "End listening and close the case, after asking."),
)
"""Each with what it does, a word for the foot of the screen and a sentence for the help."""


# ---- writing --------------------------------------------------------------------------------------------------------


def _enter(desk: Desk, value: str) -> None:
    """Has an entry of the emergency written down; nobody waits for the disk."""
    entry, at, by = Entry(kind="emergency", value=value), desk.time, desk.scribe

    def what(session: Session) -> tuple[Fact, ...]:
        return session.enter(entry, at, by)

    if desk.listening is not None:
        desk.listening.do(what)
    else:
        _at_once(desk, what)


def _at_once(desk: Desk, what: Doing) -> None:
    try:
        desk.write(what)
    except TamponadeError as error:
        desk.failed(error)
