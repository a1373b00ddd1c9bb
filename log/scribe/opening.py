"""A case is begun or resumed before anybody speaks: by which definition, and how it is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from log.basics.errors import InputError
from log.definition.load import InForce
from log.definition.procedure import Procedure
from log.facts.events import CaseOpened
from log.facts.origin import KeepSound
from log.rules.definitions import of_case
from log.scribe.session import SOFTWARE, Session, wall_clock
from log.store import case as store
from log.store.chain import Link
from log.store.folder import SUFFIX, case_names, check_name, find_case
from log.store.lock import locked
from log.store.trust import foreign, refuse_foreign
from log.store.verify import doubts


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


def _session(case: store.Case, began: datetime, author: str, links: Sequence[Link]) -> Session:
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
