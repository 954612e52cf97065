"""How a declared figure takes its value in a report, with its words and all that it rests on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.figures import Figure
from planner.messages import paper, said
from planner.report.disclosure.parts import HIDDEN
from planner.report.figures import LISTS, FigureDeclaration
from planner.report.inputs import factor_input, figure_inputs, query_input, setting_input

if TYPE_CHECKING:
    from planner.figures import Figure, FigureRegister, Found, Input
    from planner.report.year import CountedYear, Year

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
    "households_back_by_month": "back",
    "households_by_wave": "households",
    "prior_shares": "priors",
    "problems_told": "problems",
    "site_weeks": "sites",
    "supplies_by_month": "supplies",
    "use_intervals": "use_intervals",
    "wave_frames": "frames",
}
"""Where `planner.diversion.town_year.Counts` keeps the rows of each query."""

KINDS = ("query:", "factor:", "key:")

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

UNTOLD = ("copayments_at_handover",)
"""Queries whose count of rows is not told: it would tell how many households paid."""


@dataclass(frozen=True)
class Writer:
    """Puts the values of one reporting year's figures."""

    register: FigureRegister  # takes the figures
    counted: CountedYear  # what was counted; the inputs of each figure are looked up there
    catalogue: Mapping[str, FigureDeclaration]  # every declaration by its id

    @property
    def year(self) -> Year:
        """What was estimated too."""
        return self.counted.estimated()

    @property
    def threshold(self) -> int:
        """Households below which a count is not shown."""
        return self.counted.program.privacy.small_cell_threshold

    @property
    def months(self) -> slice:
        """Months of the reporting year among those measured."""
        return self.year.diversion.cohorts.months_from(self.year.counts.from_date)

    def put(
        self,
        declared_id: str,
        found: Found,
        shared: Mapping[str, object] | None = None,
        *,
        hides: bool = False,
        why: str = "",
        also: Iterable[Input] = (),
        **more: object,
    ) -> Figure:
        """Add a declared figure with its value, in the words of the report's language.

        Parameters
        ----------
        declared_id
            Id as it was declared.
        hides
            Whether it is not shown, since it would tell of a few; it names no inputs then.
        why
            Why there is no value, in place of the method: a key of the words, as
            ``why.no_ledger``, or a sentence.
        also
            Inputs beyond those declared.
        shared, more
            Fill the words in braces; ``{support}`` says what support of bins in use
            rests on, ``{feed_factors}`` what is taken of worms and of the season.
        """
        one = self.catalogue[declared_id]
        words = {**self._of_dates(), **self._standing(one.rests_on), **(shared or {}), **more}
        currency = self.counted.program.council.currency if "{currency}" in one.unit else ""
        if hides:
            found, why = None, HIDDEN
        is_hidden = found is None and why == HIDDEN
        inputs = () if is_hidden else (*self._inputs(one.rests_on, words), *also)
        figure_id, label = one.id.format(**words), _said(one.label_key, words)
        unit = one.unit.format(currency=currency, **words)
        method = _said(why, words) if found is None else _method(one, words)
        return self.register.put(figure_id, label, found, unit, method, inputs)

    def _of_dates(self) -> dict[str, str]:
        """Words for the time that a label covers: the year, or the part of it that is recorded."""
        through, say = self.register.through_date, paper()
        if not through:
            return whole_year()
        day = say.day(dt.date.fromisoformat(through))
        return {one: say.say(f"period.{one}_to", day=day) for one in PERIODS}

    def of_support(self) -> str:
        """Name what support of bins in use rests on; nothing is used where it costs nothing."""
        money = self.counted.program.money
        return f"{SUPPORT} {LISTS['list:used_on']}" if money.support_cost_per_bin_year else SUPPORT

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
                found += figure_inputs(named)
            elif kind == "query":
                frame = None if name in UNTOLD else getattr(self.counted.counts, FRAMES[name])
                found.append(query_input(name, frame))
            elif kind == "key":
                found += setting_input(self.counted, name)
            else:
                found += factor_input(self.year, name)
        return list(dict.fromkeys(found))


def whole_year() -> dict[str, str]:
    """Words for a year that is over: in it, and at its end."""
    return {one: said(f"period.{one}") for one in PERIODS}


def _said(key: str, words: Mapping[str, object]) -> str:
    """Say the words of a key; a sentence that is said already stays as it is."""
    if not _KEY.fullmatch(key):
        return key
    filled = {
        name: int(part) if isinstance(part, np.integer) else part
        for name, part in words.items()
        if isinstance(part, str | int | np.integer)
    }
    return said(key, **filled)


def _method(one: FigureDeclaration, words: Mapping[str, object]) -> str:
    """Say how a figure came about, and which clauses of a standard that follows."""
    parts = (
        key.format(**words) if key.startswith("{") else _said(key, words) for key in one.method_keys
    )
    return " ".join(part for part in (*parts, one.followed()) if part)


def _names(rests_on: str, words: Mapping[str, object]) -> Iterator[str]:
    """Fill the names of what a figure rests on; a word alone may stand for several."""
    for named in rests_on.split():
        filled = named.format(**words)
        if named.startswith("{") and named.endswith("}"):
            yield from filled.split()
        else:
            yield filled


def number_if_known(draws: Numbers) -> Numbers | float:
    """Give the one number of draws into which nothing uncertain went, else the draws.

    Examples
    --------
    >>> number_if_known(np.array([2.0, 2.0, 2.0]))
    2.0
    """
    return float(draws[0]) if np.ptp(draws) <= SAME * np.abs(draws).max() else draws
