"""The chain against what is not ours: published vectors, and a second reading of an export with JSON and SHA-256 alone.

Vectors marked [from memory] were written down from memory of the standard and are held by independent libraries here.
"""

from __future__ import annotations

import hashlib
import json
import math
import struct
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given
from hypothesis import strategies as st

from log.exports.jsonl import as_jsonl
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.store import case as store
from log.store.chain import canonical, fingerprint, linked, read_link, vouched
from log.store.keys import Signer
from log.summaries.whole import whole
from tests.case_file import body, go_on, opened

# ---- RFC 8785, appendix B [from memory]: the bits of a double, and how it is written ---------------------------------
NUMBERS = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}

# ---- RFC 8032, section 7.1, tests 1 to 3 [from memory]: private key, public key, message, signature ---
SIGNATURES = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe246"
        "55141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb"
        "00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc"
        "027beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("bits", "written"), NUMBERS.items(), ids=NUMBERS)
def test_numbers_are_written_as_the_standard_has_it(bits: str, written: str) -> None:
    number = struct.unpack(">d", bytes.fromhex(bits))[0]
    assert canonical(number) == written
    assert as_javascript(number) == written


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_has_no_canonical_form(number: float) -> None:
    with pytest.raises(ValueError, match=r"finite|NaN|nan|inf"):
        canonical({"value": number})


def test_names_are_sorted_by_their_utf_16_code_units() -> None:
    """RFC 8785, section 3.2.3 [from memory]: the pairs of a surrogate come before U+FB33."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    assert list(json.loads(canonical(dict.fromkeys(keys)))) == [
        "\r",
        "1",
        "\u0080",
        "\u00f6",
        "\u20ac",
        "\U0001f600",
        "\ufb33",
    ]


def test_text_is_escaped_no_more_than_it_has_to_be() -> None:
    """RFC 8785, section 3.2.2 [from memory]."""
    text = '\u20ac$\u000f\nA\'B"\\\\"/'
    assert canonical(text) == '"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'


def test_the_fingerprint_is_sha_256() -> None:
    """FIPS 180-4, one block [from memory]."""
    assert fingerprint("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize(("private", "public", "message", "signature"), SIGNATURES)
def test_signatures_are_ed25519(private: str, public: str, message: str, signature: str) -> None:
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(private))
    assert key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex() == public == Signer(key).public_key
    assert key.sign(bytes.fromhex(message)).hex() == signature
    Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(bytes.fromhex(signature), bytes.fromhex(message))
    head = Signer(key).head("case", 3, "0" * 64)
    signed = f'{{"case":"case","facts":3,"sha256":"{"0" * 64}"}}'
    assert key.sign(signed.encode()).hex() == head.signature
    assert vouched("case", 3, "0" * 64, public, head.signature)
    assert not vouched("case", 4, "0" * 64, public, head.signature)
    assert not vouched("case", 3, "0" * 64, SIGNATURES[0][1] if public != SIGNATURES[0][1] else "00", head.signature)


# ---- a second implementation: JSON, SHA-256 and the rules, none of our code ------------------------------------------


def as_javascript(number: float) -> str:
    """A number as ECMAScript writes it, from the shortest digits that Python finds."""
    if number == 0:
        return "0"
    sign, shortest = ("-" if number < 0 else ""), repr(abs(number))
    mantissa, _, exponent = shortest.partition("e")
    whole_part, _, fraction = mantissa.partition(".")
    digits = (whole_part + fraction).lstrip("0").rstrip("0")
    if whole_part.strip("0"):
        point = len(whole_part.lstrip("0")) + int(exponent or 0)
    else:
        point = -(len(fraction) - len(fraction.lstrip("0"))) + int(exponent or 0)
    if len(digits) <= point <= 21:
        return sign + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return f"{sign}{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"{sign}0.{'0' * -point}{digits}"
    power = f"{point - 1:+d}"
    return f"{sign}{digits[0]}{'.' + digits[1:] if digits[1:] else ''}e{power}"


def rewritten(plain: Any) -> str:
    """Canonical JSON of what facts are made of."""
    if isinstance(plain, dict):
        keys = sorted(plain, key=lambda key: key.encode("utf-16-be"))
        return "{" + ",".join(f"{rewritten(key)}:{rewritten(plain[key])}" for key in keys) + "}"
    if isinstance(plain, list):
        return "[" + ",".join(map(rewritten, plain)) + "]"
    if isinstance(plain, int | float) and not isinstance(plain, bool):
        return as_javascript(float(plain)) if isinstance(plain, float) else str(plain)
    return json.dumps(plain, ensure_ascii=False)


def followed(lines: list[str]) -> list[str]:
    """The fingerprints of the facts of an export; each has to name the one before it."""
    found: list[str] = []
    for seq, line in enumerate(lines, start=1):
        plain = json.loads(line)
        assert (plain["seq"], plain["previous"]) == (seq, found[-1] if found else None)
        found.append(hashlib.sha256(rewritten(plain).encode()).hexdigest())
    return found


def test_an_export_is_checked_with_json_and_sha_256_alone(tmp_path: Path) -> None:
    session = open_case(
        tmp_path, "case", load("three-lumen"), "typed", Keeping("scribe \u200f\u0085 \u00e4\u20ac", "a\nb")
    )
    session.close(2.5, "end of typing")
    go_on(tmp_path / "case.case")
    kept = store.read(tmp_path, "case")
    first, *facts, last = as_jsonl(whole(kept)).splitlines()
    assert json.loads(first)["version"] == 2
    head = json.loads(last)["head"]
    fingerprints = followed(facts)
    assert fingerprints == [link.sha256 for link in kept.links]
    assert (head["facts"], head["sha256"]) == (len(facts), fingerprints[-1])
    Ed25519PublicKey.from_public_bytes(bytes.fromhex(head["public_key"])).verify(
        bytes.fromhex(head["signature"]),
        rewritten({"case": "case", "facts": len(facts), "sha256": fingerprints[-1]}).encode(),
    )


TEXT = st.text()
NUMBER = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(
    st.none() | st.booleans() | NUMBER | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_two_implementations_write_the_same(plain: Any) -> None:
    assert canonical(plain) == rewritten(plain)


def test_what_is_linked_is_read_again() -> None:
    links = linked([opened(), *body()])
    assert [read_link(link.text) for link in links] == links
    assert [link.previous for link in links] == [None, *(link.sha256 for link in links[:-1])]
