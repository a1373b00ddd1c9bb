"""Zip files made to do harm, and damaged ones: refused, and nothing is written."""

from __future__ import annotations

import contextlib
import io
import struct
import zipfile
from pathlib import Path

import pytest

from log.basics.errors import InputError
from voice.engines import unpack as unpacking
from voice.engines.models import add
from voice.engines.unpack import unpack

FILES = {"am/final.mdl": bytes(range(256)) * 400, "conf/model.conf": b"--beam=13\n", "graph/HCLr.fst": b"fst"}


def zipped(files: dict[str, bytes]) -> bytes:
    """A zip file whose members are not compressed, so that a changed byte is in one of them."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, content in files.items():
            archive.writestr(f"small/{name}", content)
    return buffer.getvalue()


GOOD = zipped(FILES)


def hostile(place: Path, member: zipfile.ZipInfo | str, content: bytes = b"x") -> Path:
    """A good model with one more member."""
    with zipfile.ZipFile(place / "m.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for name, good in FILES.items():
            archive.writestr(f"small/{name}", good)
        archive.writestr(member, content)
    return place / "m.zip"


def refused(archive: Path, said: str) -> None:
    """The archive is refused with these words, and nothing is written anywhere."""
    before = sorted(archive.parent.rglob("*"))
    with pytest.raises(InputError, match=said) as caught:
        unpack(archive, archive.parent / "out" / "m")
    assert sorted(archive.parent.rglob("*")) == before
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError):
        add(str(archive), directory=archive.parent / "models")
    assert list((archive.parent / "models").iterdir()) == []


@pytest.mark.parametrize(
    "name", ["/tmp/evil", "../evil", "small/../../evil", "small\\..\\..\\evil", "C:\\evil", "c:evil", "\\\\host\\evil"]
)
def test_a_member_that_would_leave_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    refused(hostile(tmp_path, name), "outside the model's folder")


def test_a_name_that_hides_behind_a_nul_is_refused(tmp_path: Path) -> None:
    archive = hostile(tmp_path, "small/goodX../evil")
    archive.write_bytes(archive.read_bytes().replace(b"goodX", b"good\0"))
    refused(archive, "outside the model's folder|not a readable zip")


@pytest.mark.parametrize("kind", [0o120777, 0o020666, 0o010666])
def test_a_link_or_device_is_refused(tmp_path: Path, kind: int) -> None:
    member = zipfile.ZipInfo("small/link")
    member.external_attr = kind << 16
    refused(hostile(tmp_path, member, b"/etc/passwd"), "is a link or a device")


def test_an_encrypted_member_is_refused(tmp_path: Path) -> None:
    archive = hostile(tmp_path, "small/secret")
    data = bytearray(archive.read_bytes())
    flags = data.rindex(b"PK\x01\x02") + 8
    struct.pack_into("<H", data, flags, data[flags] | 1)
    archive.write_bytes(data)
    refused(archive, "encrypted - unpack it yourself and add the folder")


def test_an_unusual_compression_is_refused(tmp_path: Path) -> None:
    member = zipfile.ZipInfo("small/odd")
    member.compress_type = zipfile.ZIP_LZMA
    with zipfile.ZipFile(tmp_path / "m.zip", "w") as archive:
        archive.writestr(member, b"x")
    refused(tmp_path / "m.zip", "unusual way")


def test_a_file_that_unpacks_a_hundredfold_is_refused(tmp_path: Path) -> None:
    refused(hostile(tmp_path, "small/zeros", bytes(64 * 1024**2)), "more than 100 times its size")


def test_an_archive_larger_than_any_model_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unpacking, "MAX_BYTES", 1000)
    refused(hostile(tmp_path, "small/more"), "too large")


def test_an_archive_of_countless_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unpacking, "MAX_MEMBERS", 3)
    refused(hostile(tmp_path, "small/more"), "4 files")


def test_two_members_of_one_name_are_refused_whatever_their_case(tmp_path: Path) -> None:
    refused(hostile(tmp_path, "SMALL/am/FINAL.mdl"), "two files of one name")


def test_a_file_where_a_folder_must_be_is_damage(tmp_path: Path) -> None:
    archive = hostile(tmp_path, "small/am/final.mdl/inner")
    with pytest.raises(InputError, match="is damaged"):
        add(str(archive), directory=tmp_path / "models")
    assert list((tmp_path / "models").iterdir()) == []


@pytest.mark.parametrize("content", [b"", b"not a zip file", GOOD[:50_000], GOOD[:-10]])
def test_what_is_no_whole_zip_file_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "m.zip").write_bytes(content)
    refused(tmp_path / "m.zip", "not a readable zip file")


def test_damage_inside_an_archive_is_refused_and_cleaned_up(tmp_path: Path) -> None:
    damaged = bytearray(GOOD)
    damaged[5_000] ^= 0xFF
    (tmp_path / "m.zip").write_bytes(damaged)
    with pytest.raises(InputError, match=r"is damaged \(Bad CRC-32"):
        add(str(tmp_path / "m.zip"), directory=tmp_path / "models")
    assert list((tmp_path / "models").iterdir()) == []


def test_a_flipped_byte_anywhere_is_an_input_error_or_harmless(tmp_path: Path) -> None:
    """Nothing but the program's own exceptions may come out of a damaged archive."""
    small = zipped({name: content[:20] for name, content in FILES.items()})
    for place in range(0, len(small), 7):
        spoilt, models = bytearray(small), tmp_path / f"models-{place}"
        spoilt[place] ^= 0xFF
        (tmp_path / "m.zip").write_bytes(spoilt)
        with contextlib.suppress(InputError):
            add(str(tmp_path / "m.zip"), directory=models)
        assert [entry.name for entry in models.iterdir()] in ([], ["m"]), place
