"""The differences between two definitions, for whoever has to agree to the second: in the order in which a case goes,
from the tube and its limits to the words that are said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from log.basics.patterns import Pattern, Sourced
from log.definition.kinds import Kind, Say
from log.definition.procedure import Procedure
from log.definition.slots import NumberSlot
from log.definition.watch_plan import WatchPlan

Fields = Mapping[str, str]
"""Field -> what stands there, as one line of text."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One field of one part that is not the same in both; None where the part, or what it says, is missing."""

    group: str
    """The part of the definition: "limits", "clocks"."""
    name: str
    """Its name: "gastric_volume"; empty for the group itself."""
    field: str
    """Its changed part: "bounds"; empty where only one of the two has it at all."""
    first: str | None
    second: str | None


def differences(first: Procedure, second: Procedure) -> tuple[Difference, ...]:
    """All that differs, grouped, in clinical order. Nothing, where both say the same.

    In which order the parts stand in the file is no difference, nor is the order of the phrases of a kind.
    """
    found: list[Difference] = []
    one, other = _groups(first), _groups(second)
    for group, parts in one.items():
        found += _between(group, parts, other[group])
    return tuple(found)


def _between(group: str, first: Mapping[str, Fields], second: Mapping[str, Fields]) -> Iterable[Difference]:
    for name in dict.fromkeys((*first, *second)):
        one, other = first.get(name), second.get(name)
        if one is None or other is None:
            yield Difference(group, name, "", _whole(one), _whole(other))
            continue
        for field in dict.fromkeys((*one, *other)):
            if one.get(field) != other.get(field):
                yield Difference(group, name, field, one.get(field), other.get(field))


def _whole(fields: Fields | None) -> str | None:
    if fields is None:
        return None
    return "; ".join(f"{field}: {text}" if field else text for field, text in fields.items() if text)


def _groups(procedure: Procedure) -> dict[str, dict[str, Fields]]:
    """Every part as text, so that two can be laid side by side."""
    tube = procedure.tube
    return {
        "tube": {
            "": {
                "title": procedure.title,
                "version": procedure.version,
                "lumens": str(tube.lumens),
                "balloons": ", ".join(tube.balloons),
                "in the stomach": tube.stomach or "none",
                "in the oesophagus": tube.oesophagus or "none",
                "note": tube.note,
            }
        },
        "limits": {
            name: {
                "bounds": limit.bounds,
                "level": limit.level,
                "source": _standing(limit),
                "about": limit.about,
                "of": str(limit.of or "nothing"),
                "advice": limit.advice,
                "to set": limit.site_sets.message if limit.site_sets else "",
            }
            for name, limit in procedure.limits.items()
        },
        "rules": {
            name: {"message": rule.message, "level": rule.level, "source": _standing(rule)}
            for name, rule in procedure.rules.items()
        },
        "order": {
            order.id: {
                "before": f"{order.first} before {order.then}",
                "level": order.level,
                "source": _standing(order),
                "message": order.message,
            }
            for order in procedure.order
        },
        "clocks": {
            clock.id: {
                "title": clock.title,
                "from": str(clock.starts),
                "to": _any(clock.stops),
                **({"pauses at": _any(clock.pauses)} if clock.pauses else {}),
                "restarts": "yes" if clock.restarts else "no",
                **{
                    f"due {number}": f"{due.after_h:g} h, {due.level}: {due.message} {_standing(due)}"
                    for number, due in enumerate(clock.due, 1)
                },
            }
            for clock in procedure.clock
        },
        "watch": _watch(procedure.watch) if procedure.watch else {},
        "steps": {
            step.id: {
                "title": step.title,
                "after": ", ".join(step.after),
                "done": _any(step.done),
                "keeps": step.keeps or "",
                "since": step.since or "",
                "only if": _any(step.only_if),
                "undone": _any(step.undone),
                "prompted": "yes" if step.prompted else "no",
                "say": step.say,
                "source": _standing(step),
            }
            for step in procedure.milestone
        },
        "entries": {kind.id: _kind(kind) for kind in procedure.kind},
        "numbers and choices": {name: _slot(slot) for name, slot in procedure.slots.items()},
        "words": {
            "lead word": {"": procedure.lead_word},
            "fillers": {"": ", ".join(sorted(procedure.fillers))},
            "overheard": {"": ", ".join(sorted(procedure.overheard))},
            **{f"part {name}": {"": text} for name, text in procedure.parts.items()},
            **{f"spelling {name}": {"": text} for name, text in procedure.spellings.items()},
            **{f"pronunciation {name}": {"": ", ".join(told)} for name, told in procedure.pronunciations.items()},
        },
        "cautions": {f"caution {number}": {"": text} for number, text in enumerate(procedure.cautions, 1)},
        "sources": {name: {"": text} for name, text in procedure.sources.items()},
    }


def _standing(part: Sourced) -> str:
    """Tag and keys: what the keys stand for is compared once, under the sources."""
    return f"[{part.tag}] {', '.join(part.source) or 'no source'}"


def _watch(plan: WatchPlan) -> dict[str, Fields]:
    parts: dict[str, Fields] = {
        check.id: {
            "every": f"{check.every_h:g} h",
            "title": check.title,
            "from": str(check.starts),
            "to": _any(check.stops),
            "done": _any(check.done),
            "source": _standing(check),
        }
        for check in plan.check
    }
    parts |= {
        one.id: {
            "after": f"{one.after_min:g} min",
            "title": one.title,
            "from": str(one.since),
            "to": _any(one.until),
            "level": one.level,
            "source": _standing(one),
        }
        for one in plan.waiting or ()
    }
    if (down := plan.step_down) is not None:
        parts["step-down"] = {
            "step": f"{down.step_mmhg:g} mmHg",
            "every": f"{down.every_h:g} h",
            "down to": f"{down.down_to_mmhg:g} mmHg",
            "from": f"{down.controlled}; not while {down.bleeding}",
            "source": _standing(down),
        }
    deflation, unset = plan.deflation, plan.deflation_not_set
    parts["deflation"] = {
        "interval": f"every {deflation.every_h:g} h for {deflation.for_min:g} min" if deflation else unset.message,
        "source": _standing(deflation or unset),
    }
    parts["gastric stays"] = {"message": plan.gastric_stays.message, "source": _standing(plan.gastric_stays)}
    parts["overdue"] = {"after": f"{plan.late.after_min:g} min", "source": _standing(plan.late)}
    parts["leak"] = {
        "from": f"{plan.trend.fewest} readings over {plan.trend.shortest_h:g} h",
        "interval": f"{plan.trend.confidence:g}",
        "source": _standing(plan.trend),
    }
    return parts


def _kind(kind: Kind) -> Fields:
    phrases = {f'"{phrase}"': _meaning(say) for say in kind.say for phrase in say.phrases}
    told = {"group": kind.group, "read again": "yes" if kind.reading else "no", "total": kind.total}
    return {"title": kind.title, "role": kind.role, "when": kind.when, **told, **phrases}


def _meaning(say: Say) -> str:
    said = say.model_dump(exclude={"phrases"}, exclude_none=True, exclude_defaults=True)
    return ", ".join(f"{field} {value}" for field, value in said.items()) or "as said"


def _slot(slot: object) -> Fields:
    if isinstance(slot, NumberSlot):
        believable = slot.plausible
        return {
            "unit": slot.unit or "",
            "can be said": f"{slot.said[0]:g} to {slot.said[1]:g}",
            "believable": f"{believable[0]:g} to {believable[1]:g}" if believable else "",
            "halves": "yes" if slot.halves else "no",
            "words of the unit": slot.units,
            "factor": f"{slot.factor:g}",
        }
    gives, values = getattr(slot, "gives", ""), getattr(slot, "values", {})
    return {"gives": gives, **{f"value {value}": text for value, text in values.items()}}


def _any(patterns: Iterable[Pattern]) -> str:
    return " or ".join(map(str, patterns))
