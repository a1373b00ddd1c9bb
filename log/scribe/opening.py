"""A case is begun or resumed before anybody speaks: by which definition, and how it is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from log.basics.errors import InputError, TamponadeError
from log.definition.load import InForce
from log.definition.procedure import Procedure
from log.facts.events import CaseOpened
from log.facts.origin import KeepSound
from log.facts.record import fold
from log.rules.course import course_of
from log.rules.definitions import of_case
from log.scribe.resumption import SOFTWARE
from log.scribe.session import Session, wall_clock
from log.store import case as store
from log.store.chain import Link
from log.store.encryption import is_encrypted
from log.store.folder import SUFFIX, case_names, check_name, find_case
from log.store.lock import locked
from log.store.trust import foreign, refuse_foreign
from log.store.verify import doubts
from log.store.writing import Case

LAST_DAY = timedelta(hours=24)
LOOKED_AT = 5
"""Cases of the last day that are looked at for a tube, the newest: reading one takes a moment."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """How a case is to be kept."""

    author: str = "operator"
    """Who is taken to speak or type: a role, or a name where the site wants names."""
    label: str = ""
    sound: KeepSound = "utterances"
    encrypt: bool = False
    simulation: str = ""
    """The scenario, where it is a rehearsal."""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A case with a tube in."""

    name: str
    began: datetime
    label: str = ""

    @property
    def in_words(self) -> str:
        """ "tube in, case of 09:13"."""
        return f"tube in, case of {self.began:%H:%M}"


def unfinished(folder: Path, now: datetime) -> Unfinished | None:
    """The newest case of the last day in which a tube is in; None if there is none that can be gone on with here."""
    newest = sorted(_of_the_last_day(folder, now), reverse=True)
    found = (_with_a_tube_in(folder, name, now) for _, name in newest[:LOOKED_AT])
    return next((one for one in found if one is not None), None)


def _of_the_last_day(folder: Path, now: datetime) -> Iterator[tuple[float, str]]:
    """When each case was written last, and its name. The journal is newer than the file while somebody writes."""
    for name in case_names(folder):
        path = folder / f"{name}{SUFFIX}"
        with suppress(OSError):
            written = max(one.stat().st_mtime for one in (path, path.with_name(f"{path.name}-wal")) if one.exists())
            if written > (now - LAST_DAY).timestamp():
                yield written, name


def _with_a_tube_in(folder: Path, name: str, now: datetime) -> Unfinished | None:
    """None as well for one that cannot be read, is held or encrypted, is a rehearsal or comes from another machine."""
    path = folder / f"{name}{SUFFIX}"
    try:
        if is_encrypted(path):
            return None
        check_free(folder, name)
        kept = store.read(folder, name)
        opened = kept.facts[0]
        if not isinstance(opened, CaseOpened) or opened.simulation or foreign(kept.links):
            return None
        state = course_of(of_case(kept.facts), fold(kept.facts)).end.situation
    except (TamponadeError, OSError, IndexError):
        return None
    recent = now - kept.facts[-1].logged_at <= LAST_DAY
    return Unfinished(name, opened.logged_at, opened.label) if state.tube_in and recent else None


def forget_unused(session: Session) -> bool:
    """Deletes a closed case in which nobody said or did anything, and nothing went wrong; whether it did."""
    record = session.record
    used = (
        record.lines, record.missed, record.speech, record.notes, record.dictated, record.gaps, record.played,
        record.resumed, record.saved_late, record.removals, record.identified,
    )  # fmt: skip
    if any(used) or session.waiting is not None:
        return False
    store.discard(session.case.path)
    return True


def check_free(folder: Path, name: str | None) -> None:
    """Raises StoreError if another program is writing the case of this name."""
    if name is not None and _exists(folder, name):
        with locked(find_case(folder, name)):
            return


def procedure_of(folder: Path, name: str | None, in_force: InForce) -> Procedure:
    """The definition by which a case will be kept: an existing one keeps its own."""
    if name is not None and _exists(folder, name):
        return of_case(store.read(folder, name).facts)
    return in_force.procedure


def open_case(
    folder: Path, name: str | None, in_force: InForce, source: str, keeping: Keeping, now: datetime | None = None
) -> Session:
    """A new case, or the existing one of this name, ready to be written.

    An existing case keeps the definition and the ways of keeping sound that it was begun with.
    """
    began = _moment(now)
    if name is not None and _exists(folder, name):
        if keeping.simulation:
            raise InputError(f"there is a case {name} already", "a rehearsal begins a case of its own: another --case")
        return resume(folder, name, source, keeping.author, now)
    if name is not None:
        check_name(name)
    name = name or _new_name(folder, began, "rehearsal-" if keeping.simulation else "")
    opened = _opening(name, in_force, source, keeping, began)
    return Session(store.create(folder, opened, keeping.encrypt), began, keeping.author)


def try_out(in_force: InForce, source: str, keeping: Keeping) -> Session:
    """A case to try words on, which leaves nothing behind however it ends."""
    began = _moment(None)
    opened = _opening(began.strftime("%Y%m%d-%H%M%S"), in_force, source, keeping, began)
    return Session(store.passing(opened), began, keeping.author)


def resume(folder: Path, name: str, source: str, author: str, now: datetime | None = None) -> Session:
    """Goes on with a case. Raises InputError if there is none that can be read, or if another machine signed it and
    nobody here has given his word for its key; StoreError if it is being written."""
    return _begun_again(folder, name, author, now, lambda session: session.resumed(source))


def shift_clock(folder: Path, name: str, by_s: int, reason: str, author: str, now: datetime | None = None) -> Session:
    """Goes on with a case only to move all that was recorded by these seconds. Raises InputError, also for a shift into
    the future; StoreError."""
    return _begun_again(folder, name, author, now, lambda session: session.shift(by_s, reason))


def _begun_again(
    folder: Path, name: str, author: str, now: datetime | None, begin: Callable[[Session], object]
) -> Session:
    case = store.resume(folder, name)
    try:
        links = case.links()
        refuse_foreign(case.path, foreign(links), f"tamponade verify {name} --key {{key}} --trust")
        began = now or wall_clock()
        session = _session(case, began.replace(microsecond=began.microsecond // 1000 * 1000), author, links)
        session.doubts = tuple(map(str, doubts(links, case.head())))
        begin(session)
    except BaseException:
        case.close()
        raise
    return session


def _session(case: Case, began: datetime, author: str, links: Sequence[Link]) -> Session:
    try:
        return Session(case, began, author, links)
    except IndexError as error:
        raise InputError(f"{case.path}: {error}", "check it with: tamponade verify") from None


def _moment(now: datetime | None) -> datetime:
    return (now or wall_clock()).replace(microsecond=0)


def _opening(name: str, in_force: InForce, source: str, keeping: Keeping, began: datetime) -> CaseOpened:
    override = in_force.override
    return CaseOpened(
        logged_at=began,
        case=name,
        label=keeping.label,
        definition=in_force.text,
        definition_sha256=in_force.sha256,
        software=SOFTWARE,
        source=source,
        author=keeping.author,
        keep_sound=keeping.sound,
        simulation=keeping.simulation,
        override_approved_by=override.approved_by if override else None,
        override_approved_on=override.approved_on.isoformat() if override else None,
    )


def _exists(folder: Path, name: str) -> bool:
    return name in case_names(folder) or name.endswith(SUFFIX)


def _new_name(folder: Path, began: datetime, prefix: str) -> str:
    base = prefix + began.strftime("%Y%m%d-%H%M%S")
    taken = set(case_names(folder))
    return next(name for name in (base, *(f"{base}-{n}" for n in range(2, 1000))) if name not in taken)
