"""The watch over a placed tube in a definition: what is checked how often, how the pressure is stepped down, when a
trend may be believed; and what one hospital sets for itself.

Intermittent deflation, vital signs and the time to look for bleeding during a removal have no shipped number: the
sources differ by factors, so only a site can choose it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar, TypeVar

from pydantic import Field, model_validator

from log.basics.patterns import Backed, Grown, Identifier, Part, Pattern, Sourced

LONGEST_H = 10_000
S = TypeVar("S", bound=Sourced)


def _chosen(part: S) -> S:
    if part.tag != "local":
        raise ValueError('has to be tagged "local": sources differ too much for anything but a choice of the site')
    return part


class Check(Sourced):
    """Something that is looked at at intervals."""

    id: Identifier
    title: str
    every_h: float = Field(gt=0, le=LONGEST_H)
    starts: Pattern
    stops: tuple[Pattern, ...]
    done: tuple[Pattern, ...] = ()
    """Entries that say it was done; without any the log cannot know, and it stays a reminder."""


class Waiting(Backed):
    """Something that was begun, or should follow, and is waited for."""

    id: Identifier
    title: str
    since: Pattern
    until: tuple[Pattern, ...] = Field(min_length=1)
    """Entries after which nobody waits for it any more."""
    after_min: float = Field(gt=0, le=LONGEST_H * 60)


class Choosable(Sourced):
    """A check whose interval only a site can choose."""

    id: Identifier
    title: str
    starts: Pattern
    stops: tuple[Pattern, ...]
    done: tuple[Pattern, ...] = Field(min_length=1)
    not_set: str
    """Said while no interval is set."""

    def every(self, hours: float) -> Check:
        """The check as a site has set it."""
        own = self.model_dump(exclude={"not_set"})
        return Check.model_validate({**own, **LOCAL, "every_h": hours})


class Observe(Sourced):
    """Time that a site looks for bleeding after each balloon of a removal."""

    least_h: float = Field(gt=0, le=LONGEST_H)

    @model_validator(mode="after")
    def _is_a_choice_of_the_site(self) -> Observe:
        return _chosen(self)


class StepDown(Sourced):
    """Steps by which the oesophageal pressure is lowered once bleeding is controlled."""

    controlled: Pattern
    """Entries that say so."""
    bleeding: Pattern
    """Entries that take that back."""
    step_mmhg: float = Field(ge=1, le=100)
    every_h: float = Field(gt=0, le=LONGEST_H)
    down_to_mmhg: float = Field(ge=0, le=100)


class Deflation(Sourced):
    """Interval and length of a site's deflations of the oesophageal balloon."""

    every_h: float = Field(gt=0, le=LONGEST_H)
    for_min: float = Field(gt=0, le=24 * 60)

    @model_validator(mode="after")
    def _is_a_choice_of_the_site(self) -> Deflation:
        return _chosen(self)


class Trend(Sourced):
    """When a trend of pressures may be believed."""

    fewest: int = Field(ge=3, le=500)
    """Readings."""
    shortest_h: float = Field(gt=0, le=LONGEST_H)
    """From the first to the last of them."""
    confidence: float = Field(ge=0.5, le=0.999)
    """Confidence of the interval around the slope."""


class Late(Sourced):
    """When what is due is called overdue."""

    after_min: float = Field(ge=0, le=24 * 60)


class Remark(Sourced):
    """Something that is said beside."""

    message: str


class WatchPlan(Grown):
    """The watch over a placed tube."""

    GROWN: ClassVar = ("waiting", "ignored")

    late: Late
    trend: Trend
    check: tuple[Check, ...] = ()
    waiting: tuple[Waiting, ...] | None = None
    """Shown once it has waited for too long."""
    ignored: Late | None = None
    """When an urgent finding that nobody has acknowledged is due as well."""
    step_down: StepDown | None = None
    deflation: Deflation | None = None
    deflation_not_set: Remark
    """Said while no interval is set."""
    gastric_stays: Remark
    """Said beside every deflation."""
    chosen: tuple[Choosable, ...] = ()
    observe: Observe | None = None
    observe_not_set: Remark | None = None
    """Said during a removal while no time is set; None in definitions from before there was one."""


class OverrideCheck(Part):
    """A site's interval of one check."""

    every_h: float = Field(gt=0, le=LONGEST_H)


class OverrideStepDown(Part):
    """A site's changes to the step-down; fields left out stay as shipped."""

    step_mmhg: float | None = Field(default=None, ge=1, le=100)
    every_h: float | None = Field(default=None, gt=0, le=LONGEST_H)
    down_to_mmhg: float | None = Field(default=None, ge=0, le=100)


class OverrideDeflation(Part):
    """The interval that a site has chosen."""

    every_h: float = Field(gt=0, le=LONGEST_H)
    for_min: float = Field(gt=0, le=24 * 60)


class OverrideWatch(Part):
    """One hospital's settings for its watch."""

    checks: Mapping[Identifier, OverrideCheck] = Field(default_factory=dict)
    step_down: OverrideStepDown | None = None
    deflation: OverrideDeflation | None = None
    observe_h: float | None = Field(default=None, gt=0, le=LONGEST_H)
    """Time to look for bleeding after each balloon of a removal."""


LOCAL: Mapping[str, object] = {"tag": "local", "source": ("local",)}


def localised(plan: WatchPlan, override: OverrideWatch) -> WatchPlan:
    """The plan with what the site has set in force, each tagged as local. Expects an override that fits."""
    shipped = tuple(
        one.model_copy(update={**LOCAL, "every_h": override.checks[one.id].every_h})
        if one.id in override.checks
        else one
        for one in plan.check
    )
    chosen = tuple(one.every(override.checks[one.id].every_h) for one in plan.chosen if one.id in override.checks)
    changes: dict[str, object] = {
        "check": (*shipped, *chosen),
        "chosen": tuple(one for one in plan.chosen if one.id not in override.checks),
    }
    if override.step_down is not None and plan.step_down is not None:
        own = override.step_down.model_dump(exclude_none=True)
        changes["step_down"] = plan.step_down.model_copy(update={**LOCAL, **own})
    if override.deflation is not None:
        changes["deflation"] = Deflation.model_validate({**LOCAL, **override.deflation.model_dump()})
    if override.observe_h is not None:
        changes["observe"] = Observe.model_validate({**LOCAL, "least_h": override.observe_h})
    return plan.model_copy(update=changes)


def watch_misfits(plan: WatchPlan | None, override: OverrideWatch) -> Iterator[tuple[str, str]]:
    """Problems of a site's watch with the definition, as (path in the override, what is wrong)."""
    if plan is None:
        yield "watch", "the definition has no watch that could be changed"
        return
    names = [*(one.id for one in plan.check), *(one.id for one in plan.chosen)]
    for name in override.checks:
        if name not in names:
            yield f"watch.checks.{name}", f"not a check of the definition; there are {', '.join(names)}"
    if override.step_down is not None and plan.step_down is None:
        yield "watch.step_down", "the definition has no step-down that could be changed"
