"""Councils put together: totals by draw, where year, money, method and factors are the same."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from babel.numbers import is_currency

from planner.arrays import Numbers
from planner.errors import PoolError
from planner.messages import FIRST_LANGUAGE, say, some_of
from planner.pooling.contract import SEED, TOTALS
from planner.pooling.partial import pool_rates
from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from planner.pooling.contract import Export, ExportHeader
    from planner.pooling.partial import Pooled


MOST_NAMED = 8
"""Councils, and factors, that one sentence names."""


@dataclass(frozen=True)
class PoolRequest:
    """How councils are to be put together."""

    title: str  # who they are together, as "Councils of the Amber Coast"
    # reporting year to measure of program folders; the newest with records unless said
    label: str | None = None
    currency: str = ""  # that of the sums; empty where all councils have one
    # what one unit of each other currency is worth in it
    rates: Mapping[str, float] = field(default_factory=dict)
    any_year: bool = False  # councils may report on different years
    # edition and warming potentials for program folders that are measured
    method: Mapping[str, str] = field(default_factory=dict)
    # how many councils are measured at once; as many as the machine has cores unless said
    processes: int | None = None
    scheduler: str = ""  # address of a Dask cluster to measure on; this machine unless given
    language: str = FIRST_LANGUAGE  # of the state report


@dataclass(frozen=True)
class Pool:
    """Many councils' year."""

    title: str  # who they are together, as "Councils of the Amber Coast"
    # of the money and the numbers in the state report
    currency: str
    country_locale: str
    exports: tuple[Export, ...]  # of the councils, by name
    # shape (1 + draws_count,) each, by the names of TOTALS: sums over councils
    totals: Mapping[str, Numbers]
    # the same as if published factors erred in each council by themselves
    if_independent: Mapping[str, Numbers]
    rates: Mapping[str, Pooled]  # rates that enough councils have measured, pooled
    missing: Mapping[str, str]  # councils that could not be taken, with the reason
    language: str = FIRST_LANGUAGE  # of the state report

    @property
    def label(self) -> str:
        """Reporting years of the councils, the usual one first."""
        years = [export.about.reporting_year for export in self.exports]
        return max(sorted(set(years)), key=years.count)


def pool(
    exports: Sequence[Export], request: PoolRequest, missing: Mapping[str, str] | None = None
) -> Pool:
    """Add councils up draw by draw, and pool their rates.

    A draw holds the same published factors in every council, so an error that they share
    does not average out however many councils there are; errors of their surveys do.

    Raises
    ------
    PoolError
        They cannot be put together as they are.
    """
    check_comparable(exports, any_year=request.any_year)
    money = with_one_money(exports, request.currency, request.rates)
    named = sorted(money, key=lambda export: export.about.council)
    locales = [export.about.country_locale for export in named]
    return Pool(
        title=request.title,
        currency=request.currency or named[0].about.currency,
        country_locale=max(sorted(set(locales)), key=locales.count),
        exports=tuple(named),
        totals={name: _summed([e.totals[name] for e in named]) for name in TOTALS},
        if_independent={name: _summed(_shuffled(named, name)) for name in TOTALS},
        rates=pool_rates(named),
        missing=dict(missing or {}),
        language=request.language,
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


def check_comparable(exports: Sequence[Export], *, any_year: bool = False) -> None:
    """Refuse councils that cannot be added up, and say for each what it must do.

    Parameters
    ----------
    any_year
        Take years that do not begin in the same month, and years that still run.

    Raises
    ------
    PoolError
        Every difference that stands in the way.
    """
    abouts = [export.about for export in exports]
    if not abouts:
        raise PoolError(say("pooled.fail.found_none"))
    problems = [
        *_twice(abouts),
        *_differing(abouts, lambda one: one.edition, "pooled.fail.other_edition"),
        *_differing(abouts, lambda one: one.gwp_set, "pooled.fail.other_gwp"),
        *_of_factors(abouts),
    ]
    if not any_year:
        problems += _differing(abouts, lambda one: one.from_date[:7], "pooled.fail.other_year")
        if running := [one.council for one in abouts if one.is_running]:
            problems.append(say("pooled.fail.running", names=some_of(running, MOST_NAMED)))
    if problems:
        message = "\n".join([say("pooled.fail.not_yet"), *(f"  {one}" for one in problems)])
        raise PoolError(message)


def with_one_money(
    exports: Sequence[Export], currency: str, rates: Mapping[str, float]
) -> list[Export]:
    """Bring money to one currency.

    Parameters
    ----------
    currency
        The one to bring it to; empty where all councils have the same.
    rates
        For a currency what one of it is worth in `currency`.

    Raises
    ------
    PoolError
        A rate is missing, or a currency is none.
    """
    found = sorted({export.about.currency for export in exports})
    target = currency or found[0]
    if unknown := [name for name in (target, *rates) if not is_currency(name)]:
        raise PoolError(say("pooled.fail.no_currency", name=unknown[0]))
    missing = [one for one in found if one != target and one not in rates]
    if missing:
        options = " ".join(f"--rate {one}=RATE" for one in missing)
        named = {"found": ", ".join(found), "target": target, "options": options}
        raise PoolError(say("pooled.fail.currencies", **named))
    return [_converted(export, target, rates) for export in exports]


def _converted(export: Export, target: str, rates: Mapping[str, float]) -> Export:
    if export.about.currency == target:
        return export
    rate = rates[export.about.currency]
    totals = {
        name: draws * rate if TOTALS[name].is_money else draws
        for name, draws in export.totals.items()
    }
    return replace(export, totals=totals)


def _twice(abouts: Sequence[ExportHeader]) -> list[str]:
    counted = Counter((one.council, one.reporting_year) for one in abouts)
    return [
        say("pooled.fail.twice", council=council, year=year, count=count)
        for (council, year), count in counted.items()
        if count > 1
    ] + [
        say("pooled.fail.years", council=council)
        for council, count in Counter(council for council, _ in counted).items()
        if count > 1
    ]


def _differing(
    abouts: Sequence[ExportHeader], of: Callable[[ExportHeader], str], key: str
) -> list[str]:
    """Name the councils that differ from what most of them have."""
    counted = Counter(of(one) for one in abouts)
    usual = max(sorted(counted), key=lambda value: counted[value])
    problems = []
    for value in sorted(set(counted) - {usual}):
        councils = some_of([one.council for one in abouts if of(one) == value], MOST_NAMED)
        problems.append(say(key, names=councils, found=value, usual=usual))
    return problems


def _of_factors(abouts: Sequence[ExportHeader]) -> list[str]:
    """Name published factors that differ: some council's planner is older than others."""
    values: dict[str, Counter[tuple[float, ...]]] = {}
    for one in abouts:
        for name, limits in one.factors.items():
            values.setdefault(name, Counter())[tuple(limits)] += 1
    usual = {name: max(sorted(found), key=found.__getitem__) for name, found in values.items()}
    problems = []
    for one in abouts:
        other = [name for name, found in one.factors.items() if tuple(found) != usual[name]]
        if other:
            told = {
                "council": one.council,
                "names": some_of(other, MOST_NAMED),
                "version": one.version,
            }
            problems.append(say("pooled.fail.other_factors", **told))
    return problems
