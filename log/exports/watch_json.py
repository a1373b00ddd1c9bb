"""The watch at a moment for other programs, as plain JSON types."""

from __future__ import annotations

from datetime import timedelta

from log.definition.procedure import Procedure
from log.exports.handover_json import night
from log.summaries.night import Night
from log.watch.due import Watch
from log.watch.leak import Trend
from log.watch.step_down import Progress
from log.words.wording import in_the_zone_of, iso


def plain(procedure: Procedure, name: str, found: Watch, beside: Night | None = None) -> dict[str, object]:
    """Times as RFC 3339, pressures in mmHg, volumes in mL, slopes in mmHg per hour. `beside`: the night."""
    return {
        "case": name,
        "now": found.now.isoformat(),
        "placed": found.placed,
        "items": [
            {
                "id": item.id,
                "title": item.title,
                "when": item.when,
                "due_at": in_the_zone_of(item.due_at, found.now).isoformat(),
                "level": item.level,
                "every_h": item.every_h,
                "source": item.source,
            }
            for item in found.items
        ],
        "balloons": [
            {
                "site": b.site,
                "up_since": iso(b.since),
                "up_in_all_h": round(b.in_all / timedelta(hours=1), 2),
                "volume_mL": b.volume,
                "pressure_mmHg": b.pressure,
                **({"may_hold_mL": list(b.may_hold)} if b.may_hold else {}),
            }
            for b in found.balloons
        ],
        "step_down": _step_down(found.step_down),
        "trends": [_trend(trend) for trend in found.trends],
        "remarks": list(found.remarks),
        **({"night": night(beside)} if beside is not None else {}),
        "cautions": list(procedure.cautions),
    }


def _step_down(progress: Progress | None) -> dict[str, object] | None:
    if progress is None:
        return None
    return {
        "state": progress.state,
        "since": iso(progress.since),
        "start_mmHg": progress.start_mmhg,
        "done": [{"mmHg": d.mmhg, "due_at": iso(d.due_at), "at": iso(d.at), "early": d.early} for d in progress.done],
        "coming": [{"mmHg": target.mmhg, "due_at": iso(target.due_at)} for target in progress.coming],
    }


def _trend(trend: Trend) -> dict[str, object]:
    slope, leaving = trend.slope, trend.leaving
    return {
        "site": trend.site,
        "readings": len(trend.readings),
        "doubt": trend.doubt,
        "mmHg_per_h": None if slope is None else {"median": slope.per_hour, "low": slope.low, "high": slope.high},
        "leaves_range": None
        if leaving is None
        else {
            "side": leaving.side,
            "bound_mmHg": leaving.bound,
            "at": iso(leaving.at),
            "earliest": iso(leaving.earliest),
            "latest": iso(leaving.latest),
        },
    }
