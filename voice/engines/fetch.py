"""Bringing a speech model to the machine: fetch its archive once over https, check it, unpack it safely.

This is the only part of the program that ever opens a connection, and only when somebody asks for a model.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import ssl
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.client import HTTPException, HTTPMessage, HTTPResponse
from pathlib import Path, PurePosixPath
from typing import IO, cast
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import (
    HTTPDefaultErrorHandler,
    HTTPErrorProcessor,
    HTTPRedirectHandler,
    HTTPSHandler,
    OpenerDirector,
    ProxyHandler,
    Request,
)

from log.basics.errors import EngineError, InputError, StoreError
from log.basics.visible import visible

Progress = Callable[[int, int], None]
"""Called with the bytes that are here and the bytes there will be; the second is 0 while nobody knows."""

MAX_BYTES = 4 * 1024**3
"""Larger than any published model, small enough to spare the disk of a ward computer."""
MAX_RATIO = 100
"""Unpacked over packed. Models hold packed numbers and shrink by half; only a bomb shrinks a hundredfold."""
RATIO_FROM_BYTES = 16 * 1024**2
"""Below this a ratio says nothing: a few short text files may shrink as far as they like."""
MAX_MEMBERS = 10_000
LONGEST_NAME = 200
"""Bytes, folders included: less than any disk allows."""

_CHUNK_BYTES = 64 * 1024
_TIMEOUT_S = 30.0
_BROKEN_ARCHIVE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, RuntimeError, ValueError, OverflowError)
_DISTRUST = "do not use this archive; get the model from its publisher"


@dataclass(frozen=True, slots=True)
class Offer:
    """One file that may be fetched, and how to tell that it is the right one."""

    address: str
    sha256: str
    """64 lower-case hexadecimal digits."""
    size: int | None = None
    """Bytes; None for an address that is not in the manifest."""


@dataclass(frozen=True, slots=True)
class Member:
    """One entry of an archive that has been found harmless."""

    info: zipfile.ZipInfo
    place: PurePosixPath
    """Relative to the folder the archive is unpacked into."""
    is_folder: bool


def require_https(address: str) -> None:
    """Raise InputError for anything but an https address with a host."""
    try:
        parts = urlsplit(address)
        good = parts.scheme == "https" and bool(parts.hostname) and not re.search(r"\s", address)
    except ValueError:
        good = False
    if not good:
        raise InputError(
            f"{address!r} is not an https address",
            "give an address that starts with https://, or fetch the file yourself and add the zip",
        )


def download(offer: Offer, part: Path, progress: Progress, context: ssl.SSLContext | None = None) -> None:
    """Make `part` the whole, verified file; what an earlier attempt left there is continued."""
    require_https(offer.address)
    with writing(part):
        have = part.stat().st_size if part.exists() else 0
        if offer.size is None or have != offer.size:
            _transfer(offer, part, have, progress, context or ssl.create_default_context())
    try:
        verify(part, offer.sha256, offer.address)
    except InputError as error:
        part.unlink()
        raise InputError(f"{error.problem}; the download was deleted", error.remedy) from error


def verify(file: Path, sha256: str, shown: str) -> None:
    """Raise InputError unless the file is the one that was meant."""
    try:
        with file.open("rb") as stream:
            found = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise InputError(f"{file} cannot be read ({reason(error)})", "check the file") from error
    if found != sha256:
        raise InputError(
            f"{shown}: SHA-256 is {found}, not {sha256}",
            "check where the file and the sum come from, then add the model again",
        )


def reason(error: BaseException) -> str:
    """What the system says, on one line."""
    return visible(" ".join(str(error).split()), 300) or type(error).__name__


@contextmanager
def writing(place: Path) -> Iterator[None]:
    """Disk trouble inside is reported as such."""
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"{place} cannot be written ({reason(error)})",
            "free some space or make the folder writable, then add the model again",
        ) from error


class _HttpsRedirects(HTTPRedirectHandler):
    """A redirection may change the host, never the protection of the line."""

    def redirect_request(
        self, req: Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> Request | None:
        if urlsplit(newurl).scheme != "https":
            fp.close()
            raise InputError(
                f"{req.full_url} redirects to {newurl!r}, which is not https",
                "fetch the file yourself and add the zip with its SHA-256",
            )
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _transfer(offer: Offer, part: Path, have: int, progress: Progress, context: ssl.SSLContext) -> None:
    """Append what is missing to `part`, or write all of it where the server cannot continue."""
    if offer.size is not None and have > offer.size:
        have = 0
    response = _ask(offer.address, have, context)
    if response is not None and response.status == 206 and not _continues(response, have):
        response.close()
        have = 0
        response = _ask(offer.address, have, context)
    if response is None:  # the server has nothing after what is here: the sum decides whether that is all of it
        return
    with response:
        _receive(offer, response, part, have if response.status == 206 else 0, progress)


def _receive(offer: Offer, response: HTTPResponse, part: Path, have: int, progress: Progress) -> None:
    """Write the answer behind the first `have` bytes of `part`."""
    total = _total(offer, response, have)
    with part.open("ab" if have else "wb") as file:
        while have <= (total or MAX_BYTES) and (chunk := _read(offer, response)):
            file.write(chunk)
            have += len(chunk)
            progress(have, total)
    if have > (total or MAX_BYTES):
        part.unlink()
        raise _wrong_size(offer, f"more than {total or MAX_BYTES} bytes came")
    if have < total:
        raise EngineError(
            f"{offer.address}: the transfer ended after {have} of {total} bytes",
            "add the model again; it goes on from there",
        )


def _ask(address: str, have: int, context: ssl.SSLContext) -> HTTPResponse | None:
    """The server's answer, asked to leave out the first `have` bytes; None when it says there are no more."""
    opener = OpenerDirector()  # not build_opener: that also opens http, ftp and file addresses
    for handler in (ProxyHandler(), HTTPSHandler(context=context), _HttpsRedirects()):
        opener.add_handler(handler)
    opener.add_handler(HTTPDefaultErrorHandler())
    opener.add_handler(HTTPErrorProcessor())
    headers = {"Accept-Encoding": "identity", "User-Agent": "tamponade-log"}
    if have:
        headers["Range"] = f"bytes={have}-"
    try:
        return cast(HTTPResponse, opener.open(Request(address, headers=headers), timeout=_TIMEOUT_S))
    except HTTPError as error:
        error.close()
        if error.code == 416 and have:
            return None
        raise EngineError(f"{address}: the server answers {error.code} {error.reason}", "check the address") from error
    except (OSError, HTTPException, ValueError) as error:
        raise _unreachable(address, error) from error


def _read(offer: Offer, response: HTTPResponse) -> bytes:
    try:
        return response.read(_CHUNK_BYTES)
    except (OSError, HTTPException) as error:
        raise _unreachable(offer.address, error) from error


def _unreachable(address: str, error: Exception) -> EngineError:
    return EngineError(
        f"{address} cannot be fetched ({reason(error)})",
        "check the network and add the model again, or bring the zip on a stick and add that",
    )


def _continues(response: HTTPResponse, have: int) -> bool:
    return str(response.headers.get("Content-Range", "")).startswith(f"bytes {have}-")


def _total(offer: Offer, response: HTTPResponse, have: int) -> int:
    """Length of the whole file in bytes, 0 when the server does not say; a wrong one is refused at once."""
    left = str(response.headers.get("Content-Length", ""))
    total = have + int(left) if left.isdecimal() else offer.size or 0
    if offer.size not in (None, total):
        raise _wrong_size(offer, f"the server offers {total} bytes")
    if total > MAX_BYTES:
        raise _wrong_size(offer, f"the server offers {total} bytes, more than any model has")
    return total


def _wrong_size(offer: Offer, problem: str) -> InputError:
    known = f", the manifest says {offer.size}" if offer.size is not None else ""
    return InputError(f"{offer.address}: {problem}{known}", "this is not the model that was meant; check the address")


def unpack(archive: Path, into: Path) -> None:
    """Unpack a zip file into the new folder `into`; nothing in it can reach outside."""
    try:
        opened = zipfile.ZipFile(archive)
    except (*_BROKEN_ARCHIVE, OSError) as error:
        raise InputError(f"{archive} is not a readable zip file ({reason(error)})", "fetch it again") from error
    with opened:
        members = _checked(archive, opened)
        into.mkdir()
        try:
            for member in members:
                _extract(opened, member, into / member.place)
        except (*_BROKEN_ARCHIVE, FileExistsError, NotADirectoryError) as error:
            raise InputError(f"{archive} is damaged ({reason(error)})", "fetch it again") from error


def _extract(opened: zipfile.ZipFile, member: Member, place: Path) -> None:
    if member.is_folder:
        place.mkdir(parents=True, exist_ok=True)
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    with opened.open(member.info) as source, place.open("xb") as target:
        shutil.copyfileobj(source, target)


def _checked(archive: Path, opened: zipfile.ZipFile) -> list[Member]:
    """Every member with the place it may have; all are judged before the first is written."""
    infos = opened.infolist()
    unpacked = sum(info.file_size for info in infos)
    if len(infos) > MAX_MEMBERS or unpacked > MAX_BYTES:
        raise InputError(f"{archive}: {len(infos)} files, {unpacked} bytes unpacked: too large", _DISTRUST)
    # Against the file on disk, not the sizes it states: members may share their packed bytes.
    if unpacked > RATIO_FROM_BYTES and unpacked > MAX_RATIO * archive.stat().st_size:
        raise InputError(f"{archive}: unpacks to more than {MAX_RATIO} times its size", _DISTRUST)
    members = [_member(archive, info) for info in infos]
    if any(info.header_offset < 0 for info in infos):
        raise InputError(f"{archive} is damaged (its list of files is wrong)", "fetch it again")
    if len({str(member.place).casefold() for member in members}) < len(members):
        raise InputError(f"{archive}: holds two files of one name", _DISTRUST)
    return members


def _member(archive: Path, info: zipfile.ZipInfo) -> Member:
    """What one entry of the archive's list means, if it is harmless."""
    name = info.orig_filename  # .filename ends at a NUL, which would hide the rest of the name from these checks
    place = PurePosixPath(name.replace("\\", "/"))
    kind = stat.S_IFMT(info.external_attr >> 16)
    shown = visible(name, 100)
    if not name or place.is_absolute() or ".." in place.parts or re.search(r"[:\0]", name):
        raise InputError(f"{archive}: {shown!r} would be written outside the model's folder", _DISTRUST)
    if len(name.encode()) > LONGEST_NAME:
        raise InputError(f"{archive}: {shown!r} is longer than any model's file is called", _DISTRUST)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise InputError(f"{archive}: {shown!r} is a link or a device, not a file", _DISTRUST)
    if info.flag_bits & 0x1:
        raise InputError(f"{archive}: {shown!r} is encrypted", "unpack it yourself and add the folder")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise InputError(f"{archive}: {shown!r} is packed in an unusual way", "unpack it yourself and add the folder")
    return Member(info, place, name.endswith(("/", "\\")))
