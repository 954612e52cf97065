"""One published number and the publication it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

SHAPES = ("fixed", "uniform", "triangular", "normal", "lognormal")
EVIDENCE = ("measured", "guideline", "expert", "common_practice", "assumed")
OWN = "own"
"""Evidence of a row that the council put in place of a published one."""

SEEN = ("yes", "second_hand", "memory", "computed")


@dataclass(frozen=True)
class Source:
    """A publication; without `date_read` it is cited from memory."""

    source_id: str
    citation: str
    address: str
    date_read: dt.date | None


@dataclass(frozen=True)
class Factor:
    """One number of the factor tables.

    `factor_id`, `applies_to` and `edition` identify it. `low` and `high` are the limits of
    a uniform or triangular shape (with `value` the mode of the triangle) and the 2.5 and
    97.5 percentiles of a normal or lognormal one. A fixed factor may print a range, which
    is not drawn. `seen` says whether the source was read (yes), read as another's
    copy (second_hand), remembered (memory) or computed from other rows (computed). `table`
    is the name of its file, without the ending.
    """

    factor_id: str
    value: float
    low: float | None
    high: float | None
    shape: str
    unit: str
    applies_to: str
    edition: str
    applies_from: dt.date | None
    evidence: str
    seen: str
    source_id: str
    source_place: str
    note: str
    table: str = ""

    @property
    def is_own(self) -> bool:
        """Whether the council put it in place of a published number."""
        return self.evidence == OWN

    @property
    def name(self) -> str:
        """What identifies it, as one word."""
        return "/".join(part for part in self.key if part)

    @property
    def key(self) -> tuple[str, str, str]:
        """What identifies the row: factor_id, applies_to, edition."""
        return (self.factor_id, self.applies_to, self.edition)

    @property
    def limits(self) -> tuple[float, float]:
        """Low and high; the value itself where no range is printed."""
        low = self.value if self.low is None else self.low
        return low, self.value if self.high is None else self.high
