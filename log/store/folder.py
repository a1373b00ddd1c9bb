"""The cases in a folder: where it is, what they may be called, and which is meant by a name."""

from __future__ import annotations

import os
import re
from pathlib import Path

import platformdirs

from log.basics.errors import InputError

SUFFIX = ".case"

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
"""Names that a case may have: the name becomes that of a file."""


def check_name(name: str) -> None:
    """Raises InputError for what cannot be the name of a case."""
    if NAME.fullmatch(name) is None or name.endswith(SUFFIX):
        raise InputError(
            f"{name[:120]!r} is not a case name", "use at most 100 letters, digits, dots, dashes and underscores"
        )


def cases_folder(chosen: Path | None = None) -> Path:
    """Where cases lie: the chosen folder, or TAMPONADE_CASES, or the user's data folder."""
    if chosen is not None:
        return chosen
    named = os.environ.get("TAMPONADE_CASES")
    return Path(named) if named else platformdirs.user_data_path("tamponade-log") / "cases"


def case_names(folder: Path) -> tuple[str, ...]:
    """The cases in a folder, newest last."""
    found = os.listdir(folder) if folder.is_dir() else ()  # noqa: PTH208 (there may be ten thousand)
    return tuple(sorted(name.removesuffix(SUFFIX) for name in found if name.endswith(SUFFIX)))


def find_case(folder: Path, name: str) -> Path:
    """The file of a case: by its name in the folder, by a beginning of it that fits only one, or by path. Of a link the
    file that it leads to, for journal and lock lie beside that."""
    direct = Path(name)
    if direct.suffix == SUFFIX and direct.is_file():
        return direct.resolve() if direct.is_symlink() else direct
    known = case_names(folder)
    fitting = [known_name for known_name in known if known_name == name] or [k for k in known if k.startswith(name)]
    if len(fitting) == 1:
        found = folder / f"{fitting[0]}{SUFFIX}"
        return found.resolve() if found.is_symlink() else found
    if fitting:
        raise InputError(f'"{name}" fits {len(fitting)} cases', f"say which: {', '.join(fitting[:5])}")
    raise InputError(f'there is no case named "{name}" in {folder}', "list them with: tamponade cases")
