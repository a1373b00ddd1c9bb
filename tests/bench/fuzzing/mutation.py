"""What an input is, what becomes of it, and how one is spoilt: bytes anywhere, or values where they hurt."""

from __future__ import annotations

import copy
import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Step = str | int


@dataclass(frozen=True, slots=True)
class Given:
    """A file as it comes from outside."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Target:
    """One way into the program."""

    name: str
    share: int
    """Of a hundred inputs; the cheap ways in get more of them."""
    make: Callable[[random.Random], Given]
    use: Callable[[Path, Path], None]
    """Takes the file and an empty folder; raises TamponadeError for what it refuses."""
    beside: tuple[str, ...] = ()
    """Endings of what may be left beside the file."""


TEXTS = (
    "",
    " ",
    "../../x",
    "/etc/passwd",
    "x\0y",
    "a\nb\r\nc",
    "\x1b[2J\x1b]0;title\x07\x9b31m",
    "\u202etxt\u200b\u2028",
    "\ud800",
    "\udfff\ud800",
    "\U0001f480" * 50,
    "=1+1",
    "@SUM(A1)",
    "</text><script>x()</script>",
    "]]>&amp;|`*_[x](http://e.invalid)~~",
    "{site} <name> [x] (a|b",
    "%s%n{0}{__class__}",
    "9" * 400,
    "1e999",
    "nan",
    "w" * 3000,
    "gastric",
    "oesophageal",
    "both",
    "off",
    "in",
    "confirmed",
    "not_confirmed",
    "volume_in",
    "volume_out",
    "volume_total",
    "pressure",
    "traction",
    "depth",
    "mmHg",
    "mL",
    "kg",
)
WHOLE = (0, 1, -1, 7, 2**31, 2**53, 2**53 + 1, 2**63, 2**64, 10**400)
NUMBERS = (*WHOLE, -0.0, 0.1, 1e-320, 1e6, -1e6, 1e6 + 1, 1e300, -1e308, 1.7e308, math.inf, -math.inf, math.nan)
TIMES = (
    "0001-01-01T00:00:00Z",
    "1990-01-01T00:00:00+23:59",
    "1990-01-01T00:00:00-23:59",
    "2200-12-31T23:59:59.999999-23:59",
    "9999-12-31T23:59:59.999999-23:59",
    "2026-10-04T14:00:00",
    "2026-10-04T14:00:60Z",
    "2026-13-41T25:61:61Z",
    "2026-02-29T00:00:00Z",
    "20261004T140000Z",
    "-0001-01-01T00:00:00Z",
    "2026-10-04T14:00:00+99:99",
)


def bytewise(rng: random.Random, content: bytes) -> bytes:
    """Some bytes or stretches flipped, overwritten, cut out, doubled, swapped or cut off."""
    spoilt = bytearray(content)
    for _ in range(rng.choice((1, 1, 1, 2, 4, 16))):
        at, other = (rng.randrange(len(spoilt) + 1) for _ in range(2))
        length = rng.choice((1, 1, 2, 4, 8, 64))
        match rng.randrange(8):
            case 0 if at < len(spoilt):
                spoilt[at] ^= 1 << rng.randrange(8)
            case 1 if at < len(spoilt):
                spoilt[at] = rng.choice((0, 0xFF, 0x7F, 0x80, rng.randrange(256)))
            case 2:
                spoilt[at : at + length] = rng.randbytes(length)
            case 3:
                del spoilt[at : at + length]
            case 4:
                spoilt[at:at] = spoilt[other : other + length]
            case 5:
                spoilt[at : at + 4] = rng.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000)).to_bytes(
                    4, rng.choice(("little", "big"))
                )
            case 6 if rng.random() < 0.3:
                del spoilt[at:]
            case 7:
                spoilt[at:at] = rng.choice(TEXTS).encode("utf-8", "surrogatepass")[:200]
    return bytes(spoilt)


def places(plain: Any, here: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """The path to everything in nested tables and lists."""
    if here:
        yield here
    if isinstance(plain, dict):
        for key, value in plain.items():
            yield from places(value, (*here, key))
    elif isinstance(plain, list):
        for index, value in enumerate(plain):
            yield from places(value, (*here, index))


def spoil(rng: random.Random, plain: Any, times: int = 1) -> Any:
    """A copy with values replaced, taken out, doubled, moved or put in at random places."""
    spoilt = copy.deepcopy(plain)
    for _ in range(times):
        known = list(places(spoilt))
        if known:
            _spoil_at(rng, spoilt, rng.choice(known), known)
    return spoilt


def _spoil_at(rng: random.Random, whole: Any, place: tuple[Step, ...], known: list[tuple[Step, ...]]) -> None:
    holder: Any = at(whole, place[:-1])
    last: Any = place[-1]
    match rng.randrange(10):
        case 0:
            del holder[last]
        case 1:
            holder[last] = copy.deepcopy(at(whole, rng.choice(known)))  # something that stands elsewhere
        case 2 if isinstance(holder, dict):
            holder[rng.choice((*TEXTS, "extra", "id", "kind"))] = holder[last]
        case 3 if isinstance(holder, list):
            holder.insert(rng.randrange(len(holder) + 1), copy.deepcopy(holder[last]))
        case 4:
            holder[last] = nested(rng.choice((1, 3, 30, 100)), holder[last])
        case _:
            holder[last] = instead_of(rng, holder[last])


def at(plain: Any, place: tuple[Step, ...]) -> Any:
    """What stands there."""
    found: Any = plain
    for step in place:
        found = found[step]
    return found


def nested(depth: int, core: Any) -> Any:
    """Lists in lists."""
    for _ in range(depth):
        core = [core]
    return core


def instead_of(rng: random.Random, value: Any) -> Any:
    """Something hostile, mostly of the same type."""
    if rng.random() < 0.1:
        return rng.choice((None, True, False, [], {}, "", 0, 1.5, [value], {"x": value}))
    match value:
        case bool():
            return rng.choice((not value, "true", 1))
        case int() | float():
            return rng.choice((*NUMBERS, value + 1, -value, value * 1000))
        case str():
            return rng.choice(TIMES if value[:4].isdigit() and "T" in value and rng.random() < 0.8 else TEXTS)
        case list():
            return rng.choice(([], value[::-1], value * 2, value[:1] * 50))
        case _:
            return rng.choice((*NUMBERS, *TEXTS))
