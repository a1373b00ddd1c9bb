"""A copy of a case in another folder, whole whoever writes the case meanwhile, and checked before it gets its name."""

from __future__ import annotations

import os
from contextlib import closing
from pathlib import Path

from log.basics.errors import InputError, NotVerified
from log.store import encryption
from log.store.files import private_folder, rename_durably
from log.store.sqlite import read_links, reading, reported
from log.store.verify import Report, verify


def back_up(path: Path, folder: Path) -> tuple[Path, Report]:
    """Copies a case with its sounds, encrypted if it is, under its own name into a folder; an older copy of the same
    case is replaced. Returns the copy and what the check of it found.

    Raises NotVerified for a case that is not as it was written, InputError for a folder in which a case lies that this
    one does not go on from, StoreError if the copy cannot be written. Then what was there before is there still.
    """
    copy = folder / path.name
    private_folder(folder)
    if copy.exists() and copy.samefile(path):
        raise InputError(f"{copy}: is the case itself", "back it up into another folder, best on another disk")
    draft = folder / f".{path.name}.backup"
    try:
        _copied(path, draft)
        report = verify(draft)
        if report.problems:
            raise NotVerified(f"{path}: {report.problems[0]}: no copy was made", "see: tamponade verify CASE")
        if copy.exists():
            _refuse_another(draft, copy)
        rename_durably(draft, copy)
    finally:
        draft.unlink(missing_ok=True)
    return copy, report


def _copied(path: Path, draft: Path) -> None:
    secret = encryption.passphrase(path) if encryption.is_encrypted(path) else None
    with reading(path) as source, reported(draft):
        draft.unlink(missing_ok=True)
        draft.touch(mode=0o600)
        with closing(encryption.connected(draft, "mode=rw", secret)) as target:
            source.backup(target)
    with draft.open("rb") as written:
        os.fsync(written.fileno())


def _refuse_another(draft: Path, copy: Path) -> None:
    new, old = map(_lines, (draft, copy))
    if new[: len(old)] != old:
        raise InputError(
            f"{copy}: is another case, or goes on otherwise than this one", "move it away, or choose another folder"
        )


def _lines(path: Path) -> list[str]:
    with reading(path) as connection:
        return [link.text for link in read_links(path, connection)]
