"""The hand-over for other programs, as plain JSON types."""

from __future__ import annotations

from log.basics.units import STANDARD_GRAVITY
from log.exports.show_json import clocks
from log.facts.line import Line
from log.summaries.handover import Handover
from log.summaries.night import Night
from log.summaries.whole import Whole
from log.words.wording import iso


def plain(case: Whole, found: Handover) -> dict[str, object]:
    """Times as RFC 3339, pressures in mmHg, volumes in mL, depths in cm, mass in kg."""
    mark, traction = found.mark, found.traction
    mass = traction.entry.number if traction is not None else None
    return {
        **({"simulation": case.simulation} if case.simulation else {}),
        "case": case.opened.case,
        "now": found.now.isoformat(),
        **clocks(found.clocks),
        "placed": found.watch.placed,
        "tubes": [
            {
                "number": one.number,
                "in_at": iso(one.inserted.said_at) if one.inserted else None,
                "out_at": iso(one.removed.said_at) if one.removed else None,
            }
            for one in found.tubes
        ],
        "emergency": found.situation.emergency is not None,
        "balloons": [
            {
                "site": one.site,
                "up_since": iso(one.since),
                "volume_mL": one.balloon.volume,
                "volume_known": bool(one.balloon.measured),
                **({"may_hold_mL": list(one.balloon.may_hold)} if one.balloon.may_hold else {}),
                **({"may_read_mmHg": list(one.balloon.may_read)} if one.balloon.may_read else {}),
                "put_in_mL": one.put_in,
                "taken_out_mL": one.taken_out,
                "pressure_mmHg": one.reading.entry.number if one.reading else None,
                "pressure_at": iso(one.reading.said_at) if one.reading else None,
            }
            for one in found.balloons
        ],
        "due": [
            {"id": item.id, "title": item.title, "when": item.when, "due_at": iso(item.due_at)}
            for item in found.watch.items
        ],
        "traction": None
        if traction is None
        else {
            **(_word(traction) or {}),
            "mass_kg": mass,
            "kind": traction.entry.detail,
            "force_N": None if mass is None else round(mass * STANDARD_GRAVITY, 2),
            "since": iso(found.traction_since),
        },
        "depth": _word(found.depth),
        **({"depth_may_be_cm": [one.number for one in depths]} if (depths := found.situation.depth_may_be) else {}),
        "mark": None
        if mark is None
        else {"first": _word(mark.first), "last": _word(mark.last), "moved_cm": mark.moved_cm},
        "xray": _word(found.xray),
        "xray_confirms": found.situation.confirmed,
        "xray_void": found.xray_void or None,
        "bleeding": _word(found.bleeding),
        "came_out": [
            {
                "port": one.port,
                "aspirated_mL": one.sums.get("aspirate", 0),
                "lavage_in_mL": one.sums.get("lavage_in", 0),
                "lavage_out_mL": one.sums.get("lavage_out", 0),
                "net_mL": one.net,
                "last_at": iso(one.last_at),
            }
            for one in found.ports
        ],
        "vitals": [{"name": one.name, **(_word(one.last) or {})} for one in found.vitals],
        "readings": [
            {
                "name": one.reading.name,
                **(_word(one.reading.last) or {}),
                "limits": [{"id": at.limit, "low": at.low, "high": at.high, "side": at.side} for at in one.held],
            }
            for one in found.gauges
        ],
        "given": [{"name": one.name, "amount": one.amount, "unit": one.unit} for one in found.given],
        "night": night(found.night),
        "scissors": _word(found.scissors),
        "findings": [
            {
                "rule": one.finding.rule,
                "line": one.finding.number,
                "level": one.finding.level,
                "message": one.finding.message,
                "acknowledged_by": one.acknowledged.author if one.acknowledged else None,
                "read_again": _word(one.read_again),
            }
            for one in found.findings
        ],
        "not_confirmed": [
            {"line": line.number, "at": iso(line.said_at), "candidates": [c.model_dump() for c in line.candidates]}
            for line in found.asked
        ],
        "to_be_written_out": [line.number for line in found.to_be_transcribed],
        "gaps": [{"began_at": iso(gap.began_at), "seconds": gap.seconds, "reason": gap.reason} for gap in found.gaps],
        "last_entry_at": iso(found.last_entry.said_at) if found.last_entry else None,
        "closed_at": iso(found.closed.logged_at) if found.closed else None,
        "fingerprint": case.head.sha256 if case.head else None,
        "cautions": list(case.procedure.cautions),
    }


def night(night: Night) -> dict[str, object]:
    """Measures beside the tube; blood products in units, fluid in mL."""
    return {
        "airway": _word(night.airway),
        "vasoactive": _word(night.vasoactive),
        "antibiotic": _word(night.antibiotic),
        "called": [_word(line) for line in night.called],
        "decisions": [_word(line) for line in night.decisions],
        "definitive": _word(night.definitive),
        "bridge_ends": iso(night.bridge_ends),
        "cut": _word(night.cut),
        "drugs": [_word(line) for line in night.drugs],
        "infusions_running": [
            _word(one.started) for one in night.infusions if one.started is not None and one.stopped is None
        ],
        "transfused": dict(night.transfused.units),
        "transfused_last_hour": dict(night.transfused.last_hour),
        "ratio": night.transfused.ratio or None,
        "fluid_in_mL": night.infused_ml,
        "came_out_mL": night.came_out_ml,
        "blood_loss": _word(night.blood_loss[-1] if night.blood_loss else None),
        **({"blood_loss_each": [_word(line) for line in night.blood_loss]} if len(night.blood_loss) > 1 else {}),
        "complications": [
            {"name": one.name, "first": iso(one.first.said_at), "times": one.times} for one in night.complications
        ],
        "outcome": _word(night.outcome),
        "mean_pressure_mmHg": night.reckoned.mean_pressure,
        "shock_index": night.reckoned.shock_index,
    }


def _word(line: Line | None) -> dict[str, object] | None:
    """A line's value with its place and time; None for what nobody said."""
    if line is None:
        return None
    entry = line.entry
    return {
        "line": line.number,
        "at": iso(line.said_at),
        "site": entry.site,
        "value": entry.value,
        "unit": entry.unit,
        "detail": entry.detail,
    }
