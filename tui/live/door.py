"""A door into the room: other terminals of the same user change the case that the room holds.

It is a local socket beside the case that its owner alone can use; no network is touched. One request at a time, each
with an end: a terminal that asks and falls silent keeps nobody waiting.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import socket
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from log.basics.errors import InputError, StoreError, TamponadeError
from log.store.files import private_folder
from tui.live.request import Request

LONGEST_PATH = 100
"""Bytes: what every system takes as the name of a local socket."""

LONGEST_REQUEST = 65_536
REQUEST_SECONDS = 5.0
"""For which the room waits for a request that has begun to come."""

ANSWER_SECONDS = 15.0
LOOK_SECONDS = 0.5
"""How often the door sees whether it is to be closed."""

ERRORS = {error.exit_code: error for error in (InputError, StoreError)}


class Door:
    """The room's side. Use from `open` to `close`."""

    def __init__(self, case: Path, does: Callable[[Request], str]) -> None:
        """`does`: does what is asked and says what came of it; raises TamponadeError."""
        self._path, self._does = place(case), does
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    def open(self) -> None:
        """Lets others in. Where a local socket cannot be had, nobody is; the room does without."""
        with contextlib.suppress(OSError, AttributeError):  # no AF_UNIX on some systems
            private_folder(self._path.parent)
            self._path.unlink(missing_ok=True)  # of a room that was killed: this one holds the case now
            listening = _bound(self._path)
            self._thread = threading.Thread(target=self._serve, args=(listening,), name="door", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Lets nobody in any more."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(timeout=REQUEST_SECONDS + LOOK_SECONDS)
            with contextlib.suppress(OSError):
                self._path.unlink(missing_ok=True)

    def _serve(self, listening: socket.socket) -> None:
        with listening:
            listening.settimeout(LOOK_SECONDS)
            while not self._closing.is_set():
                with contextlib.suppress(OSError):  # nobody came, or whoever came has gone
                    came, _ = listening.accept()
                    with came:
                        came.settimeout(REQUEST_SECONDS)
                        came.sendall(json.dumps(self._answer(_line(came))).encode() + b"\n")

    def _answer(self, asked: bytes) -> dict[str, object]:
        try:
            return {"text": self._does(Request.model_validate_json(asked))}
        except TamponadeError as error:
            return {"code": error.exit_code, "problem": error.problem, "remedy": error.remedy}
        except ValueError:  # no request, or a fact refuses what is in it
            return {"code": InputError.exit_code, "problem": "this cannot be written down", "remedy": "check its parts"}


def asked_of_the_room(case: Path, request: Request) -> str | None:
    """The result of a request to the room that holds a case; None where none does. Raises TamponadeError."""
    door = place(case)
    if not door.exists():
        return None
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as asking:
            asking.settimeout(ANSWER_SECONDS)
            asking.connect(str(door))
            asking.sendall(request.model_dump_json().encode() + b"\n")
            answer = json.loads(_line(asking))
    except (ConnectionRefusedError, FileNotFoundError):  # left behind by a room that was killed
        return None
    except (OSError, ValueError):
        raise StoreError("the room that holds this case does not answer", "look at the log there") from None
    if "text" in answer:
        return str(answer["text"])
    raise ERRORS.get(answer["code"], TamponadeError)(answer["problem"], answer["remedy"])


def room_answers(case: Path) -> bool:
    """Whether a room holds this case and lets others in."""
    door = place(case)
    if not door.exists():
        return False
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as asking:
        asking.settimeout(ANSWER_SECONDS)
        asking.connect(str(door))
        return True
    return False


def place(case: Path) -> Path:
    """The socket of a case: beside it, or where that name is too long in the user's runtime folder."""
    beside = case.absolute().with_name(f".{case.name}.door")
    if len(os.fsencode(beside)) <= LONGEST_PATH:
        return beside
    name = hashlib.sha256(os.fsencode(case.absolute())).hexdigest()[:16]
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    user = os.getuid() if hasattr(os, "getuid") else 0
    folder = Path(runtime) if runtime else Path(tempfile.gettempdir()) / f"tamponade-{user}"
    return folder / f"tamponade-{name}.door"


def _bound(path: Path) -> socket.socket:
    """A socket that is its owner's alone from the first moment."""
    if path.parent.stat().st_uid not in (os.getuid(), 0):
        raise OSError("the folder is somebody else's")
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    with _only_ours():
        listening.bind(str(path))
    listening.listen()
    return listening


@contextlib.contextmanager
def _only_ours() -> Iterator[None]:
    before = os.umask(0o177)
    try:
        yield
    finally:
        os.umask(before)


def _line(from_whom: socket.socket) -> bytes:
    """Up to the end of the line. Raises OSError for one that does not end."""
    read = b""
    while not read.endswith(b"\n"):
        part = from_whom.recv(LONGEST_REQUEST)
        if not part or len(read) > LONGEST_REQUEST:
            raise OSError("no whole line")
        read += part
    return read
