"""The watch over a placed tube at one moment: what is overdue, due and next, how long each balloon has been up, where
the step-down stands, and what the pressures say.

Everything follows from the lines that stand at that moment, the clocks of the definition and its plan for the watch. It
reminds; it finds nothing and refuses nothing.

Its checks are no clocks of the definition: those raise findings, and a reminder that nobody answers in the log is
none. A check without `done` is due again and again but never overdue.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import takewhile

from log.basics.ahead import later
from log.basics.entry import Number
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.definition.watch_plan import WatchPlan
from log.facts.record import Record
from log.rules import due_name
from log.rules.bounds import pressure_limits
from log.rules.course import Course, State
from log.rules.finding import empties
from log.state.tube import Step, TubeState
from log.watch import leak
from log.watch.checks import of_checks, of_waiting
from log.watch.ignored import of_ignored
from log.watch.item import ORDER, Item, when_due
from log.watch.leak import Trend
from log.watch.step_down import Progress, progress


@dataclass(frozen=True, slots=True)
class BalloonHours:
    """Time that a balloon has been up, as far as the log knows."""

    site: str
    since: datetime | None
    """None: it is not up."""
    in_all: timedelta
    """With the times before, while this tube was in."""
    volume: Number
    """mL; 0 for a balloon whose volume was not said."""
    pressure: Number | None
    """Last reading, mmHg."""
    may_hold: tuple[Number, ...] = ()
    """Each volume (mL) that it may hold while a question is open; empty where it is certain."""


@dataclass(frozen=True, slots=True)
class Watch:
    """A case at one moment."""

    now: datetime
    placed: bool
    """Whether a tube is in or a balloon up, according to the log."""
    items: tuple[Item, ...] = ()
    """Overdue first, then due, then next; each by its time."""
    balloons: tuple[BalloonHours, ...] = ()
    step_down: Progress | None = None
    """None where the definition has none."""
    trends: tuple[Trend, ...] = ()
    remarks: tuple[str, ...] = ()


def watch(course: Course, now: datetime, record: Record | None = None) -> Watch:
    """The watch at a moment, by what happened up to then; with the `record` also what nobody has dealt with."""
    procedure = course.procedure
    state = _state_at(course, now)
    steps = tuple(takewhile(lambda step: step.line.said_at <= now, course.steps))
    balloons = tuple(_hours(site, state.situation, now) for site in procedure.tube.balloons)
    if not state.situation.tube_in and (_withdrawn(state.situation) or not _used(state.situation)):
        return Watch(now, placed=False, balloons=balloons)
    if (died := _died(steps)) is not None:
        remark = f"outcome: died, said at {died:%H:%M}: nothing is due"
        return Watch(now, placed=True, balloons=balloons, remarks=(remark,))
    plan = procedure.watch
    if plan is None:
        items = _sorted(_of_clocks(procedure, state, now, timedelta(0)))
        older = "the definition of this case has no plan for the watch: only its clocks are shown"
        return Watch(now, True, items, balloons, remarks=(older,))
    late = timedelta(minutes=plan.late.after_min)
    pressed = procedure.tube.oesophagus
    step_down = progress(plan.step_down, pressed, steps) if plan.step_down is not None and pressed else None
    up = [one.site for one in balloons if one.since is not None]
    trends = tuple(leak.trend(procedure, plan.trend, site, leak.readings(steps, site), now) for site in up)
    items = _sorted(
        (
            *_of_clocks(procedure, state, now, late),
            *of_checks(procedure, plan, steps, now, late),
            *of_waiting(procedure, plan, steps, now, late),
            *_unread(procedure, plan, balloons, now, late),
            *(_of_deflation(procedure, pressed, steps, state.situation, now, late) if pressed else ()),
            *_of_observation(procedure, plan, state.situation, now, late),
            *_of_step_down(procedure, plan, step_down, now, late),
            *_of_trends(procedure, plan, trends),
            *(of_ignored(plan, _until(course, now), record, now, late) if record is not None else ()),
        )
    )
    remarks = (
        *(() if state.situation.tube_in else (NOT_IN,)),
        *_remarks(procedure, plan, step_down, trends, balloons),
        *_of_what_is_not_set(procedure, state, now),
    )
    return Watch(now, True, items, balloons, step_down, trends, remarks)


def _until(course: Course, now: datetime) -> Course:
    return Course(course.procedure, tuple(takewhile(lambda stage: stage.line.said_at <= now, course.stages)))


def _state_at(course: Course, now: datetime) -> State:
    stages = takewhile(lambda stage: stage.line.said_at <= now, course.stages)
    state = State(TubeState())
    for stage in stages:
        state = stage.after
    return state


NOT_IN = 'no tube is in according to the log: say "tube in", or enter when it went in; its time is not watched'


def _used(situation: TubeState) -> bool:
    """Whether a tube has to be in, though nobody said so: air or a pressure in a balloon, traction, or its mark."""
    filled = any(one.up or one.pressure is not None for one in situation.balloons.values())
    return filled or situation.traction is not None or situation.depth is not None


def _withdrawn(situation: TubeState) -> bool:
    last = situation.latest.get(("tube", None))
    return last is not None and last.value == "out"


def _died(steps: Sequence[Step]) -> datetime | None:
    """When it was said that the patient died, if that is the last word on the outcome."""
    last = next((step for step in reversed(steps) if step.entry.kind == "outcome"), None)
    return last.line.said_at if last is not None and last.entry.value == "died" else None


def _hours(site: str, situation: TubeState, now: datetime) -> BalloonHours:
    balloon = situation.balloon(site)
    in_all = balloon.been_up + (now - balloon.since if balloon.since is not None else timedelta(0))
    return BalloonHours(site, balloon.since, in_all, balloon.volume, balloon.pressure, balloon.may_hold)


def _sorted(items: Sequence[Item] | Iterator[Item]) -> tuple[Item, ...]:
    return tuple(sorted(items, key=lambda item: (ORDER.index(item.when), item.due_at, item.id)))


def _of_clocks(procedure: Procedure, state: State, now: datetime, late: timedelta) -> Iterator[Item]:
    """The moments of the definition's clocks: of each clock the last that is reached, and the next."""
    for clock in procedure.clock:
        running = state.clocks.get(clock.id)
        if running is None or running.paused:
            continue
        moments = sorted(clock.due, key=lambda moment: moment.after_h)
        times = [running.reaches(moment.after_h) for moment in moments]
        for number, (moment, due_at) in enumerate(zip(moments, times, strict=True)):
            past = any(after <= now for after in times[number + 1 :])
            far = any(now < before for before in times[:number])
            if past or far:
                continue
            title = f"{moment.after_h:g} h {clock.title}"
            every = moment.after_h if clock.restarts else None
            name, when = due_name(clock, moment.after_h), when_due(due_at, now, late)
            yield Item(name, title, due_at, when, procedure.cite(moment), moment.level, every)


def _unread(
    procedure: Procedure, plan: WatchPlan, balloons: Sequence[BalloonHours], now: datetime, late: timedelta
) -> Iterator[Item]:
    """A balloon that is held by its pressure, and has none in the log."""
    for one in balloons:
        held_by = pressure_limits(procedure, one.site)
        if one.since is not None and one.pressure is None and held_by:
            limit = procedure.limits[held_by[0]]
            title = f"{one.site} pressure: none is logged since it went up"
            when = when_due(one.since, now, late)
            yield Item(f"{one.site}-unread", title, one.since, when, procedure.cite(limit), "medium")


def _of_deflation(
    procedure: Procedure, site: str, steps: Sequence[Step], situation: TubeState, now: datetime, late: timedelta
) -> Iterator[Item]:
    """Only where the site has chosen an interval."""
    deflation = procedure.watch.deflation if procedure.watch is not None else None
    if deflation is None:
        return
    source = procedure.cite(deflation)
    up = _hours(site, situation, now).since
    if up is not None:
        due_at = later(up, deflation.every_h)
        title = f"{site} balloon down for {deflation.for_min:g} min, as your site chose"
        yield Item("deflation", title, due_at, when_due(due_at, now, late), source, "medium")
        return
    down = next((step.line.said_at for step in reversed(steps) if empties(step, site)), None)
    if down is not None and situation.traction is not None:
        due_at = later(down, deflation.for_min / 60)
        title = f"{site} balloon is down: does it bleed? up again or not"
        yield Item("deflation-over", title, due_at, when_due(due_at, now, late), source, "medium")


def _observed(tube: Tube, situation: TubeState) -> tuple[str, datetime] | None:
    """The balloon that went down last in a removal, and when; None while there is traction or nothing has gone down."""
    if situation.traction is not None or not situation.tube_in or not situation.down:
        return None
    return max(situation.down.items(), key=lambda one: (one[1], one[0] == tube.stomach))


def _of_observation(
    procedure: Procedure, plan: WatchPlan, situation: TubeState, now: datetime, late: timedelta
) -> Iterator[Item]:
    """Only where the site has chosen how long to look."""
    tube = procedure.tube
    observed = _observed(tube, situation)
    if plan.observe is None or observed is None:
        return
    site, since = observed
    due_at, source = later(since, plan.observe.least_h), procedure.cite(plan.observe)
    last = tube.stomach is None or site == tube.stomach
    what_next = "the tube may come out" if last else f"the {tube.stomach} balloon may go down"
    title = f"{site} balloon down: if it does not bleed, {what_next}"
    yield Item(f"{site}-observed", title, due_at, when_due(due_at, now, late), source)


def _of_what_is_not_set(procedure: Procedure, state: State, now: datetime) -> Iterator[str]:
    """Settings that only the site can choose, and has not."""
    plan = procedure.watch
    if plan is None:
        return
    for one in plan.chosen:
        yield f"{one.title}: {one.not_set}"
    observed = _observed(procedure.tube, state.situation)
    if plan.observe is None and plan.observe_not_set is not None and observed is not None:
        minutes = (now - observed[1]) // timedelta(minutes=1)
        yield f"{observed[0]} balloon down for {minutes} min: {plan.observe_not_set.message}"


def _of_step_down(
    procedure: Procedure, plan: WatchPlan, progress: Progress | None, now: datetime, late: timedelta
) -> Iterator[Item]:
    if plan.step_down is not None and progress is not None and progress.coming:
        step = progress.coming[0]
        title = f"{procedure.tube.oesophagus} pressure down to {step.mmhg:g} mmHg"
        source = procedure.cite(plan.step_down)
        yield Item("step-down", title, step.due_at, when_due(step.due_at, now, late), source)


def _of_trends(procedure: Procedure, plan: WatchPlan, trends: Sequence[Trend]) -> Iterator[Item]:
    for one in trends:
        if one.leaving is not None:
            side = "below" if one.leaving.side == "low" else "above"
            title = f"{one.site} pressure may be {side} {one.leaving.bound:g} mmHg from then on"
            source = procedure.cite(plan.trend)
            yield Item(f"{one.site}-leaving", title, one.leaving.earliest, "next", source, "medium")


def _remarks(
    procedure: Procedure,
    plan: WatchPlan,
    progress: Progress | None,
    trends: Sequence[Trend],
    balloons: Sequence[BalloonHours],
) -> Iterator[str]:
    pressed = procedure.tube.oesophagus
    if len(balloons) > 1 and all(one.since is not None for one in balloons):
        yield plan.gastric_stays.message
    if plan.deflation is None and pressed is not None:
        yield f"deflation: {plan.deflation_not_set.message}"
    stepping = progress is not None and bool(progress.done)
    if stepping and any(one.site == pressed and one.slope is not None for one in trends):
        yield "a step down without a logged volume looks like a leak"
