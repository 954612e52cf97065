"""Factors, and their tables as read: every number, and the sources they cite."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import polars as pl

from planner import paths
from planner.errors import FactorError
from planner.messages import did_you_mean, or_known, say

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from planner.messages import Messages


NEW_BIN = "new_bin"
SOURCES_FILE = "sources.toml"
COLUMNS: dict[str, type[pl.DataType]] = {
    "factor_id": pl.String,
    "value": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
    "shape": pl.String,
    "unit": pl.String,
    "applies_to": pl.String,
    "edition": pl.String,
    "applies_from": pl.Date,
    "evidence": pl.String,
    "seen": pl.String,
    "source_id": pl.String,
    "source_place": pl.String,
    "note": pl.String,
}


@dataclass(frozen=True)
class FactorTable:
    """Every factor in the order of the files, and its sources."""

    factors: tuple[Factor, ...]
    sources: Mapping[str, Source]

    def __iter__(self) -> Iterator[Factor]:
        return iter(self.factors)

    def __len__(self) -> int:
        return len(self.factors)

    @cached_property
    def _by_id(self) -> dict[str, list[Factor]]:
        rows: dict[str, list[Factor]] = {}
        for factor in self.factors:
            rows.setdefault(factor.factor_id, []).append(factor)
        return rows

    def find(self, factor_id: str, applies_to: str = "", edition: str = "") -> Factor:
        """Find one number.

        A row that bears exactly these three names wins; otherwise an empty name stands for
        any, as long as one row alone remains.

        Raises
        ------
        FactorError
            No such factor, or more than one; the message lists what there is.

        Examples
        --------
        >>> read_factors().find("oxidised_share", "oxidising", "ipcc_2006").value
        0.1
        """
        rows = self._by_id.get(factor_id)
        if rows is None:
            raise FactorError(_unknown("factor", factor_id, self._by_id))
        exact = [row for row in rows if row.key == (factor_id, applies_to, edition)]
        near = exact or [
            row
            for row in rows
            if applies_to in ("", row.applies_to) and edition in ("", row.edition)
        ]
        if len(near) == 1:
            return near[0]
        raise FactorError(_choices(factor_id, applies_to, edition, near or rows, bool(near)))

    def of_new_bin(self, factor_id: str) -> Factor:
        """Find a factor's row for bins that begin with a starter stock, where it has one."""
        has_one = any(row.applies_to == NEW_BIN for row in self._by_id.get(factor_id, ()))
        return self.find(factor_id, NEW_BIN if has_one else "")

    def source(self, source_id: str) -> Source:
        """Find a publication.

        Raises
        ------
        FactorError
            No such source.
        """
        if source_id not in self.sources:
            raise FactorError(_unknown("source", source_id, self.sources))
        return self.sources[source_id]


def read_factors(folder: Path = paths.FACTORS) -> FactorTable:
    """Read every `*.csv` of the folder and its `sources.toml`.

    Raises
    ------
    FactorError
        A file has other columns, or a cell that is not a number or a date.
    """
    frames = [_read_csv(path) for path in sorted(folder.glob("*.csv"))]
    frame = pl.concat(frames) if frames else pl.DataFrame(schema=COLUMNS | {"table": pl.String})
    factors = tuple(Factor(**row) for row in frame.iter_rows(named=True))
    return FactorTable(factors, _read_sources(folder / SOURCES_FILE))


def _read_csv(path: Path) -> pl.DataFrame:
    header = pl.read_csv(path, n_rows=0).columns
    if header != list(COLUMNS):
        message = f"{path}: found columns {', '.join(header)}, expected {', '.join(COLUMNS)}."
        raise FactorError(message, path=str(path))
    try:
        frame = pl.read_csv(path, schema=COLUMNS, null_values=[""])
    except pl.exceptions.PolarsError as error:
        message = f"{path}: a cell is not of its column's kind ({error})."
        raise FactorError(message, path=str(path)) from error
    return frame.with_columns(pl.col(pl.String).fill_null(""), table=pl.lit(path.stem))


def _read_sources(path: Path) -> dict[str, Source]:
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    return {
        source_id: Source(
            source_id, entry.get("citation", ""), entry["address"], entry.get("date_read")
        )
        for source_id, entry in content.items()
    }


def _unknown(kind: str, name: str, known: Mapping[str, object]) -> str:
    hint = or_known(did_you_mean(name, known), sorted(known))
    return f"{say(f'factor_list.no_{kind}', name=repr(name))} {hint}"


def _choices(
    factor_id: str, applies_to: str, edition: str, rows: list[Factor], is_ambiguous: bool
) -> str:
    names = [row_words(row.applies_to, row.edition) for row in rows]
    asked = ", ".join(part for part in (applies_to, edition) if part)
    near = did_you_mean(asked, names) if asked and not is_ambiguous else ""
    return say(
        f"factor_list.{'many_rows' if is_ambiguous else 'no_row'}",
        count=len(rows),
        factor=factor_id,
        asked=asked or say("factor_list.no_edition_named"),
        hint=f"{near} " if near else "",
        names="; ".join(names),
    )


def row_words(applies_to: str, edition: str) -> str:
    """Tell one row of a factor from the others."""
    return ", ".join(part for part in (applies_to, edition) if part) or say("factor_list.plain_row")


OWN = "own"
"""Evidence of a row that the council put in place of a published one."""


@dataclass(frozen=True)
class Source:
    """A publication; without `date_read` it is cited from memory.

    Where a council gave a number of its own, `council` is its name and `citation` its reason.
    What has no title is described by the key of its id in the message files.
    """

    source_id: str
    citation: str
    address: str
    date_read: dt.date | None
    council: str = ""

    def cited(self, words: Messages) -> str:
        """Cite it; a title stays in the language that it was published in."""
        if self.council:
            return words.say("factor.own_source", council=self.council, source=self.citation)
        return self.citation or words.text(f"factor.source.{self.source_id}")


@dataclass(frozen=True)
class Factor:
    """One number of the factor tables.

    `factor_id`, `applies_to` and `edition` identify it. `low` and `high` are the limits of
    a uniform or triangular shape (with `value` the mode of the triangle) and the 2.5 and
    97.5 percentiles of a normal or lognormal one. A fixed factor may print a range, which
    is not drawn. `seen` says whether the source was read (yes), read as another's
    copy (second_hand), remembered (memory) or computed from other rows (computed). `table`
    is the name of its file, without the ending. `source_place` and `note` are keys of the
    message files; in the files kept with a report of an older version they are the words.
    `in_place_of` is the published row for which the council's own stands.
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
    in_place_of: Factor | None = None

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

    def place(self, words: Messages) -> str:
        """Tell the place in its source."""
        return _said(words, "place", self.source_place)

    def remark(self, words: Messages) -> str:
        """Tell its note; of the council's own, what it stands for."""
        if self.in_place_of is None:
            return _said(words, "note", self.note)
        low, high = self.in_place_of.limits
        limits = {"low": words.significant(low), "high": words.significant(high)}
        spread = f" ({words.say('number.from_to', **limits)})" if low != high else ""
        published = f"{words.significant(self.in_place_of.value)}{spread}"
        return words.say("factor.in_place_of", published=published)

    def title(self, words: Messages) -> str:
        """Name it for a reader, with what it applies to and its edition."""
        edition = self.edition.replace("_", " ")
        parts = (_said(words, "name", self.factor_id), self.applied(words), edition)
        return ", ".join(part for part in parts if part)

    def applied(self, words: Messages) -> str:
        """Name what it applies to: a material, a dwelling, a kind of landfill."""
        material = f"material.{self.applies_to}"
        text = words.text(material)
        return _said(words, "for", self.applies_to) if text == material else text


def _said(words: Messages, kind: str, name: str) -> str:
    key = f"factor.{kind}.{name}"
    text = words.text(key) if name else key
    return name.replace("_", " ") if text == key else text
