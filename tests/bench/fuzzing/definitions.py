"""Definitions and local overrides: TOML that a hospital writes, or somebody who means it harm."""

from __future__ import annotations

import json
import math
import random
import tomllib
from datetime import date, datetime, time
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from log.basics.visible import visible
from log.definition.load import BrokenDefinition, in_force, read_override
from log.definition.procedure import Procedure
from log.rules.definitions import read_procedure
from tests.bench.fuzzing.mutation import Given, Target, bytewise, spoil
from voice.meaning.normalise import nearest
from voice.phrases.phrases import compile_phrases, template_problems

OVERRIDE = b"""procedure = "three-lumen"
approved_by = "tamponade protocol group"
approved_on = 2026-03-01
reason = "our manometers read 2 mmHg low"

[limits.oesophageal_ceiling]
max = 40

[limits.gastric_volume]
min = 180
level = "high"
"""
HOSTILE = (
    "a = " + "[" * 5000 + "]" * 5000,
    "a = " + "{a=" * 3000 + "1" + "}" * 3000,
    "a." * 20_000 + "a = 1",
    "[" + "a." * 20_000 + "a]",
    "a = " + "9" * 5000,
    "a = 1e999\nb = -inf\nc = nan",
    "a = 0x" + "f" * 20_000,
    "a = 9999-12-31T23:59:59.999999-23:59",
    "a = 1979-05-27T07:32:00+24:00",
    'a = "\\ud800"',
    'a = "\\U00110000"',
    "a = 1\na = 2",
    "a = 1\n[a]\nb = 2",
    "\ufeffa = 1",
    "a = '''" + "x" * 500_000,
    "extends = 'common'\nextends = 'three-lumen'",
    "extends = [['common']]",
    "extends = 'extends'",
)
BILLION = "\n".join(f'p{n} = "<p{n + 1}> <p{n + 1}> <p{n + 1}> <p{n + 1}>"' for n in range(30))
LAUGHS = f"extends = 'three-lumen'\nid = 'x'\n[parts]\n{BILLION}\np30 = \"x\"\n"
RING = "extends = 'three-lumen'\nid = 'x'\n[parts]\na = \"<b>\"\nb = \"<a>\"\n"


@cache
def _shipped(name: str) -> bytes:
    return (files("log.definition") / "shipped" / f"{name}.toml").read_bytes()


@cache
def procedure() -> Procedure:
    """What overrides are for."""
    return read_procedure("three-lumen")


@cache
def _tables(name: str) -> dict[str, Any]:
    return tomllib.loads(_shipped(name).decode())


def definition(rng: random.Random) -> Given:
    """A shipped definition, or one that is built on it, spoilt as bytes or as tables."""
    draw, name = rng.random(), rng.choice(("three-lumen", "four-lumen"))
    if draw < 0.03:
        return Given("x.toml", rng.choice((*HOSTILE, LAUGHS, RING)).encode())
    if draw < 0.06:
        return Given("x.toml", toml({"extends": name, "id": "x", "overheard": [_alternatives(rng)]}).encode())
    if draw < 0.60:
        return Given("x.toml", bytewise(rng, _shipped(name)))
    if draw < 0.68:
        return Given("x.toml", bytewise(rng, _shipped("common")))
    if draw < 0.84:
        return Given("x.toml", toml(spoil(rng, _tables(name), rng.randint(1, 3))).encode("utf-8", "surrogatepass"))
    piece = rng.choice(("slots", "kind", "limits", "rules", "order", "clock", "parts", "sources", "cautions"))
    own = spoil(rng, {piece: _tables("common").get(piece, {})}, rng.randint(1, 3))
    return Given("x.toml", toml({"extends": name, "id": "x", **own}).encode("utf-8", "surrogatepass"))


def _alternatives(rng: random.Random) -> str:
    """A phrase of few characters that can be said in very many ways, or in just not too many."""
    ways, length = rng.choice(((2, 10), (2, 16), (3, 7), (13, 3), (20, 16), (40, 5), (1900, 1)))
    choice = "|".join(f"w{chr(97 + n % 26)}{chr(97 + n // 26 % 26)}{chr(97 + n // 676)}" for n in range(ways))
    return " ".join([f"[{choice}]" if rng.random() < 0.5 else f"({choice})"] * length) + " end"


def override(rng: random.Random) -> Given:
    """A good override, spoilt."""
    draw = rng.random()
    if draw < 0.02:
        return Given("x.toml", rng.choice(HOSTILE).encode())
    if draw < 0.5:
        return Given("x.toml", bytewise(rng, OVERRIDE))
    spoilt = spoil(rng, tomllib.loads(OVERRIDE.decode()), rng.randint(1, 3))
    return Given("x.toml", toml(spoilt).encode("utf-8", "surrogatepass"))


def use_definition(path: Path, _folder: Path) -> None:
    """As `procedures check` and a new case do."""
    read = read_procedure(str(path))
    found = tuple(template_problems(read))
    if found:
        raise BrokenDefinition(f"{path}: {found[0][0]}: {visible(found[0][1], 200)}", "mend it", found)
    Procedure.model_validate_json(in_force(read, None).text)
    if len(read.overheard) == 1:
        nearest(compile_phrases(read), ("foo", "bar"))


def use_override(path: Path, _folder: Path) -> None:
    """As a new case does."""
    read = read_override(path, procedure())
    Procedure.model_validate_json(in_force(procedure(), read).text)


def toml(plain: Any) -> str:
    """TOML of anything, also of what TOML cannot say."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in plain.items()) if plain else ""


def _key(key: object) -> str:
    return json.dumps(str(key), ensure_ascii=False)


def _value(value: Any) -> str:
    match value:
        case dict():
            return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
        case list():
            return "[" + ", ".join(map(_value, value)) + "]"
        case bool() | None:
            return str(bool(value)).lower()
        case float() if not math.isfinite(value):
            return str(value)
        case datetime() | date() | time():
            return value.isoformat()
        case int() if abs(value) > 10**300:
            return "9" * 5000  # more than Python lets itself be made to convert
        case int() | float():
            return repr(value)
        case _:
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


TARGETS = (
    Target("definition", 8, definition, use_definition),
    Target("override", 36, override, use_override),
)
