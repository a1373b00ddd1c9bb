"""Failures of files, disks and engines, as opposed to odd entries.

A person who says something odd gets a finding, never an exception. Exceptions are for files, disks, engines and
definitions; each names the thing, the place and the remedy in one line, and carries the exit code of the command:

    TamponadeError (1)
    ├── InputError (3)          a file that cannot be used: sound, definition, override, case that is not there
    │   └── IncompleteInput (4) a file that could be used only in part; what could be read is in the log
    ├── EngineError (5)         a speech engine or model is missing or fails
    ├── StoreError (6)          the case cannot be written: disk full, read-only, another writer
    └── NotVerified (7)         the case is not what was written down
"""

from __future__ import annotations


class TamponadeError(Exception):
    """Anything the command line reports in one line. `remedy` says what to do about it."""

    exit_code = 1

    def __init__(self, problem: str, remedy: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.problem} - {self.remedy}" if self.remedy else self.problem

    def __reduce__(self) -> tuple[type[TamponadeError], tuple[str, str]]:
        """Engines raise these in a child process; both parts must survive the way back."""
        return type(self), (self.problem, self.remedy)


class InputError(TamponadeError):
    """A file or name given by the user cannot be used."""

    exit_code = 3


class IncompleteInput(InputError):
    """A file ended early; everything before the break was used."""

    exit_code = 4


class EngineError(TamponadeError):
    """A speech engine or model is missing, refuses its input, or died."""

    exit_code = 5


class StoreError(TamponadeError):
    """The case on disk cannot be written or opened for writing."""

    exit_code = 6


class NotVerified(TamponadeError):
    """A case is not, or not provably, what was written down."""

    exit_code = 7
