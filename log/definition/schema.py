"""JSON Schema (draft 2020-12) of a definition and of an override, so that an editor completes keys, shows what they
mean and marks a slip while somebody types. It is made from the models that read the files: the two cannot drift apart.

What spans several keys (a source that is not listed, min above max) only `tamponade procedures check` and `review`
find.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

from log.definition.override import Override
from log.definition.procedure import Procedure

DIALECT = "https://json-schema.org/draft/2020-12/schema"

Schema = dict[str, Any]

BUILT_ON = {
    "extends": {"type": "string", "description": "The shipped definition this one is built on."},
    "without": {
        "type": "array",
        "items": {"type": "string"},
        "description": 'What is not taken over from it, by dotted path: "limits.gastric_volume.max".',
    },
}


def schema(of: Literal["definition", "override"]) -> Schema:
    """The schema as JSON values.

    A definition that extends another need not say everything itself, so that for it only the keys and the types of
    what is there are checked.
    """
    if of == "override":
        return _named(_of(Override), "Override of a definition")
    whole = _of(Procedure)
    parts = {**whole.pop("$defs"), "Whole": whole}
    partial = {f"Partial{name}": _partial(part) for name, part in parts.items()}
    partial["PartialWhole"]["properties"] |= BUILT_ON
    return _named(
        {
            "if": {"type": "object", "required": ["extends"]},
            "then": {"$ref": "#/$defs/PartialWhole"},
            "else": {"$ref": "#/$defs/Whole"},
            "$defs": {**parts, **partial},
        },
        "Definition of a procedure",
    )


def _of(model: type[BaseModel]) -> Schema:
    return model.model_json_schema(mode="validation")


def _named(body: Schema, title: str) -> Schema:
    return {"$schema": DIALECT, **body, "title": title}


def _partial(part: Any) -> Any:
    """The same without what is required, pointing at parts that are like it. Items of a list stay whole: they are
    never merged, but put in the place of others."""
    if isinstance(part, list):
        return [_partial(one) for one in part]
    if not isinstance(part, dict):
        return part
    changed = {}
    for key, value in part.items():
        if key == "$ref":
            changed[key] = value.replace("#/$defs/", "#/$defs/Partial")
        elif key == "oneOf":
            changed["anyOf"] = _partial(value)  # without its type a slot may look like either
        elif key in ("items", "prefixItems"):
            changed[key] = value
        elif key not in ("required", "discriminator"):
            changed[key] = _partial(value)
    return changed
