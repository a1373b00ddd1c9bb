"""A case on disk: one SQLite file that is only ever added to. What `append` has returned from is on the disk.

One program at a time may write a case; others may read it.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from types import TracebackType

import platformdirs
from filelock import FileLock, Timeout
from pydantic import ValidationError

from log.errors import InputError, StoreError
from log.events import CaseOpened, Fact, from_json, to_json

FORMAT = 1
SUFFIX = ".case"

_SCHEMA = """
CREATE TABLE facts (seq INTEGER PRIMARY KEY AUTOINCREMENT, fact TEXT NOT NULL) STRICT;
CREATE TRIGGER facts_are_never_changed BEFORE UPDATE ON facts BEGIN SELECT RAISE(ABORT, 'facts are never changed'); END;
CREATE TRIGGER facts_are_never_deleted BEFORE DELETE ON facts BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END;
CREATE TRIGGER facts_are_never_replaced BEFORE INSERT ON facts WHEN EXISTS (SELECT 1 FROM facts WHERE seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'facts are never replaced'); END;
"""

Stored = tuple[int, Fact]
"""Sequence number and fact."""


def cases_folder(chosen: Path | None = None) -> Path:
    """Where cases lie: the chosen folder, or TAMPONADE_CASES, or the user's data folder."""
    if chosen is not None:
        return chosen
    named = os.environ.get("TAMPONADE_CASES")
    return Path(named) if named else platformdirs.user_data_path("tamponade-log") / "cases"


class Case:
    """One case, open for writing. Use as a context manager."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: FileLock) -> None:
        self.path = path
        self._connection = connection
        self._lock = lock

    def append(self, facts: Iterable[Fact]) -> None:
        """Writes facts in one transaction; they are durable when this returns. Raises StoreError, and then none is."""
        rows = [(to_json(fact),) for fact in facts]
        with _told(self.path):
            try:
                with self._connection:
                    self._connection.executemany("INSERT INTO facts (fact) VALUES (?)", rows)
            except sqlite3.Error:
                self._connection.rollback()
                raise

    def facts(self) -> tuple[Fact, ...]:
        """All facts so far."""
        return tuple(fact for _, fact in _rows(self.path, self._connection))

    def close(self) -> None:
        """Folds the journal into the file, so that the case is one file, and lets others write."""
        try:
            self._connection.close()
        finally:
            self._lock.release()

    def __enter__(self) -> Case:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def create(folder: Path, opened: CaseOpened) -> Case:
    """Begins a case; raises StoreError if the folder cannot be written or the case is already there."""
    path = folder / f"{opened.case}{SUFFIX}"
    with _told(path):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if path.exists():
            raise StoreError(f"{path}: this case exists already", "give another --case, or continue it")
        case = _open_locked(path, new=True)
    try:
        case.append([opened])
    except StoreError:
        case.close()
        path.unlink(missing_ok=True)
        raise
    return case


def resume(folder: Path, name: str) -> Case:
    """Opens an existing case for writing; raises InputError if there is none, StoreError if somebody else has it."""
    path = find(folder, name)
    with _told(path):
        return _open_locked(path, new=False)


def read(folder: Path, name: str) -> tuple[Stored, ...]:
    """All facts of a case with their numbers; works on a read-only disk and while another program writes."""
    path = find(folder, name)
    with _told(path), closing(_connect_to_read(path)) as connection:
        return tuple(_rows(path, connection))


def names(folder: Path) -> tuple[str, ...]:
    """The cases in a folder, newest last."""
    return tuple(sorted(path.name.removesuffix(SUFFIX) for path in folder.glob(f"*{SUFFIX}")))


def find(folder: Path, name: str) -> Path:
    """The file of a case: by its name in the folder, by a beginning of it that fits only one, or by path."""
    direct = Path(name)
    if direct.suffix == SUFFIX and direct.is_file():
        return direct
    known = names(folder)
    fitting = [known_name for known_name in known if known_name == name] or [k for k in known if k.startswith(name)]
    if len(fitting) == 1:
        return folder / f"{fitting[0]}{SUFFIX}"
    if fitting:
        raise InputError(f'"{name}" fits {len(fitting)} cases', f"say which: {', '.join(fitting[:5])}")
    raise InputError(f'no case is called "{name}" in {folder}', "list them with: tamponade cases")


def _open_locked(path: Path, new: bool) -> Case:
    lock = FileLock(f"{path}.lock", timeout=0)
    try:
        lock.acquire()
    except Timeout:
        if not Path(lock.lock_file).exists():  # nobody holds it: it could not even be made
            raise StoreError(
                f"{path.parent}: this folder cannot be written", "choose another with --cases DIR"
            ) from None
        raise StoreError(
            f"{path}: another program is writing this case", "close it there, or read it with: tamponade show"
        ) from None
    try:
        connection = sqlite3.connect(path, isolation_level="DEFERRED", check_same_thread=False)
        try:
            _prepare(path, connection, new)
        except BaseException:
            connection.close()
            raise
    except BaseException:
        lock.release()
        raise
    return Case(path, connection, lock)


def _prepare(path: Path, connection: sqlite3.Connection, new: bool) -> None:
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA fullfsync=1")  # macOS: a plain fsync may stop at the drive's cache
    if new:
        path.chmod(0o600)
        connection.executescript(f"BEGIN; {_SCHEMA} PRAGMA user_version={FORMAT}; COMMIT;")
    _check_format(path, connection)


def _check_format(path: Path, connection: sqlite3.Connection) -> None:
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    if found != FORMAT:
        raise InputError(
            f"{path}: not a case this version can read (format {found}, wanted {FORMAT})",
            "open it with the version that made it",
        )


def _connect_to_read(path: Path) -> sqlite3.Connection:
    """A read-only connection; on a disk that cannot be written there is no journal, so the file alone is read."""
    writable = os.access(path.parent, os.W_OK) and os.access(path, os.W_OK)
    mode = "mode=ro" if writable or path.with_name(f"{path.name}-wal").exists() else "immutable=1"
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?{mode}", uri=True)
    try:
        _check_format(path, connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _rows(path: Path, connection: sqlite3.Connection) -> Iterator[Stored]:
    for number, text in connection.execute("SELECT seq, fact FROM facts ORDER BY seq"):
        try:
            yield number, from_json(text)
        except ValidationError as error:
            where = ".".join(str(step) for step in error.errors()[0]["loc"])
            raise InputError(
                f"{path}: fact {number} cannot be read ({where}: {error.errors()[0]['msg']})",
                "the file is damaged or from another version; take its backup",
            ) from None


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turns what the disk and SQLite say into one line with a remedy."""
    try:
        yield
    except sqlite3.Error as error:
        raise _translated(path, str(error)) from None
    except PermissionError:
        raise StoreError(f"{path.parent}: this folder cannot be written", "choose another with --cases DIR") from None
    except OSError as error:
        raise StoreError(
            f"{path}: {error.strerror or error}", "free the disk or choose another folder with --cases DIR"
        ) from None


def _translated(path: Path, said: str) -> StoreError | InputError:
    if "full" in said:
        return StoreError(
            f"{path}: the disk is full; what was acknowledged is safe", "free some space and go on with --case"
        )
    if "readonly" in said or "unable to open" in said:
        return StoreError(f"{path}: cannot be written (read-only)", "choose another folder with --cases DIR")
    if "locked" in said:
        return StoreError(f"{path}: another program is writing this case", "close it there and try again")
    if "not a database" in said or "malformed" in said:
        return InputError(f"{path}: not a case file, or damaged ({said})", "take its backup")
    return StoreError(f"{path}: {said}", "check the disk, or choose another folder with --cases DIR")
