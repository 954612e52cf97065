"""Whether councils can be added up as they are: the same year, money, method and factors."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from babel.numbers import is_currency

from planner.errors import PoolError
from planner.pooling.contract import TOTALS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from planner.pooling.contract import About, Export

MOST_NAMED = 8
"""Councils, and factors, that one sentence names."""


def check_alike(exports: Sequence[Export], *, any_year: bool = False) -> None:
    """Refuse councils that cannot be added up, and say for each what it must do.

    Parameters
    ----------
    exports
        Of the councils.
    any_year
        Take years that do not begin in the same month, and years that still run.

    Raises
    ------
    PoolError
        Every difference that stands in the way.
    """
    abouts = [export.about for export in exports]
    if not abouts:
        message = "Found no export. Name the files that `planner export` wrote, or their folder."
        raise PoolError(message)
    problems = [*_twice(abouts), *_of_method(abouts), *_of_factors(abouts)]
    if not any_year:
        problems += [*_of_years(abouts), *_still_running(abouts)]
    if problems:
        message = "\n".join(["The councils cannot be put together yet:", *problems])
        raise PoolError(message)


def with_one_money(
    exports: Sequence[Export], currency: str, rates: Mapping[str, float]
) -> list[Export]:
    """Bring money to one currency.

    Parameters
    ----------
    exports
        Of the councils.
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
    _check_currencies([target, *rates])
    missing = [one for one in found if one != target and one not in rates]
    if missing:
        options = " ".join(f"--rate {one}=RATE" for one in missing)
        message = (
            f"The councils keep their books in {', '.join(found)}. Say what one of each is worth "
            f"in {target}: planner pool … --currency {target} {options}"
        )
        raise PoolError(message)
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


def _check_currencies(names: Iterable[str]) -> None:
    for name in names:
        if not is_currency(name):
            message = (
                f"{name}: found no such currency, expected three capital letters after ISO 4217, "
                "as AUD or EUR."
            )
            raise PoolError(message)


def _twice(abouts: Sequence[About]) -> list[str]:
    counted = Counter((one.council, one.reporting_year) for one in abouts)
    return [
        f"  {council}, {year}: found {count} exports, expected one. Leave the older ones out."
        for (council, year), count in counted.items()
        if count > 1
    ] + [
        f"  {council}: found more than one year of it, expected one. Name one file of it."
        for council, count in Counter(council for council, _ in counted).items()
        if count > 1
    ]


def _of_years(abouts: Sequence[About]) -> list[str]:
    return _differing(
        abouts,
        lambda one: f"{one.from_date[:7]} on",
        "the year from {usual}",
        "Export the same twelve months, or add --any-year to take them as they are",
    )


def _still_running(abouts: Sequence[About]) -> list[str]:
    running = [one.council for one in abouts if one.is_running]
    if not running:
        return []
    return [
        f"  {_named(running)}: the year still runs. Wait for its end and export again, or add "
        "--any-year to take what there is."
    ]


def _of_method(abouts: Sequence[About]) -> list[str]:
    return [
        *_differing(
            abouts,
            lambda one: one.edition,
            "edition {usual}",
            "Export with --edition {usual}",
        ),
        *_differing(
            abouts,
            lambda one: one.gwp_set,
            "warming potentials {usual}",
            "Export with --gwp-set {usual}",
        ),
    ]


def _differing(
    abouts: Sequence[About], of: Callable[[About], str], said: str, mend: str
) -> list[str]:
    """Name the councils that differ from what most of them have."""
    counted = Counter(of(one) for one in abouts)
    usual = max(sorted(counted), key=lambda value: counted[value])
    problems = []
    for value in sorted(set(counted) - {usual}):
        councils = _named([one.council for one in abouts if of(one) == value])
        problems.append(
            f"  {councils}: found {value}, expected {said.format(usual=usual)} as most have. "
            f"{mend.format(usual=usual)}."
        )
    return problems


def _of_factors(abouts: Sequence[About]) -> list[str]:
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
            problems.append(
                f"  {one.council}: published factors differ from the others' ({_named(other)}). "
                f"It used planner {one.version}; bring it to the version of the others and "
                "export again."
            )
    return problems


def _named(names: Sequence[str]) -> str:
    shown = ", ".join(names[:MOST_NAMED])
    more = len(names) - MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown
