"""Programs of test_durability, run where a small disk is mounted on the folder they are given."""

from __future__ import annotations

import ctypes
import os
import platform
import signal
import struct
import subprocess
import sys
from pathlib import Path

from log.basics.errors import StoreError
from log.facts.events import EntryLogged, Fact
from log.facts.record import fold
from log.store import case as store
from log.store.folder import case_names
from log.store.verify import verify
from log.store.writing import Case
from tests.case_file import at, logged, opened

REFUSED = {"x86_64": (18, 77), "aarch64": (68, 46)}
"""Numbers of pwrite64 and ftruncate."""


def _case(folder: Path) -> Case:
    return store.resume(folder, "case") if case_names(folder) else store.create(folder, opened())


def _append(case: Case) -> int:
    """One more entry; its number."""
    facts: list[Fact] = list(case.facts())
    number = 1 + sum(isinstance(fact, EntryLogged) for fact in facts)
    entry = logged(number, 30).model_copy(update={"logged_at": at(1e6 + number)})
    case.append([entry], fold([*facts, entry]).summary)
    return number


def _until_it_fails(case: Case) -> int:
    """Writes until the disk takes no more. The number of the last entry that was acknowledged."""
    last = 0
    try:
        while True:
            last = _append(case)
    except StoreError as error:
        print(error)
    return last


def _standing(folder: Path, entries: int) -> None:
    """Everything acknowledged is there, and the case verifies, whoever looks."""
    assert len(store.read(folder, "case").facts) == entries + 1
    assert verify(folder / "case.case").problems == ()


def full(folder: Path) -> None:
    """A disk that fills while a case is written, and has room again."""
    filler = folder / "filler"
    filler.write_bytes(bytes(500_000))
    with _case(folder) as case:
        last = _until_it_fails(case)
        assert last > 3
        assert _until_it_fails(case) == 0, "full is full"
        _standing(folder, last)
        say = [sys.executable, "-c", "from tui.cli import main; main()", "say", "--cases", str(folder), "--case", "new"]
        done = subprocess.run([*say, "mark the time"], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout, done.stderr.count("\n")) == (6, "", 1), done
        assert case_names(folder) == ("case",)
        filler.unlink()
        assert _append(case) == last + 1
    _standing(folder, last + 1)
    filler.write_bytes(bytes(max(0, os.statvfs(folder).f_bavail * 4096 - 4096)))
    try:
        _case(folder)
    except StoreError as error:
        print(error)
    _standing(folder, last + 1)
    filler.unlink()
    with _case(folder) as case:
        assert _append(case) == last + 2
    _standing(folder, last + 2)


def turned_read_only(folder: Path) -> None:
    """The system refuses every write to open files from some moment on, as after an error of the disk. For good: the
    program ends here."""
    case = _case(folder)
    last = _append(case)
    _refuse_writes()
    assert _until_it_fails(case) == 0
    print(last, flush=True)
    os._exit(0)


def read_only(folder: Path) -> None:
    """A disk that is mounted anew without the right to write, while the case of a program that died lies on it."""
    _case(folder).close()
    died = [sys.executable, "-m", "tests.log.store.in_a_small_disk", "die", str(folder)]
    last = int(subprocess.run(died, stdout=subprocess.PIPE, check=False).stdout)
    assert (folder / "case.case-wal").exists()
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
    _standing(folder, last)
    try:
        store.resume(folder, "case")
    except StoreError as error:
        print(error)
    subprocess.run(["mount", "-o", "remount,rw", str(folder)], check=True)
    with _case(folder) as case:
        assert _append(case) == last + 1
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
    _standing(folder, last + 1)
    subprocess.run(["mount", "-o", "remount,rw", str(folder)], check=True)


def die(folder: Path) -> None:
    """Writes once and is killed."""
    print(_append(_case(folder)), flush=True)
    os.kill(os.getpid(), signal.SIGKILL)


def _refuse_writes() -> None:
    """A filter of system calls: pwrite and ftruncate say that the file system is read-only."""
    numbers = REFUSED[platform.machine()]
    load, allow = (0x20, 0, 0, 0), (0x06, 0, 0, 0x7FFF0000)
    refuse = (0x06, 0, 0, 0x00050000 | 30)  # EROFS
    jumps = [(0x15, len(numbers) - at_, 0, number) for at_, number in enumerate(numbers)]
    program = b"".join(struct.pack("HBBI", *step) for step in (load, *jumps, allow, refuse))
    held = ctypes.create_string_buffer(program)
    header = struct.pack("HxxxxxxP", len(program) // 8, ctypes.addressof(held))
    system = ctypes.CDLL(None, use_errno=True)
    assert system.prctl(38, 1, 0, 0, 0) == 0
    if system.prctl(22, 2, ctypes.create_string_buffer(header), 0, 0) != 0:
        print("no filter of system calls is permitted here", flush=True)
        os._exit(77)


if __name__ == "__main__":
    programs = {"full": full, "read_only": read_only, "turned_read_only": turned_read_only, "die": die}
    programs[sys.argv[1]](Path(sys.argv[2]))
