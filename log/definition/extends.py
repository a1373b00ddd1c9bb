"""A definition built on another: its own tables go before those of the other, and nothing is taken over that is about a
balloon which its tube lacks. So a tube is a list of balloons and its own limits, whatever it shares.

`extends` merges tables by key and arrays of tables by `id`; `without` beside it names what is not taken over. The case
keeps the merged whole as canonical JSON, so later changes to shipped files do not touch old cases.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from pydantic import ValidationError

from log.definition.protocol import Tube
from log.definition.reads import Read

GONE = object()
"""The rest of a part that was about such a balloon."""

HOLDS = ("of", "first", "then", "starts", "since", "until", "done", "only_if", "say")
"""Without one of these nothing is left of what it belongs to; an empty `undone` or `stops` only says less."""


def built_on(base: dict[str, Any], own: dict[str, Any], reads: Sequence[Read]) -> dict[str, Any]:
    """A definition with what it takes over from another. `reads`: what the rules read."""
    tube, ours = base.get("tube", {}), own.get("tube", {})
    wanted = merged_with(tube, ours) if isinstance(ours, dict) else tube
    there, spoken_of = _balloons(wanted), _balloons(tube)
    gone = set(spoken_of) - set(there) if there else set()
    inherited = _about_what_is_there(base, gone, there) if gone else base
    return merged_with(_with_rules_that_apply(inherited, wanted, own, reads), own)


def merged_with(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Tables are merged key by key; arrays of tables with an id, item by item; everything else is replaced."""
    merged = dict(base)
    for key, value in own.items():
        old = merged.get(key)
        if isinstance(old, dict) and isinstance(value, dict) and key not in ("values",):
            merged[key] = merged_with(old, value)
        elif old is not None and _has_ids(old) and _has_ids(value):
            ids = [item["id"] for item in old]
            merged[key] = [new for item in old for new in _with_id(value, item["id"]) or [item]]
            merged[key] += [item for item in value if item["id"] not in ids]
        else:
            merged[key] = value
    return merged


def without(base: dict[str, Any], paths: Iterable[str]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The base less what is not taken over from it, by dotted path ("limits.gastric_volume.max"), and the paths
    that lead nowhere in it."""
    lost = []
    for path in paths:
        holder, (*above, last) = (base := dict(base)), path.split(".")
        for step in above:
            inner = holder.get(step)
            holder[step] = inner = dict(inner) if isinstance(inner, dict) else {}
            holder = inner
        if holder.pop(last, None) is None:
            lost.append(path)
    return base, tuple(lost)


def _with_id(items: list[dict[str, Any]], name: object) -> list[dict[str, Any]]:
    return [item for item in items if item["id"] == name]


def _has_ids(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(i, dict) and "id" in i for i in value)


# ---- what is about a balloon that the tube lacks ---------------------------------------------------------------------


def _balloons(tube: dict[str, Any]) -> tuple[str, ...]:
    found = tube.get("balloons")
    return tuple(map(str, found)) if isinstance(found, list) else ()


def _about_what_is_there(base: dict[str, Any], gone: Collection[str], there: Sequence[str]) -> dict[str, Any]:
    """The base without it. Steps that came after such a step come after what that one came after."""
    before = {step["id"]: step.get("after", []) for step in base.get("milestone", ())}
    left: dict[str, Any] = _left_of(base, gone, there)
    stays = {step["id"] for step in left.get("milestone", ())}
    left["milestone"] = [_bridged(step, stays, before) for step in left.get("milestone", ())]
    return left


def _left_of(part: Any, gone: Collection[str], there: Sequence[str]) -> Any:
    """The rest of a part of a definition; GONE where nothing is left."""
    if isinstance(part, list):
        left = [one for one in (_left_of(each, gone, there) for each in part) if one is not GONE]
        return left if left or not part else GONE
    if not isinstance(part, dict):
        return part
    if isinstance(part.get("site"), str) and part["site"] in gone:
        return GONE
    if part.get("type") == "choice":
        return {**part, "values": _choices(part["values"], gone, there)}
    left_of = {key: _left_of(value, gone, there) for key, value in part.items()}
    if any(left_of.get(key) is GONE for key in HOLDS):
        return GONE
    return {key: value for key, value in left_of.items() if value is not GONE}


def _choices(values: dict[str, str], gone: Collection[str], there: Sequence[str]) -> dict[str, str]:
    """The values of a choice between balloons, without those that are not there; of any other choice all."""
    if not values.keys() <= {*gone, *there, "both"}:
        return values
    lacking = {*gone, *(("both",) if len(there) < 2 else ())}
    return {name: text for name, text in values.items() if name not in lacking}


def _bridged(step: dict[str, Any], stays: Collection[str], before: dict[str, list[str]]) -> dict[str, Any]:
    """A step that waits for no step that is gone."""
    after: dict[str, None] = {}
    waiting = list(step.get("after", ()))
    while waiting:
        name = waiting.pop(0)
        if name in stays or name not in before:
            after[name] = None
        else:
            waiting = [*before[name], *waiting]
    lost = [key for key in ("since", "before") if step.get(key) in before and step[key] not in stays]
    kept = {key: value for key, value in step.items() if key not in lost}
    return {**kept, "after": list(after)} if "after" in step else kept


def _with_rules_that_apply(
    base: dict[str, Any], tube: dict[str, Any], own: dict[str, Any], reads: Sequence[Read]
) -> dict[str, Any]:
    """The base without rules about a part that the tube does not have. A tube that is none keeps all."""
    try:
        known = Tube.model_validate(tube)
    except ValidationError:
        return base
    companion = "companion" in base or "companion" in own
    idle = {read.name for read in reads if not read.applies_to(known, companion)}
    rules = {name: rule for name, rule in base.get("rules", {}).items() if name not in idle}
    return {**base, "rules": rules} if "rules" in base else base
