"""How a definition is built on another: what it says itself goes before what the other says.

`extends` merges tables by key and arrays of tables by `id`; `without` beside it names what is not taken over. The case
keeps the merged whole as canonical JSON, so later changes to shipped files do not touch old cases.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any


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
