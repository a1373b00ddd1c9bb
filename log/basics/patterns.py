"""The parts every definition is made of: frozen tables that know no misspelt key, patterns of entries, and the
standing of a clinical number.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    StringConstraints,
    model_serializer,
    model_validator,
)

Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_-]*$")]
Level = Literal["high", "medium", "low", "information"]
"""Priorities in the words of the open alarm standard (reference: IEC 60601-1-8, terms only)."""

Tag = Literal["published", "from memory", "common practice", "derived", "local"]
"""The standing of a number: `published` was read in its source, `common practice` has none."""

Bound = Annotated[float, Field(ge=-1_000_000, le=1_000_000)] | None
"""A number that the room can reckon with, drawings included."""

LEVELS: tuple[Level, ...] = ("high", "medium", "low", "information")


class Part(BaseModel):
    """Base of all parts of a definition: frozen, and a misspelt key is an error, not a silent default."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


class Grown(Part):
    """A part that has gained fields since the first cases. Where one is not set it is not written either, so that a
    definition without it keeps its fingerprint."""

    GROWN: ClassVar[tuple[str, ...]]
    """The names of those fields; each is None where it is not set."""

    @model_serializer(mode="wrap")
    def _as_it_always_was(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        fields: dict[str, Any] = written(self)
        return {key: value for key, value in fields.items() if key not in self.GROWN or value is not None}


class Pattern(Part):
    """A pattern of entries: fields left out match anything; `both` balloons match either site."""

    kind: Identifier
    site: Identifier | None = None
    value: str | None = None
    """One value, or several with a bar between them of which one is meant: "continuing|restarted"."""
    detail: str | None = None

    def has(self, value: object) -> bool:
        """Whether a value is one that is meant."""
        return self.value is None or value in self.value.split("|")

    def __str__(self) -> str:
        value = (self.value or "").replace("|", " or ")
        return " ".join(part for part in (self.site, self.kind.replace("_", " "), value, self.detail) if part)


class Sourced(Part):
    """Something clinical, with its standing."""

    tag: Tag
    """The standing of the number: `published` was read in its source, `common practice` has none."""
    source: tuple[str, ...] = ()
    """Keys of the definition's `sources`."""

    @model_validator(mode="after")
    def _says_where_it_comes_from(self) -> Sourced:
        if self.tag == "published" and not self.source:
            raise ValueError("is tagged published but names no source")
        return self


class Backed(Sourced):
    """Something clinical that a finding is about."""

    level: Level
    """The priority of the finding."""
