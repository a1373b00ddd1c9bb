"""Fetching over real https from a server in this process, and archives made to do harm."""

from __future__ import annotations

import contextlib
import hashlib
import io
import shutil
import ssl
import struct
import subprocess
import threading
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from log.basics.errors import EngineError, InputError, TamponadeError
from voice.engines import fetch
from voice.engines.fetch import unpack
from voice.engines.models import InstalledModel, ListedModel, Manifest, add, installed

FILES = {"am/final.mdl": bytes(range(256)) * 400, "conf/model.conf": b"--beam=13\n", "graph/HCLr.fst": b"fst"}


def zipped(files: dict[str, bytes]) -> bytes:
    """A zip file whose members are not compressed, so that it takes more than one read to fetch."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, content in files.items():
            archive.writestr(f"small/{name}", content)
    return buffer.getvalue()


GOOD = zipped(FILES)
DIGEST = hashlib.sha256(GOOD).hexdigest()


@dataclass
class Site:
    """What the server has, how it misbehaves, and what it was asked."""

    content: bytes = GOOD
    cut_after: int | None = None
    """Bytes after which the next answer breaks off, once."""
    ranges: bool = True
    """Whether a Range is honoured."""
    skewed: bool = False
    """Whether an honoured Range starts at the wrong byte."""
    states_length: bool = True
    status: int = 200
    location: str = ""
    asked: list[str | None] = field(default_factory=list)
    """The Range of each request."""
    base: str = ""


class Handler(BaseHTTPRequestHandler):
    """Serves the site's one file under every path but one, which redirects."""

    site: Site

    def do_GET(self) -> None:
        self.site.asked.append(self.headers["Range"])
        if self.path == "/moved.zip":
            self._head(302, Location=self.site.location)
        elif self.site.status != 200:
            self._head(self.site.status)
        else:
            self._file()

    def _file(self) -> None:
        first = int((self.headers["Range"] or "bytes=0-")[6:-1]) if self.site.ranges else 0
        whole = self.site.content
        if first and first >= len(whole):
            self._head(416)
            return
        start = max(first - 7, 0) if self.site.skewed else first
        body, extra = whole[start:], {}
        if self.site.states_length:
            extra["Content-Length"] = str(len(body))
        if first:
            extra["Content-Range"] = f"bytes {start}-{len(whole) - 1}/{len(whole)}"
        self._head(206 if first else 200, **extra)
        cut, self.site.cut_after = self.site.cut_after, None
        with contextlib.suppress(OSError):  # a client that has seen enough hangs up
            self.wfile.write(body if cut is None else body[:cut])

    def _head(self, status: int, **headers: str) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Quiet."""


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Certificate and key for 127.0.0.1 in one file."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not on this machine: no certificate for a server of our own")
    place = tmp_path_factory.mktemp("tls")
    make = "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=localhost"
    command = [openssl, *make.split(), "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", "key", "-out", "cert"]
    subprocess.run(command, cwd=place, check=True, capture_output=True)
    (place / "both.pem").write_bytes((place / "key").read_bytes() + (place / "cert").read_bytes())
    return place / "both.pem"


@pytest.fixture
def site(certificate: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Site]:
    """A running server; `site` steers it."""
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    site = Site()
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Bound", (Handler,), {"site": site}))
    server.daemon_threads = False
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(certificate)
    server.socket = tls.wrap_socket(server.socket, server_side=True)
    site.base = f"https://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield site
    server.shutdown()
    thread.join()
    server.server_close()


@dataclass(frozen=True)
class Adding:
    """`add` with this test's server, certificate and folder."""

    site: Site
    directory: Path
    context: ssl.SSLContext

    def __call__(
        self, source: str = "small", *, sha256: str | None = None, size: int = len(GOOD), digest: str = DIGEST
    ) -> InstalledModel:
        entry = ListedModel(
            name="small", title="Small", address=f"{self.site.base}/a.zip", size=size, sha256=digest, licence="CC0-1.0"
        )
        listed = Manifest(format=1, models=(entry,))
        return add(source, sha256=sha256, directory=self.directory, listed=listed, context=self.context)

    @property
    def part(self) -> Path:
        return self.directory / "small.zip.part"

    def left(self) -> list[str]:
        return sorted(entry.name for entry in self.directory.iterdir()) if self.directory.exists() else []


@pytest.fixture
def adding(site: Site, certificate: Path, tmp_path: Path) -> Adding:
    return Adding(site, tmp_path / "models", ssl.create_default_context(cafile=certificate))


# Fetching


def test_a_listed_name_is_fetched_checked_and_installed(adding: Adding) -> None:
    model = adding()
    assert model == InstalledModel("small", adding.directory / "small", runtime_grammar=True)
    assert (model.path / "am" / "final.mdl").read_bytes() == FILES["am/final.mdl"]
    assert adding.left() == ["small"]
    assert adding.site.asked == [None]


def test_a_listed_address_is_the_same_as_its_name(adding: Adding) -> None:
    assert adding(f"{adding.site.base}/a.zip").name == "small"


def test_an_unlisted_address_is_fetched_with_its_sum_and_named_after_its_file(adding: Adding) -> None:
    assert adding(f"{adding.site.base}/x/English%20small.ZIP?v=1", sha256=DIGEST).name == "English-small"


def test_an_answer_without_a_length_is_taken_when_its_sum_is_right(adding: Adding) -> None:
    adding.site.states_length = False
    assert adding(f"{adding.site.base}/other.zip", sha256=DIGEST).name == "other"


def test_progress_counts_up_to_the_whole(site: Site, adding: Adding) -> None:
    seen: list[tuple[int, int]] = []
    add(
        f"{site.base}/m.zip",
        sha256=DIGEST,
        directory=adding.directory,
        progress=lambda done, total: seen.append((done, total)),
        context=adding.context,
    )
    assert seen == sorted(seen) and len(seen) > 1
    assert seen[-1] == (len(GOOD), len(GOOD))


# Going on after a break


@pytest.mark.parametrize("source", ["small", "unlisted"])
def test_a_broken_transfer_is_continued_where_it_stopped(adding: Adding, source: str) -> None:
    adding.site.cut_after = 70_000
    where = "small" if source == "small" else f"{adding.site.base}/small.zip"
    with pytest.raises(EngineError, match=rf"ended after 70000 of {len(GOOD)} bytes - add the model again"):
        adding(where, sha256=DIGEST)
    assert adding.left() == ["small.zip.part"]
    assert installed(adding.directory) == ()
    assert adding(where, sha256=DIGEST).name == "small"
    assert adding.site.asked == [None, "bytes=70000-"]
    assert adding.left() == ["small"]


@pytest.mark.parametrize("fault", ["ranges", "skewed"])
def test_a_server_that_cannot_continue_properly_makes_it_start_anew(adding: Adding, fault: str) -> None:
    adding.site.cut_after = 70_000
    with pytest.raises(EngineError):
        adding()
    setattr(adding.site, fault, fault == "skewed")
    assert adding().name == "small"


def test_a_complete_download_is_not_fetched_again(adding: Adding) -> None:
    adding.directory.mkdir()
    adding.part.write_bytes(GOOD)
    assert adding().name == "small"
    assert adding.site.asked == []


def test_a_complete_download_of_unknown_length_is_recognised_by_its_sum(adding: Adding) -> None:
    adding.directory.mkdir()
    adding.part.write_bytes(GOOD)
    assert adding(f"{adding.site.base}/small.zip", sha256=DIGEST).name == "small"
    assert adding.site.asked == [f"bytes={len(GOOD)}-"]


def test_a_leftover_that_is_too_long_is_thrown_away(adding: Adding) -> None:
    adding.directory.mkdir()
    adding.part.write_bytes(GOOD + b"more")
    assert adding().name == "small"
    assert adding.site.asked == [None]


def test_a_leftover_of_another_file_fails_the_sum_is_deleted_and_the_next_attempt_works(adding: Adding) -> None:
    adding.directory.mkdir()
    adding.part.write_bytes(b"x" * 500)
    with pytest.raises(InputError, match=r"SHA-256 is .* the download was deleted"):
        adding()
    assert adding.left() == []
    assert adding().name == "small"


# Not the file that was meant


def test_a_wrong_sum_is_refused_and_the_download_deleted(adding: Adding) -> None:
    with pytest.raises(InputError, match=rf"SHA-256 is {DIGEST}, not a{{64}}; the download was deleted - "):
        adding(digest="a" * 64)
    assert adding.left() == []


@pytest.mark.parametrize("difference", [-1, 1])
def test_a_wrong_size_is_refused_before_anything_is_written(adding: Adding, difference: int) -> None:
    with pytest.raises(InputError, match=f"offers {len(GOOD)} bytes, the manifest says {len(GOOD) + difference}"):
        adding(size=len(GOOD) + difference)
    assert adding.left() == []


def test_an_answer_that_does_not_end_is_cut_off(adding: Adding) -> None:
    adding.site.states_length = False
    with pytest.raises(InputError, match="more than 1000 bytes came"):
        adding(size=1000)
    assert adding.left() == []


def test_an_offer_larger_than_any_model_is_refused(adding: Adding, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fetch, "MAX_BYTES", 1000)
    with pytest.raises(InputError, match="more than any model has"):
        adding(f"{adding.site.base}/m.zip", sha256=DIGEST)


def test_the_right_file_that_is_no_model_is_not_kept(adding: Adding) -> None:
    adding.site.content = zipped({"readme.txt": b"hello"})
    with pytest.raises(InputError, match="holds no models"):
        adding(f"{adding.site.base}/m.zip", sha256=hashlib.sha256(adding.site.content).hexdigest())
    assert adding.left() == []


# Addresses


@pytest.mark.parametrize("address", ["http://127.0.0.1/m.zip", "ftp://h/m.zip", "file:///m.zip", "https:///m.zip"])
def test_anything_but_https_is_refused(adding: Adding, address: str) -> None:
    with pytest.raises(InputError, match="not an https address - give an address that starts with https://"):
        adding(address, sha256=DIGEST)
    assert adding.left() == []


def test_an_unlisted_address_without_a_sum_is_refused_unasked(adding: Adding) -> None:
    with pytest.raises(InputError, match="not a listed address - give the file's --sha256"):
        adding(f"{adding.site.base}/m.zip")
    assert adding.site.asked == []


def test_a_sum_that_contradicts_the_manifest_is_refused_unasked(adding: Adding) -> None:
    with pytest.raises(InputError, match="the manifest lists another SHA-256"):
        adding(sha256="a" * 64)
    assert adding.site.asked == []


def test_a_taken_name_is_refused_unasked(adding: Adding) -> None:
    (adding.directory / "small").mkdir(parents=True)
    with pytest.raises(InputError, match="already there"):
        adding()
    assert adding.site.asked == []


def test_a_redirection_within_https_is_followed(adding: Adding) -> None:
    adding.site.location = f"{adding.site.base}/a.zip"
    assert adding(f"{adding.site.base}/moved.zip", sha256=DIGEST).name == "moved"


def test_a_redirection_to_http_is_refused(adding: Adding) -> None:
    adding.site.location = "http://127.0.0.1:9/a.zip"
    with pytest.raises(InputError, match=r"redirects to 'http://127\.0\.0\.1:9/a\.zip', which is not https"):
        adding(f"{adding.site.base}/moved.zip", sha256=DIGEST)
    assert adding.left() == []


def test_a_redirection_to_a_local_file_is_refused(adding: Adding) -> None:
    adding.site.location = "file:///etc/hostname"
    with pytest.raises(TamponadeError, match="302"):
        adding(f"{adding.site.base}/moved.zip", sha256=DIGEST)


def test_a_missing_file_is_reported_in_one_line(adding: Adding) -> None:
    adding.site.status = 404
    with pytest.raises(EngineError, match="answers 404 Not Found - check the address"):
        adding()


def test_an_unknown_certificate_is_refused(adding: Adding) -> None:
    with pytest.raises(EngineError, match=r"cannot be fetched \(.*CERTIFICATE_VERIFY_FAILED.* on a stick"):
        Adding(adding.site, adding.directory, ssl.create_default_context())()


def test_a_machine_without_a_network_hears_what_to_do(adding: Adding) -> None:
    adding.site.base = "https://127.0.0.1:9"
    with pytest.raises(EngineError, match=r"cannot be fetched \(.*refused.*bring the zip on a stick"):
        adding()


# Archives made to do harm


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
    monkeypatch.setattr(fetch, "MAX_BYTES", 1000)
    refused(hostile(tmp_path, "small/more"), "too large")


def test_an_archive_of_countless_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fetch, "MAX_MEMBERS", 3)
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


@pytest.mark.parametrize("seed", range(40))
def test_a_flipped_byte_anywhere_is_an_input_error_or_harmless(tmp_path: Path, seed: int) -> None:
    """Nothing but the program's own exceptions may come out of a damaged archive."""
    small = bytearray(zipped({name: content[:20] for name, content in FILES.items()}))
    small[seed * 7919 % len(small)] ^= 0xFF
    (tmp_path / "m.zip").write_bytes(small)
    with contextlib.suppress(InputError):
        add(str(tmp_path / "m.zip"), directory=tmp_path / "models")
    assert [entry.name for entry in (tmp_path / "models").iterdir()] in ([], ["m"])
