"""A case for training: the program plays an invented patient, the team speaks, and at the end it is counted up."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console

from log.basics.errors import InputError
from log.basics.visible import visible
from log.definition.load import InForce
from log.facts.origin import KeepSound
from log.facts.record import Record
from log.facts.simulation import MARK, marked
from log.rehearsal.load import check_scenario, read_scenario, scenarios
from log.rehearsal.scenario import Scenario
from log.rehearsal.score import plain, score, told_in_lines
from log.rules.course import Course
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.scribe.session import TYPED, Session
from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import whole
from tui.commands.in_the_room import InTheRoom, a_microphone, in_lines, on_a_screen, ready
from tui.commands.options import (
    cases_option,
    ears,
    engine_option,
    keeping_options,
    lead_word_option,
    local_option,
    no_check_option,
)
from tui.live.rehearsal import ENDED, Rehearsal, Timed, TypedTeam, read_script, run_script, run_typed
from tui.live.replay import replay
from tui.live.view import Mode
from tui.room.plain import WAYS
from tui.views.read_back import ReadBack
from voice.meaning.ears import EngineChoice
from voice.phrases.phrases import Phrases, compile_phrases
from voice.sound.audio import AudioFile


@click.command("rehearse", short_help="Play an invented case to a team, for training, and count what it logged.")
@click.argument("scenario_name", metavar="[SCENARIO]", required=False)
@click.option("--audio", type=click.Path(path_type=Path), metavar="FILE", help="The team is this recording.")
@click.option("--device", metavar="NAME", help="The microphone, by number or part of its name; see: tamponade devices.")
@click.option(
    "--mode", type=click.Choice(list(WAYS)), default="lead", show_default=True, help="How entries are said: see listen."
)
@no_check_option
@click.option("--case", "name", metavar="ID", help="Give the new case this name.")
@click.option("--scribe", default="scribe", show_default=True, metavar="WHO", help="Who types corrections.")
@click.option(
    "--plain", "plain_lines", is_flag=True, help="Plain lines; without --audio or --device the team types its entries."
)
@click.option("--speak", is_flag=True, help="Events and read-back aloud (needs espeak-ng). The log is muted meanwhile.")
@click.option("--json", "as_json", is_flag=True, help="Print the score as one JSON object; all else goes to stderr.")
@click.option("--score", "kept", metavar="CASE", help="Play nothing: count what an earlier rehearsal logged.")
@local_option
@cases_option
@lead_word_option("log")
@engine_option
@keeping_options
def command(
    scenario_name: str | None,
    audio: Path | None,
    device: str | None,
    mode: str,
    name: str | None,
    scribe: str,
    plain_lines: bool,
    speak: bool,
    as_json: bool,
    kept: str | None,
    local: Path | None,
    cases: Path | None,
    lead_word: str | None,
    engine: EngineChoice,
    label: str,
    author: str,
    keep_sound: KeepSound,
    encrypt: bool,
) -> None:
    """Play SCENARIO, a shipped one or a .toml file, to a team that logs it as it would log a case; without SCENARIO,
    list the shipped ones.

    Everything is invented. The case is marked as a simulation in every export and on every screen, for good. The score
    is counts with reasons: no grade.

    With --plain the team types. Lines that do not come from a keyboard bear the time of the case ("02:30 gastric five
    zero in") and are played at once. "seen REASON" acknowledges the most urgent finding.
    """
    if scenario_name is None:
        click.echo("\n".join(_listed()))
        return
    scenario = read_scenario(scenario_name)
    in_force = load(scenario.procedure, local)
    check_scenario(scenario_name, scenario, in_force.procedure)
    folder = cases_folder(cases)
    if kept is not None:
        _tell_kept(scenario, folder, kept, as_json)
        return
    typed = plain_lines and audio is None and device is None
    if not plain_lines and not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise click.UsageError("this is not a terminal; use --plain")
    if typed and speak:
        raise click.UsageError("--speak is for a team that speaks: leave it out, or leave out --plain")
    if as_json and plain_lines and device is not None:
        raise click.UsageError("--json and the lines of --plain with a microphone go the same way: leave one out")
    click.echo("\n".join(_briefing(scenario)), err=as_json)
    keeping = Keeping(author, label, keep_sound, encrypt, scenario.id)
    console = Console(highlight=False, soft_wrap=False, stderr=as_json)
    run = _Run(scenario, in_force, compile_phrases(in_force.procedure), folder, name, keeping, console)
    if typed:
        session = run.typed()
    elif plain_lines and audio is not None:
        session = run.replayed(audio, lead_word, engine)
    else:
        source = ready(audio, device, speak)
        way: Mode = "open" if mode == "lead" and lead_word is None else WAYS[mode]
        again = None if audio is not None else lambda: a_microphone(device)
        with ears(run.phrases, lead_word, engine, quiet=True) as engines:  # what is missing is reported before the case
            session = run.begun(source.name)
            room = InTheRoom(source, session, engines, way, again, speak, Rehearsal(scenario))
            if plain_lines:
                in_lines(room)
            else:
                on_a_screen(room, run.phrases, scribe)
    click.echo(visible(f"case {session.case.path.stem} is closed: {session.case.path}"), err=as_json)
    _tell(scenario, session.course, session.record, as_json)


@dataclass(frozen=True, slots=True)
class _Run:
    """The parts of a run, however the team is heard."""

    scenario: Scenario
    in_force: InForce
    phrases: Phrases
    folder: Path
    name: str | None
    keeping: Keeping
    console: Console

    def begun(self, source: str) -> Session:
        """A new case. With somebody at the keyboard the clock starts once the briefing was read."""
        if sys.stdin.isatty():
            click.pause("Press any key: the clock starts.")
        return open_case(self.folder, self.name, self.in_force, source, self.keeping)

    def typed(self) -> Session:
        """The team types; lines from a file bear the time of the case."""
        keyboard = sys.stdin.isatty()
        session = self.begun(TYPED)
        view = ReadBack(session, self.console)
        view.caution()
        team = TypedTeam(session, Rehearsal(self.scenario, paced=keyboard), self.phrases, view)
        ended, why = 0.0, "end of typing"
        try:
            ended = run_typed(team, sys.stdin) if keyboard else run_script(team, read_script(sys.stdin, "the lines"))
        except KeyboardInterrupt:
            why = "ended by the operator"
        finally:
            session.close(ended, ENDED if team.over else why)
        view.end()
        return session

    def replayed(self, audio: Path, lead_word: str | None, engine: EngineChoice) -> Session:
        """A recording on its own clock, as fast as it can be heard. Raises IncompleteInput if it breaks off."""
        recording = AudioFile(audio)
        recording.check()
        with ears(self.phrases, lead_word, engine) as listening:
            session = self.begun(recording.name)
            view = ReadBack(session, self.console)
            view.caution()
            rehearsal = Rehearsal(self.scenario)
            source = Timed(recording, lambda at: view.notify(rehearsal.step(session, at)))
            outcome = replay(source, session, listening, view)
        view.end()
        if outcome.broken_off is not None:
            raise outcome.broken_off
        return session


def _listed() -> Iterator[str]:
    yield f"{MARK}. Invented cases to rehearse with: tamponade rehearse SCENARIO"
    for name in scenarios():
        scenario = read_scenario(name)
        yield f"  {scenario.id:<18} {scenario.title}"


def _briefing(scenario: Scenario) -> Iterator[str]:
    yield MARK
    yield f"{visible(scenario.title)}. Patient, events and values are invented."
    texts = [scenario.story]
    if scenario.beyond_limits:
        texts.append(f"Beyond the definition's limits, on purpose: {scenario.beyond_limits}")
    for text in texts:
        yield from textwrap.wrap(visible(text), _width())
    yield ""


def _width() -> int:
    """Columns that are read easily."""
    return min(shutil.get_terminal_size().columns, 110) - 1


def _tell_kept(scenario: Scenario, folder: Path, name: str, as_json: bool) -> None:
    case = whole(store.read(folder, name))
    if case.opened.simulation != scenario.id:
        what = f"was kept by {case.opened.simulation}" if case.opened.simulation else "is no rehearsal"
        raise InputError(f"{case.opened.case}: {what}", "name the case and the scenario that belong together")
    check_scenario(scenario.id, scenario, case.procedure)
    _tell(scenario, case.course, case.record, as_json)


def _tell(scenario: Scenario, course: Course, record: Record, as_json: bool) -> None:
    assert record.opened is not None
    found, mark, cautions = score(scenario, course, record), marked(record.opened), course.procedure.cautions
    if as_json:
        about = {"simulation": mark, "scenario": scenario.id, "title": scenario.title, "case": record.opened.case}
        click.echo(json.dumps({**about, **plain(found), "cautions": list(cautions)}))
        return
    lines = ("", mark, f"{scenario.title}: what was logged. Counts of one run, no grade.", *told_in_lines(found))
    for line in (*lines, "", *cautions[:2]):
        click.echo(textwrap.fill(visible(line), _width(), subsequent_indent=" " * 6 if line[:1] == " " else ""))
