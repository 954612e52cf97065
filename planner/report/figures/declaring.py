"""How a figure is declared, once, and how it takes its value in a report.

A declaration says what the figure is, what it rests on and which tables of the report print
it. The module of a subject holds its declarations and puts their values; the register, the
Word document, the page, the workbook and `explain` have everything else from here.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.figures import Figure, interval, mean_of
from planner.messages import paper
from planner.program import year_label
from planner.report.disclosure import HIDDEN
from planner.report.figures.standards import followed
from planner.report.inputs import of_factors, of_figures, of_key, of_query

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from planner.factors import Factor
    from planner.figures import FigureRegister, Input
    from planner.program import Program
    from planner.report.year import Year

    Spread = tuple[float, float | None, float | None]
    Found = NDArray[np.float64] | float | Spread | None

SAME = 1e-12
"""Draws that differ by less than this share of their size differ in their last bits only."""

FRAMES = {
    "audit_changes": "audits",
    "bins_by_area": "areas",
    "copayments_at_handover": "copayments",
    "costs_by_category": "costs",
    "costs_by_month": "costs_by_month",
    "diary_pairs": "diaries",
    "diary_weeks": "diary_weeks",
    "followup_answers": "followup",
    "handovers_by_month": "handovers",
    "households_by_wave": "households",
    "prior_shares": "priors",
    "problems_told": "problems",
    "site_weeks": "sites",
    "supplies_by_month": "supplies",
    "use_intervals": "use_intervals",
    "wave_frames": "frames",
}
"""Where `planner.diversion.counts.Counts` keeps the rows of each query."""

KINDS = ("query:", "factor:", "key:")

WEIGHTS = "query:wave_frames query:households_by_wave"
"""Of whom was asked and of what is known of everybody: survey weights rest on both."""

OF_RETENTION = f"query:use_intervals query:handovers_by_month {WEIGHTS}"
"""The curve of each dwelling from the answers, the town's from the bins given."""

USED_ON = "retention_12_months query:handovers_by_month key:bin_models.service_life_years"
"""Bins in use in the years to come."""

OF_WORMS = "{feed_factors} key:climate.monthly_mean_temperature_c key:bin_models.tray_area_m2"
"""Share of the full feed that the worms of a bin take, by age and month."""

OF_OTHERS = (
    "self_report_multiplier",
    "caddy_density_kg_per_litre",
    "recalled_residual_share_difference",
    ANYWAY,
    THROWN_AWAY,
)
"""Factors of calibration, recall and leakage, which their own figures name."""

SUPPORT = "key:money.support_cost_per_bin_year"

PERIODS = ("in_year", "at_end")
"""Times that labels cover, in words of their own."""

_KEY = re.compile(r"[a-z]+(?:\.[a-z0-9_]+)+")
_NO_KEY = re.compile(r"[^a-z0-9_]+")

UNTOLD = ("copayments_at_handover",)
"""Queries whose count of rows is not told: it would tell how many households paid."""


@dataclass(frozen=True)
class Declared:
    """A figure before it has a value; its words stand in ``figures.po``, by its id.

    Parameters
    ----------
    id
        Name that stays from version to version; a part is ``fed_t[{area_id}]``.
    unit
        As in `planner.figures.Figure`: what programs read, the same in every language.
    rests_on
        Ids of other figures, and names with ``query:``, ``factor:`` or ``key:`` before them,
        parted by blanks; a key is one of program.toml.
    shown
        Tables of the report in which it stands. Where the label does not serve as the words of
        its row or column there, these have a key of their own, ``in_`` and the table.
    method
        Names of sentences that say how it came about, parted by blanks: ``own`` is its own, any
        other is shared and stands under ``how``; a word in braces is filled in when it is put.
    label
        Name of a label that several figures share; its own where empty.
    """

    id: str
    unit: str
    rests_on: str = ""
    shown: tuple[str, ...] = ()
    method: str = "own"
    label: str = ""

    def key(self, part: str) -> str:
        """Key of some words of its own: its label, its method, or those of a table.

        Examples
        --------
        >>> Declared("fed_t[{area_id}]", "t").key("label")
        'figure.fed_t.area_id.label'
        """
        name = _NO_KEY.sub(".", self.id.replace("{", "").replace("}", "")).strip(".")
        return f"figure.{name}.{part}"

    @property
    def label_key(self) -> str:
        """Key of its label."""
        return f"figure.label.{self.label}" if self.label else self.key("label")

    def column_key(self, table: str) -> str:
        """Key of its words in a table, which stand in the files where the label does not serve."""
        return self.label_key.removesuffix(".label") + f".in_{table}"

    def words_in(self, table: str) -> str:
        """Say its words in a table; empty where the label serves."""
        key = self.column_key(table)
        words = paper().say(key)
        return "" if words == key else words

    @property
    def method_keys(self) -> tuple[str, ...]:
        """Keys of the sentences of its method; what is filled in has none and stands in braces."""
        return tuple(
            self.key("method") if one == "own" else one if one.startswith("{") else f"how.{one}"
            for one in self.method.split()
        )

    def labelled(self, **filled: str | int) -> str:
        """Say its label."""
        return paper().say(self.label_key, **filled)


@dataclass(frozen=True)
class Writer:
    """Puts the values of one reporting year's figures.

    Parameters
    ----------
    register
        Takes the figures.
    year
        What was counted and estimated; the inputs of each figure are looked up there.
    catalogue
        Every declaration by its id.
    """

    register: FigureRegister
    year: Year
    catalogue: Mapping[str, Declared]

    def put(
        self,
        declared_id: str,
        found: Found,
        shared: Mapping[str, object] | None = None,
        *,
        why: str = "",
        also: Iterable[Input] = (),
        **more: object,
    ) -> Figure:
        """Add a declared figure with its value, in the words of the report's language.

        Parameters
        ----------
        declared_id
            Id as it was declared.
        found
            Draws of shape (1 + draws_count,), which give value and interval; a number that
            was counted or summed and has no interval; value, low and high; or None.
        why
            Why there is no value, in place of the method: a key of the words, as
            ``why.no_ledger``, or a sentence. What is hidden names no inputs.
        also
            Inputs beyond those declared.
        shared, more
            Fill the words in braces; ``{support}`` says what support of bins in use
            rests on, ``{feed_factors}`` what is taken of worms and of the season.
        """
        one = self.catalogue[declared_id]
        words = {**self._of_dates(), **self._standing(one.rests_on), **(shared or {}), **more}
        currency = self.year.program.council.currency if "{currency}" in one.unit else ""
        value, low, high = _spread(one.id, found)
        is_hidden = found is None and why == HIDDEN
        inputs = () if is_hidden else (*self._inputs(one.rests_on, words), *also)
        return self.register.add(
            Figure(
                one.id.format(**words),
                _said(one.label_key, words),
                value,
                low,
                high,
                one.unit.format(currency=currency, **words),
                _said(why, words) if found is None else _method(one, words),
                inputs,
                mean_of(found) if isinstance(found, np.ndarray) else None,
            )
        )

    def _of_dates(self) -> dict[str, str]:
        """Words for the time that a label covers: the year, or the part of it that is recorded."""
        through, say = self.register.through_date, paper()
        if not through:
            return whole_year()
        day = say.day(dt.date.fromisoformat(through))
        return {one: say.say(f"period.{one}_to", day=day) for one in PERIODS}

    def of_support(self) -> str:
        """Name what support of bins in use rests on; nothing is used where it costs nothing."""
        money = self.year.program.money
        return f"{SUPPORT} {USED_ON}" if money.support_cost_per_bin_year else SUPPORT

    def _standing(self, rests_on: str) -> dict[str, str]:
        """Words that any declaration may rest on, where this one does."""
        words = {}
        if "{support}" in rests_on:
            words["support"] = self.of_support()
        if "{feed_factors}" in rests_on:
            used = (one.factor_id for one in self.year.feed_factors)
            words["feed_factors"] = " ".join(f"factor:{n}" for n in used if n not in OF_OTHERS)
        return words

    def _inputs(self, rests_on: str, words: Mapping[str, object]) -> list[Input]:
        found: list[Input] = []
        for named in _names(rests_on, words):
            kind, _, name = named.partition(":") if named.startswith(KINDS) else ("", "", named)
            if not kind:
                found += of_figures(named)
            elif kind == "query":
                frame = None if name in UNTOLD else getattr(self.year.counts, FRAMES[name])
                found.append(of_query(name, frame))
            elif kind == "key":
                found += of_setting(self.year, name)
            else:
                found += _of_factor(self.year, name)
        return list(dict.fromkeys(found))


def whole_year() -> dict[str, str]:
    """Words for a year that is over: in it, and at its end."""
    return {one: paper().say(f"period.{one}") for one in PERIODS}


def _said(key: str, words: Mapping[str, object]) -> str:
    """Say the words of a key; a sentence that is said already stays as it is."""
    if not _KEY.fullmatch(key):
        return key
    filled = {
        name: int(part) if isinstance(part, np.integer) else part
        for name, part in words.items()
        if isinstance(part, str | int | np.integer)
    }
    return paper().say(key, **filled)


def _method(one: Declared, words: Mapping[str, object]) -> str:
    """Say how a figure came about, and which clauses of a standard that follows."""
    said = (
        key.format(**words) if key.startswith("{") else _said(key, words) for key in one.method_keys
    )
    return " ".join(part for part in (*said, followed(one.id)) if part)


def _names(rests_on: str, words: Mapping[str, object]) -> Iterator[str]:
    """Fill the names of what a figure rests on; a word alone may stand for several."""
    for named in rests_on.split():
        filled = named.format(**words)
        if named.startswith("{") and named.endswith("}"):
            yield from filled.split()
        else:
            yield filled


def number_if_known(draws: NDArray[np.float64]) -> NDArray[np.float64] | float:
    """Give the one number of draws into which nothing uncertain went, else the draws.

    Examples
    --------
    >>> number_if_known(np.array([2.0, 2.0, 2.0]))
    2.0
    """
    return float(draws[0]) if np.ptp(draws) <= SAME * np.abs(draws).max() else draws


def of_setting(year: Year, key: str) -> tuple[Input, ...]:
    """Name a setting of program.toml with what it says; for a reporting year, this one's."""
    if key in SUMMED_UP:
        told = SUMMED_UP[key](year.program)
        return (of_key(key, told),) if told else ()
    if key == "further_landfills":
        several = year.program.further_landfills
        return tuple(of_key(f"{key}.{a.name}", f"{a.share_of_landfilled_waste:g}") for a in several)
    block, _, name = key.partition(".")
    of_block = year.reporting_year if block == "reporting_years" else getattr(year.program, block)
    return (of_key(key, getattr(of_block, name)),)


def _gas_capture(program: Program) -> str:
    steps = program.landfill.gas_capture
    return "; ".join(
        paper().say("input.capture", age=f"{one.from_age_years}", share=f"{one.captured_share:g}")
        for one in steps
    )


def _service_lives(program: Program) -> str:
    return "; ".join(
        paper().say("input.life", model=one.model_id, years=f"{one.service_life_years}")
        for one in program.bin_models
    )


def _plastic(program: Program) -> str:
    return "; ".join(
        paper().say(
            "input.plastic",
            model=one.model_id,
            kg=f"{one.plastic_kg:g}",
            share=f"{one.plastic_recycled_share:g}",
        )
        for one in program.bin_models
    )


def _tray_areas(program: Program) -> str:
    return "; ".join(f"{one.model_id} {one.tray_area_m2:g} m2" for one in program.bin_models)


def _scenarios(program: Program) -> str:
    return "; ".join(
        paper().say("input.scenario", name=one.name, day=str(one.begins))
        for one in program.scenarios
    )


def _prices(program: Program) -> str:
    month = program.council.reporting_year_first_month
    return "; ".join(
        f"{year_label(start, month)} {levy:g} + {fee:g}"
        for start, (levy, fee) in program.prices().items()
    )


SUMMED_UP = {
    "bin_models.plastic_kg+plastic_recycled_share": _plastic,
    "bin_models.service_life_years": _service_lives,
    "bin_models.tray_area_m2": _tray_areas,
    "climate.monthly_mean_temperature_c": lambda _: paper().say("input.monthly_means"),
    "landfill.gas_capture": _gas_capture,
    "reporting_years.landfill_levy_per_t+gate_fee_per_t": _prices,
    "scenarios": _scenarios,
}
"""Settings that are lists, each told in one line."""


def _of_factor(year: Year, name: str) -> tuple[Input, ...]:
    """Name a published factor, or the setting that stands in its place."""
    factor_id, _, applies_to = name.partition("/")
    of_emissions = [r for r in year.emission_factors.rows.every if r.factor_id == factor_id]
    return of_rows(year, of_emissions or [_find(year, factor_id, applies_to)])


def of_rows(year: Year, rows: Iterable[Factor]) -> tuple[Input, ...]:
    """Name rows of the factor tables, or the settings that stand in the place of some."""
    stated = year.emission_factors.rows.stated
    return tuple(
        of_key(f"emissions.{row.factor_id}", row.value)
        if row.factor_id in stated
        else of_factors(year.factor_table, [row])[0]
        for row in rows
    )


def _find(year: Year, factor_id: str, applies_to: str) -> Factor:
    of_feed = (factor for factor in year.feed_factors if factor.factor_id == factor_id)
    return next(of_feed, None) or year.factor_table.find(factor_id, applies_to)


def _spread(name: str, found: Found) -> tuple[float | None, float | None, float | None]:
    if isinstance(found, tuple):
        return found
    if not isinstance(found, np.ndarray):
        return found, None, None
    if not np.isfinite(found).all():
        message = f"figure {name}: a draw is not a number"
        raise ValueError(message)
    return interval(found)
