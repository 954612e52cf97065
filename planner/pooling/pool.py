"""Councils put together: totals by draw, and what each differs in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from planner.messages import FIRST_LANGUAGE
from planner.pooling.contract import TOTALS
from planner.pooling.partial import pool_rates
from planner.pooling.reconciling import check_alike, with_one_money
from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.pooling.contract import Export
    from planner.pooling.partial import Pooled

    Numbers = NDArray[np.float64]

SEED = 20_262
"""Begins what is drawn when councils are put together."""


@dataclass(frozen=True)
class PoolAsked:
    """How councils are to be put together.

    Parameters
    ----------
    title
        Who they are together, as "Councils of the Amber Coast".
    label
        Reporting year to measure of program folders; the newest with records unless said.
    currency, rates
        As of `with_one_money`.
    any_year
        As of `check_alike`.
    method
        Edition and warming potentials for program folders that are measured.
    processes
        How many councils are measured at once; as many as the machine has cores unless said.
    scheduler
        Address of a Dask cluster to measure on; this machine unless given.
    language
        Of the state report.
    """

    title: str
    label: str | None = None
    currency: str = ""
    rates: Mapping[str, float] = field(default_factory=dict)
    any_year: bool = False
    method: Mapping[str, str] = field(default_factory=dict)
    processes: int | None = None
    scheduler: str = ""
    language: str = FIRST_LANGUAGE


@dataclass(frozen=True)
class Pool:
    """Many councils' year.

    Parameters
    ----------
    title
        Who they are together, as "Councils of the Amber Coast".
    currency, country_locale
        Of the money and the numbers in the state report.
    exports
        Of the councils, by name.
    totals
        Shape (1 + draws_count,) each, by the names of TOTALS: sums over councils.
    apart
        The same as if published factors erred in each council by themselves.
    rates
        Rates that enough councils have measured, pooled.
    missing
        Councils that could not be taken, with the reason.
    language
        Of the state report.
    """

    title: str
    currency: str
    country_locale: str
    exports: tuple[Export, ...]
    totals: Mapping[str, Numbers]
    apart: Mapping[str, Numbers]
    rates: Mapping[str, Pooled]
    missing: Mapping[str, str]
    language: str = FIRST_LANGUAGE

    @property
    def label(self) -> str:
        """Reporting years of the councils, the usual one first."""
        years = [export.about.reporting_year for export in self.exports]
        return max(sorted(set(years)), key=years.count)


def pool(
    exports: Sequence[Export], asked: PoolAsked, missing: Mapping[str, str] | None = None
) -> Pool:
    """Add councils up draw by draw, and pool their rates.

    A draw holds the same published factors in every council, so an error that they share
    does not average out however many councils there are; errors of their surveys do.

    Parameters
    ----------
    exports
        Of the councils.
    asked
        Title, money, and whether years may differ.
    missing
        As in `Pool`.

    Raises
    ------
    PoolError
        They cannot be put together as they are.
    """
    check_alike(exports, any_year=asked.any_year)
    money = with_one_money(exports, asked.currency, asked.rates)
    named = sorted(money, key=lambda export: export.about.council)
    locales = [export.about.country_locale for export in named]
    return Pool(
        title=asked.title,
        currency=asked.currency or named[0].about.currency,
        country_locale=max(sorted(set(locales)), key=locales.count),
        exports=tuple(named),
        totals={name: _summed([e.totals[name] for e in named]) for name in TOTALS},
        apart={name: _summed(_shuffled(named, name)) for name in TOTALS},
        rates=pool_rates(named, SEED),
        missing=dict(missing or {}),
        language=asked.language,
    )


def _summed(draws: Sequence[Numbers]) -> Numbers:
    return np.asarray(np.sum(draws, axis=0))


def _shuffled(exports: Sequence[Export], name: str) -> list[Numbers]:
    """Break the tie between councils: each one's draws in an order of its own."""
    rng = random_stream(SEED, f"apart {name}")
    return [
        np.concatenate([export.totals[name][:1], rng.permutation(export.totals[name][1:])])
        for export in exports
    ]
