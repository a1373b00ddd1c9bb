"""The situation while a question is open: air that may be in a balloon is neither there for certain nor nought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.state.balloon import one_of
from log.state.tube import TubeState
from log.state.tube_after import after_entry, with_times


def may_be(candidates: Sequence[Entry]) -> tuple[Entry | None, ...]:
    """The possible events, by what was asked; None: nothing, where it was only asked whether it did."""
    return (*candidates, None) if len(candidates) == 1 else tuple(candidates)


def after_question(procedure: Procedure, s: TubeState, candidates: Sequence[Entry], at: datetime) -> TubeState:
    """The situation once something was heard at this time that may be any of these entries. Only balloons and depth are
    carried along: all else is as it was until somebody answers."""
    each = [after_entry(procedure, s, one, at) if one is not None else s for one in may_be(candidates)]
    depths = tuple(dict.fromkeys(state.depth for state in each if state.depth is not None))
    s = replace(s, depth_may_be=depths) if depths not in ((), (s.depth,), s.depth_may_be) else s
    sites = dict.fromkeys(site for state in each for site in state.balloons)
    changed = {site for site in sites if any(state.balloon(site) != s.balloon(site) for state in each)}
    if not changed:
        return s
    balloons = {site: one_of(s.balloon(site), [state.balloon(site) for state in each]) for site in changed}
    return with_times(procedure.tube, s, replace(s, balloons={**s.balloons, **balloons}), at)
