"""Errors in the officer's words: where, what was found, what to do."""

from __future__ import annotations

import re
import zipfile
import zlib

# characters that would move a terminal's cursor, turn its text round, or cannot be encoded
_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)

# what the standard library raises on an archive that was harmed on its way or by hand
ARCHIVE_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    AttributeError,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
)


LONGEST_NEAR = 100
"""Letters of what was written that are held against names: a long text takes seconds."""


def escaped(text: str) -> str:
    r"""Show what a terminal would act on as its code.

    Examples
    --------
    >>> escaped("Mar\x1b[31mia")
    'Mar\\u001b[31mia'
    """
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class PlannerError(Exception):
    """What the officer can mend; the command ends with exit code 2.

    Parameters
    ----------
    message
        Where it is, what was found and what to write instead.
    path, row, column
        Place in the officer's file, where there is one.

    `said` is the message as it was given: words of a paper can be said again to the officer.
    """

    def __init__(
        self,
        message: str,
        *,
        path: str | None = None,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        super().__init__(escaped(message))
        self.said = message
        self.path = path
        self.row = row
        self.column = column


class ProgramError(PlannerError):
    """The program folder or program.toml needs fixing."""


class IntakeError(PlannerError):
    """A file cannot be taken in at all."""


class LostCountError(PlannerError):
    """The planner has lost count of rows: its own fault, so the command ends with exit code 1."""


class StoreError(PlannerError):
    """The store cannot be opened, written or read."""


class FactorError(PlannerError):
    """A factor is not in the tables, or not of the form that the method needs."""


class EstimateError(PlannerError):
    """The records do not carry the estimate that was asked for."""


class NotYetError(EstimateError):
    """Hand-overs or survey rounds that every estimate needs are still to come."""


class ReportError(PlannerError):
    """A report cannot be written."""


class OrderError(PlannerError):
    """What is to be ordered clashes with offers, limits or dates."""


class PoolError(PlannerError):
    """Councils cannot be put together as they stand."""
