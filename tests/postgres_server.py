"""A PostgreSQL server for the tests alone: Debian's programs, a folder of its own, a socket in it and no network."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

APT = "PostgreSQL is not installed: apt install postgresql"
USER = "nobody"
"""PostgreSQL does not run as root."""


def programs() -> Path | None:
    """The newest of Debian's folders with PostgreSQL's programs, None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"), key=lambda path: int(path.parts[-3]))
    return found[-1].parent if found else None


@contextmanager
def server(programs: Path) -> Iterator[str]:
    """Starts it, and gives the connection string."""
    folder = Path(tempfile.mkdtemp(prefix="tamponade-pg-", dir="/tmp"))  # a socket's path has at most 107 bytes
    folder.chmod(0o755)
    data = folder / "data"
    data.mkdir(mode=0o700)
    if os.geteuid() == 0:
        shutil.chown(folder, USER)
        shutil.chown(data, USER)
    try:
        _run(programs / "initdb", "--pgdata", data, "--username=tests", "--auth=trust", "--no-sync", "--locale=C.UTF-8")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=5"
        _run(programs / "pg_ctl", "--pgdata", data, "--wait", "--log", folder / "log", "--options", options, "start")
        yield f"host={folder} user=tests dbname=postgres"
    finally:
        _run(programs / "pg_ctl", "--pgdata", data, "--mode=immediate", "--wait", "stop", check=False)
        shutil.rmtree(folder, ignore_errors=True)


def _run(program: Path, *arguments: object, check: bool = True) -> None:
    user = USER if os.geteuid() == 0 else None
    command = [str(program), *map(str, arguments)]
    subprocess.run(command, check=check, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, user=user, timeout=60)
