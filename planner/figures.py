"""Figure and the register: every number that leaves the tool, declared once.

Draws of the whole project have their draws on the first axis, ``1 + draws_count`` of
them: index 0 is the central estimate (full-sample weights, central factor values), the
rest are replicates. A figure's value is draw 0, its interval the middle 95% of the rest.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.cells import csv_text
from planner.errors import ReportError
from planner.messages import FIRST_LANGUAGE, did_you_mean, say
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    Found = Numbers | float | tuple[float, float | None, float | None] | None
    """Draws of shape (1 + draws_count,), which give value and interval; a number that was counted
    or summed and has no interval; value, low and high; or None."""

InputKind = Literal["figure", "query", "factor", "program"]

CSV_COLUMNS = {
    name: pl.Float64() if name in ("value", "low", "high", "mean") else pl.String()
    for name in ("id", "label", "value", "low", "high", "unit", "method", "inputs", "mean")
}

INTERVAL_PERCENT = (2.5, 97.5)
"""Percentiles between which the middle 95% of the draws lie."""

MEAN_SHOWN_FROM = 0.1
"""Share of the interval's width by which mean and central value differ where both are told."""


@dataclass(frozen=True)
class Input:
    """Something a figure rests on."""

    # another figure, a query of the store, a published factor, or a key of program.toml
    kind: InputKind
    name: str
    detail: str = ""  # what it held: a row count, a value with its unit and source


@dataclass(frozen=True)
class Figure:
    """A number that leaves the tool."""

    id: str  # name that stays from version to version; a part is ``id[part]``
    label: str  # what it is, in plain words
    # Central estimate and 95% interval in `unit`; None where it is not shown. A count or a sum of
    # the ledger has no interval: low and high are None.
    value: float | None
    low: float | None
    high: float | None
    unit: str  # unit, in words that stand behind the number
    method: str
    inputs: tuple[Input, ...] = ()
    mean: float | None = None  # mean over the draws, in `unit`; None where it was not drawn

    @property
    def telling_mean(self) -> float | None:
        """Mean over the draws where it lies well off the central value, else None.

        Skewed factors pull the mean away, and a reader who adds up or multiplies figures needs it:
        it is told where the two differ by more than a tenth of the interval.

        Examples
        --------
        >>> Figure("a", "", 5.0, 0.0, 10.0, "t", "", mean=6.5).telling_mean
        6.5
        >>> Figure("a", "", 5.0, 0.0, 10.0, "t", "", mean=5.5).telling_mean
        """
        if self.mean is None or self.value is None or self.low is None or self.high is None:
            return None
        gap = abs(self.mean - self.value)
        return self.mean if gap > MEAN_SHOWN_FROM * (self.high - self.low) else None

    @property
    def part(self) -> str:
        """Name of the part between the brackets; empty for a whole.

        Examples
        --------
        >>> Figure("fed_t[north]", "", 1.0, None, None, "t", "").part
        'north'
        """
        return self.id.partition("[")[2].removesuffix("]")


def nearest_figures(figure_id: str, known: Iterable[str]) -> str:
    """Ask for the ids nearest to one that is not there; empty where none comes near."""
    ids = list(dict.fromkeys(known))
    begun = [name for name in ids if name.startswith(figure_id)]
    if begun:
        return say("advice.near", near=", ".join(begun[:3]))
    return did_you_mean(figure_id, ids, most=3)


def interval(draws: Numbers) -> tuple[float, float, float]:
    """Central value and 95% interval of one quantity.

    Examples
    --------
    >>> value, low, high = interval(np.r_[5.0, np.arange(1001.0)])
    >>> value, low, high
    (5.0, 25.0, 975.0)
    """
    low, high = np.percentile(draws[1:], INTERVAL_PERCENT)
    return _to_digits(draws[0]), _to_digits(low), _to_digits(high)


def _to_digits(number: float) -> float:
    """Round as files do: far below any interval, above the noise of the last bits."""
    return float(f"{number:.12g}")


@dataclass(frozen=True)
class LoadedFile:
    """A file behind the records: SHA-256 of its content, and the tables that it fed."""

    sha256: str
    tables: tuple[str, ...]


@dataclass
class FigureRegister:
    """Every figure of one report, in the order in which it was added."""

    # what the figures are of and what they rest on
    council: str
    reporting_year: str
    version: str
    loads: tuple[str, ...] = ()
    # last day that the figures cover, as 2026-06-30, where the year is still running; empty for a
    # whole year
    through_date: str = ""
    # how many draws stand behind the intervals, and the number that fixes them; none where that is
    # not known
    draws_count: int = 0
    seed: int = 0
    # digest and tables of each file, by its line among the loads
    files: dict[str, LoadedFile] = field(default_factory=dict)
    # language of the labels and methods; ids, units and names of inputs are the same in all
    language: str = FIRST_LANGUAGE
    _figures: dict[str, Figure] = field(default_factory=dict)
    # those of them that are parts, by the name of the whole
    _parts: dict[str, dict[str, Figure]] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        """Find the parts of a copy that is made with its figures."""
        for figure in self._figures.values():
            self._keep_part(figure)

    def add(self, figure: Figure) -> Figure:
        """Add a figure; its id must be new."""
        if figure.id in self._figures:
            message = f"figure {figure.id} was added twice"
            raise ValueError(message)
        self._figures[figure.id] = figure
        self._keep_part(figure)
        return figure

    def _keep_part(self, figure: Figure) -> None:
        whole, bracket, _ = figure.id.partition("[")
        if bracket:
            self._parts.setdefault(whole, {})[figure.part] = figure

    def put(
        self,
        figure_id: str,
        label: str,
        found: Found,
        unit: str,
        method: str,
        inputs: Iterable[Input] = (),
    ) -> Figure:
        """Add a figure from what was found of it."""
        mean = None
        if isinstance(found, np.ndarray):
            if not np.isfinite(found).all():
                message = f"figure {figure_id}: a draw is not a number"
                raise ValueError(message)
            mean, found = _to_digits(found[1:].mean()), interval(found)
        value, low, high = found if isinstance(found, tuple) else (found, None, None)
        return self.add(
            Figure(figure_id, label, value, low, high, unit, method, tuple(inputs), mean)
        )

    def __getitem__(self, figure_id: str) -> Figure:
        """Find a figure; a ReportError names the nearest ids where there is none of this."""
        try:
            return self._figures[figure_id]
        except KeyError:
            message = say("find.no_figure", figure=figure_id, year=self.reporting_year)
            message = f"{message} {nearest_figures(figure_id, self._figures)}".rstrip()
            raise ReportError(message) from None

    def find(self, figure_id: str) -> Figure | None:
        """Find a figure; None where there is none of this id."""
        return self._figures.get(figure_id)

    def number(self, figure_id: str) -> float:
        """Value of a figure; 0 where it has none."""
        return self[figure_id].value or 0.0

    def __contains__(self, figure_id: str) -> bool:
        """Whether a figure has this id."""
        return figure_id in self._figures

    def __iter__(self) -> Iterator[Figure]:
        """Go through the figures in order."""
        return iter(self._figures.values())

    def parts(self, figure_id: str) -> dict[str, Figure]:
        """Find the parts of a figure, as areas or months, by name."""
        return self._parts.get(figure_id, {}).copy()

    def leaves(self, figure_id: str) -> Iterator[Input]:
        """Go through all that a figure rests on in the end and that is no figure itself.

        Raises
        ------
        ReportError
            No figure has this id.
        """
        waiting, seen = [figure_id], {figure_id}
        while waiting:
            for item in self[waiting.pop()].inputs:
                if item.kind != "figure":
                    yield item
                elif item.name not in seen and item.name in self:
                    seen.add(item.name)
                    waiting.append(item.name)

    def uses(self, kind: InputKind) -> dict[str, tuple[str, list[str]]]:
        """Find the inputs of a kind by name: what each held, and the figures that rest on it.

        A setting that is a list, as the discount rates, holds something else for each figure.
        """
        details: dict[str, dict[str, None]] = {}
        figures: dict[str, list[str]] = {}
        for figure in self:
            for item in (item for item in figure.inputs if item.kind == kind):
                details.setdefault(item.name, {})[item.detail] = None
                figures.setdefault(item.name, []).append(figure.id)
        return {name: ("; ".join(told), figures[name]) for name, told in details.items()}

    def write(self, folder: Path) -> None:
        """Write the two files of figures."""
        for name, content in self.contents().items():
            (folder / name).write_bytes(content)

    def contents(self) -> dict[str, bytes]:
        """Give every figure, for programs and as a table, each under the name of its file."""
        rows = [
            {
                **_rounded(vars(figure)),
                "inputs": "; ".join(f"{one.kind} {one.name}" for one in figure.inputs),
            }
            for figure in self
        ]
        table = csv_text(pl.DataFrame(rows, schema=CSV_COLUMNS)).encode("utf-8-sig")
        return {FIGURES_FILE: self.to_json().encode(), FIGURES_TABLE_FILE: table}

    def to_json(self) -> str:
        """Write the register as JSON text, the same for the same figures."""
        content = {
            "council": self.council,
            "reporting_year": self.reporting_year,
            "language": self.language,
            "through_date": self.through_date,
            "version": self.version,
            "draws_count": self.draws_count,
            "seed": self.seed,
            "loads": list(self.loads),
            "files": {line: asdict(file) for line, file in self.files.items()},
        }
        head = json.dumps(content, ensure_ascii=False, indent=1).removesuffix("\n}")
        # a figure a line: with lines set in, Python writes JSON ten times slower
        figures = ",\n  ".join(
            json.dumps(
                {**_rounded(vars(figure)), "inputs": [vars(one) for one in figure.inputs]},
                ensure_ascii=False,
            )
            for figure in self
        )
        return f'{head},\n "figures": [\n  {figures}\n ]\n}}\n'


def register_in(path: Path) -> FigureRegister | None:
    """Read the figures of a file; None where there is none, a ReportError where it has others."""
    return read_register(path.read_text(encoding="utf-8")) if path.exists() else None


def read_register(text: str) -> FigureRegister:
    """Read a register back from the text of figures.json; a ReportError where it is not one."""
    try:
        content = json.loads(text)
        register = FigureRegister(
            content["council"],
            content["reporting_year"],
            content["version"],
            tuple(content["loads"]),
            content.get("through_date", ""),
            content.get("draws_count", 0),
            content.get("seed", 0),
            {
                line: LoadedFile(file["sha256"], tuple(file["tables"]))
                for line, file in content.get("files", {}).items()
            },
            content.get("language", FIRST_LANGUAGE),
        )
        for row in content["figures"]:
            inputs = tuple(Input(**item) for item in row.pop("inputs"))
            register.add(Figure(**row, inputs=inputs))
    except (ValueError, KeyError, TypeError) as error:
        raise ReportError(say("find.not_figures", file=FIGURES_FILE)) from error
    return register


def _rounded(row: Mapping[str, object]) -> dict[str, object]:
    return {
        name: _to_digits(item) if isinstance(item, float) else item for name, item in row.items()
    }
