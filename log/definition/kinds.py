"""Kinds of entry: how each is said, and what it is to the rest of the program. Whatever adds up or lays out asks for
the kinds of a group where it means one of many.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from log.basics.patterns import Bound, Identifier, Part

Group = Literal[
    "kit", "test", "placing", "air", "pressure", "port", "out", "in", "given", "vital", "course", "beside", "other"
]
"""The part of the job that a kind belongs to. `kit`: made ready before. `test`: done before the tube is in. `placing`:
where the tube is and what holds it. `air`, `pressure`: of a balloon. `port`: its site is a port of the tube. `out`,
`in`: came out of a port, went into it. `given`: to the patient, its detail is the name. `vital`: its detail is the
sign. `course`: the way it goes. `beside`: says nothing of the tube. `other`: none of these."""

Total = Literal["by-port", "by-name", "none"]
"""The way in which its numbers are added up."""


@dataclass(frozen=True, slots=True)
class Traits:
    """The traits of a kind for the rest of the program; the defaults are those of a kind that says none."""

    group: Group = "other"
    reading: bool = False
    total: Total = "none"


class Say(Part):
    """A group of phrases that mean the same thing."""

    phrases: tuple[str, ...] = Field(min_length=1)
    site: Identifier | None = None
    value: str | Bound = None
    detail: str | None = None
    alone: bool = False
    """Counts only if it is all that was said: "cut" within a sentence is no cry for help."""
    urgent: bool = False
    """Needs no lead word: nobody thinks of one when a tube blocks the airway."""

    @model_serializer(mode="wrap")
    def _as_it_always_was(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Without `alone` where it says nothing, so that fingerprints stay as they were."""
        told: dict[str, Any] = written(self)
        return {key: value for key, value in told.items() if key != "alone" or value}


class Kind(Part):
    """A kind of entry."""

    id: Identifier
    title: str
    role: Literal["entry", "command"] = "entry"
    """A command acts on the record (strike, correct, confirm); an entry is added to it."""
    when: Literal["always", "asked"] = "always"
    """`asked`: can only be said while a question is open."""
    group: Group = "other"
    """Its subject: decides where it is shown, and in which total or status it counts."""
    reading: bool = False
    """Whether it is read again and again, so that the last one says how things stand."""
    total: Total = "none"
    """The way in which its numbers are added up."""
    say: tuple[Say, ...] = Field(min_length=1)

    @property
    def traits(self) -> Traits:
        """All three."""
        return Traits(self.group, self.reading, self.total)

    @model_validator(mode="before")
    @classmethod
    def _original_kinds_are_known(cls, fields_of: Any) -> Any:
        known = ORIGINAL.get(str(fields_of.get("id"))) if isinstance(fields_of, dict) else None
        return {**asdict(known), **fields_of} if known is not None else fields_of

    @model_serializer(mode="wrap")
    def _as_it_always_was(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Without what a kind of this id is known for, so that fingerprints stay as they were."""
        fields_of: dict[str, Any] = written(self)
        known = asdict(ORIGINAL.get(self.id, Traits()))
        return {key: value for key, value in fields_of.items() if key not in known or value != known[key]}


ORIGINAL: Mapping[str, Traits] = MappingProxyType(
    {
        **dict.fromkeys(("preparation", "kit", "scissors"), Traits("kit")),
        "head_up": Traits("kit", reading=True),
        **dict.fromkeys(("airway", "leak_test", "manometry"), Traits("test")),
        **dict.fromkeys(
            ("tube", "xray", "position_check", "balloon", "traction", "resistance", "companion", "removal"),
            Traits("placing"),
        ),
        "depth": Traits("placing", reading=True),
        **dict.fromkeys(("volume_in", "volume_out", "volume_total"), Traits("air")),
        "pressure": Traits("pressure", reading=True),
        "clamp": Traits("port"),
        "appearance": Traits("out"),
        "aspirate": Traits("out", total="by-port"),
        "lavage_in": Traits("in", total="by-port"),
        "lavage_out": Traits("out", total="by-port"),
        "drug": Traits("given"),
        **dict.fromkeys(("blood_product", "fluid"), Traits("given", total="by-name")),
        "vital": Traits("vital", reading=True),
        **dict.fromkeys(("bleeding", "skin", "handover", "emergency"), Traits("course")),
        **dict.fromkeys(("mark", "decision", "note"), Traits("beside")),
    }
)
"""Group and total of the kinds that are older than these keys. Never changed: older cases are read by it, and it is not
written where it is just this."""
