"""Unpacks the zip file of a speech model safely: nothing in it is written outside the model's folder, nothing in it
is a link, and a small file does not fill the disk.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import stat
import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from log.basics.errors import InputError
from log.basics.visible import visible

MAX_BYTES = 4 * 1024**3
"""Larger than any published model, small enough to spare the disk of a ward computer."""
MAX_RATIO = 100
"""Unpacked over packed. Models hold packed numbers and shrink by half; only a bomb shrinks a hundredfold."""
RATIO_FROM_BYTES = 16 * 1024**2
"""Below this a ratio says nothing: a few short text files may shrink as far as they like."""
MAX_MEMBERS = 10_000
LONGEST_NAME = 200
"""Bytes, folders included: less than any disk allows."""

_BROKEN_ARCHIVE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, RuntimeError, ValueError, OverflowError)
_DISTRUST = "do not use this archive; get the model from its publisher"
_COPY_AGAIN = "copy the file again from where it came"


@dataclass(frozen=True, slots=True)
class Member:
    """One entry of an archive that has been found harmless."""

    info: zipfile.ZipInfo
    place: PurePosixPath
    """Relative to the folder the archive is unpacked into."""
    is_folder: bool


def verify(file: Path, sha256: str) -> None:
    """Raises InputError unless the file has this SHA-256 (64 lower-case hexadecimal digits)."""
    try:
        with file.open("rb") as stream:
            found = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise InputError(f"{file} cannot be read ({reason(error)})", "check the file") from error
    if found != sha256:
        raise InputError(f"{file}: SHA-256 is {found}, not {sha256}", "check where the file and the sum come from")


def reason(error: BaseException) -> str:
    """The system's message, on one line."""
    return visible(" ".join(str(error).split()), 300) or type(error).__name__


def unpack(archive: Path, into: Path) -> None:
    """Unpacks a zip file into the new folder `into`. Raises InputError if anything in it is unsafe or damaged."""
    try:
        opened = zipfile.ZipFile(archive)
    except (*_BROKEN_ARCHIVE, OSError) as error:
        raise InputError(f"{archive} is not a readable zip file ({reason(error)})", _COPY_AGAIN) from error
    with opened:
        members = _checked(archive, opened)
        into.mkdir()
        try:
            for member in members:
                _extract(opened, member, into / member.place)
        except (*_BROKEN_ARCHIVE, FileExistsError, NotADirectoryError) as error:
            raise InputError(f"{archive} is damaged ({reason(error)})", _COPY_AGAIN) from error


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
        raise InputError(f"{archive} is damaged (its list of files is wrong)", _COPY_AGAIN)
    if len({str(member.place).casefold() for member in members}) < len(members):
        raise InputError(f"{archive}: holds two files of one name", _DISTRUST)
    return members


def _member(archive: Path, info: zipfile.ZipInfo) -> Member:
    """One entry of the archive's list, if it is harmless."""
    name = info.orig_filename  # .filename ends at a NUL, which would hide the rest of the name from these checks
    place = PurePosixPath(name.replace("\\", "/"))
    kind = stat.S_IFMT(info.external_attr >> 16)
    shown = visible(name, 100)
    if not name or place.is_absolute() or ".." in place.parts or re.search(r"[:\0]", name):
        raise InputError(f"{archive}: {shown!r} would be written outside the model's folder", _DISTRUST)
    if len(name.encode()) > LONGEST_NAME:
        raise InputError(f"{archive}: {shown!r} has too long a name", _DISTRUST)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise InputError(f"{archive}: {shown!r} is a link or a device, not a file", _DISTRUST)
    if info.flag_bits & 0x1:
        raise InputError(f"{archive}: {shown!r} is encrypted", "unpack it yourself and add the folder")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise InputError(f"{archive}: {shown!r} is packed in an unusual way", "unpack it yourself and add the folder")
    return Member(info, place, name.endswith(("/", "\\")))
