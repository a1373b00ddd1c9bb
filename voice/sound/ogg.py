"""The end of an Ogg file (RFC 3533): its last page says that it is the last. libsndfile reads a long file that breaks
off without a word, and calls a short one malformed that opusdec reads; with its last page marked it reads that too.
"""

from __future__ import annotations

from pathlib import Path

CAPTURE = b"OggS"
LAST = 0x04
"""In the flags of a page: nothing comes after it."""

LONGEST_PAGE = 65_307
"""Bytes."""

MOST_MENDED = 1_000_000
"""Bytes of a file that is mended in memory; libsndfile reads longer ones as they are."""


def lacks_end(path: Path) -> bool:
    """Whether this is an Ogg file whose last whole page is not marked as the last."""
    with path.open("rb") as file:
        if file.read(4) != CAPTURE:
            return False
        file.seek(max(0, path.stat().st_size - 2 * LONGEST_PAGE))
        tail = file.read()
    at = _last_page(tail)
    return at is None or not tail[at + 5] & LAST


def with_end(path: Path) -> bytes | None:
    """The content of a short Ogg file with its last whole page marked as the last; None if it is no such file."""
    if path.stat().st_size > MOST_MENDED:
        return None
    content = bytearray(path.read_bytes())
    at = _last_page(content) if content.startswith(CAPTURE) else None
    if at is None or content[at + 5] & LAST:
        return None
    page = content[at : at + _length(content, at)]
    page[5] |= LAST
    page[22:26] = bytes(4)
    page[22:26] = _checksum(page).to_bytes(4, "little")
    return bytes(content[:at] + page)


def _last_page(content: bytes | bytearray) -> int | None:
    """Where the last page begins that is there as a whole."""
    at = content.rfind(CAPTURE)
    while at >= 0:
        length = _length(content, at)
        if 0 < length <= len(content) - at:
            return at
        at = content.rfind(CAPTURE, 0, at)
    return None


def _length(content: bytes | bytearray, at: int) -> int:
    """Bytes of the page that begins here; 0 if its head is not whole."""
    table = content[at + 27 : at + 27 + content[at + 26]] if at + 27 <= len(content) else b""
    whole = at + 27 <= len(content) and len(table) == content[at + 26]
    return 27 + len(table) + sum(table) if whole else 0


def _checksum(page: bytes | bytearray) -> int:
    """CRC-32 with the polynomial 0x04c11db7, not reflected, from 0."""
    found = 0
    for byte in page:
        found ^= byte << 24
        for _ in range(8):
            found = (found << 1 ^ 0x04C11DB7 if found & 0x80000000 else found << 1) & 0xFFFFFFFF
    return found
