"""A council's export: its year measured once more, with the published factors of all councils."""

from __future__ import annotations

import datetime as dt
import hmac
import re
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner import __version__
from planner.arrays import Numbers
from planner.errors import PoolError
from planner.factors import read_factors
from planner.messages import paper, say
from planner.paths import EXPORT_FOLDER, PROGRAM_FILE
from planner.pooling.contract import (
    DRAWS_COUNT,
    FACTOR_SEED,
    FEED,
    IN_USE,
    LANDFILLED,
    Export,
    ExportHeader,
    Rate,
    export_bytes,
)
from planner.pooling.partial import link_of
from planner.program import open_program
from planner.progress import Progress, no_progress
from planner.report.disclosure.control import EXPORT, open_control
from planner.report.disclosure.parts import is_small
from planner.report.notes import choose_year
from planner.report.year import count_year, measure_year
from planner.store.files import disk_faults, write_whole
from planner.store.keys import read_key
from planner.store.opening import open_store
from planner.tables import DWELLINGS
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.diversion.counts import Counts
    from planner.factors import Factor, FactorTable
    from planner.program import Program
    from planner.report.year import MeasuredYear


AGE_MONTHS = 12.0
"""Age at which bins in use are compared, as plans believe it."""

SEED_BYTES = 6


def export_year(
    folder: Path,
    label: str | None,
    as_of: dt.date | None,
    method: Mapping[str, str],
    progress: Progress,
) -> Export:
    """Measure a year for others to add up.

    The survey's draws begin from the council's secret key, so that nobody without it can work
    an answer out of them; those of published factors are the same for every council.

    Parameters
    ----------
    label, as_of
        Reporting year as "2025-26", and the day up to which records count.
    method
        Edition and warming potentials, where they are to be others than the program file's.

    Raises
    ------
    ProgramError, StoreError, EstimateError, ReportError
        The message says what to mend.
    PoolError
        There are too few households or answers to show, or no key.
    """
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, read_only=True) as store:
        label = choose_year(store, program, label, as_of)
        progress(say("pooled.doing.counting", year=label))
        counts = count_year(store, program, label, as_of)
        span = {"from_date": counts.from_date, "before_date": counts.before_date}
        households = store.query("households_by_group", **span)
        control = open_control(folder, store, program, counts.before_date)
    if told := control.sentences(EXPORT):
        raise PoolError("\n".join((*told, say("pooled.fail.held"))), path=str(folder))
    least = program.privacy.small_cell_threshold
    _check_enough(counts, least, label)
    changed = {**method, "draws_count": DRAWS_COUNT, "seed": _secret_seed(folder, program, label)}
    salted = program.model_copy(update={"method": program.method.model_copy(update=changed)})
    progress(say("pooled.doing.estimating", draws=DRAWS_COUNT))
    measured = measure_year(salted, label, counts, read_factors(), FACTOR_SEED)
    issues = [one.number for one in control.issues if one.reporting_year == label]
    about = ExportHeader(
        council=program.council.name,
        country_locale=program.council.country_locale,
        currency=program.council.currency,
        reporting_year=label,
        from_date=f"{counts.from_date}",
        before_date=f"{counts.before_date}",
        is_running=counts.is_running,
        households_count=int(households["served_count"].sum()),
        answers_count=counts.followup.height,
        edition=salted.method.edition,
        gwp_set=salted.method.gwp_set,
        version=__version__,
        factors=_published(measured),
        own_factors=_own(measured),
        issue=max(issues, default=0),
    )
    return Export(about, _totals(measured, counts), _rates(measured, counts, households, least))


def give_out_export(
    folder: Path,
    label: str | None = None,
    as_of: dt.date | None = None,
    method: Mapping[str, str] | None = None,
    target: Path | None = None,
    progress: Progress = no_progress,
) -> tuple[Export, Path]:
    """Write a year's totals and rates for others to add up, and remember that they were given out.

    The parameters are those of `export_year`; the file lies in the program's folder of exports
    unless a target is said.

    Raises
    ------
    PoolError, ReportError
        As of `export_year`; or the file cannot be written, or not be remembered.
    """
    export = export_year(folder, label, as_of, method or {}, progress)
    about = export.about
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, read_only=True) as store:
        control = open_control(folder, store, program, dt.date.fromisoformat(about.before_date))
    control.give_out(folder, EXPORT, about.reporting_year)
    name = re.sub(r"[^a-z0-9]+", "-", about.council.casefold()).strip("-") or "council"
    path = target or folder / EXPORT_FOLDER / f"{name}-{about.reporting_year}.parquet"
    with disk_faults(path, "pooled.fail.unwritten", PoolError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, export_bytes(export))
    return export, path


def _check_enough(counts: Counts, least: int, label: str) -> None:
    """Refuse a year of which a report would hide the town's own figures."""
    bins = int(counts.areas["bins_given_in_year"].sum())
    # an export holds the bins and households to date as well, and a report those of the year
    earlier = int(counts.areas["bins_given_to_date"].sum()) - bins
    served = counts.areas["households_served_to_date"] - counts.areas["households_served_in_year"]
    answers = counts.followup.height
    is_any_small = any(is_small(one, least) for one in (bins, earlier, int(served.sum())))
    if is_any_small or answers < least:
        told = {"bins": bins, "earlier": earlier, "answers": answers, "least": least}
        raise PoolError(say("pooled.fail.few", year=label, **told))


def _secret_seed(folder: Path, program: Program, label: str) -> int:
    """Begin the survey's draws: always the same for the council, unknown to others."""
    key = read_key(folder)
    if key is None:
        raise PoolError(say("pooled.fail.no_key", folder=str(folder)), path=str(folder))
    words = f"export {program.council.name} {label} {program.method.seed}"
    digest = hmac.digest(key.secret.encode(), words.encode(), "sha256")
    return int.from_bytes(digest[:SEED_BYTES], "big")


def _totals(measured: MeasuredYear, counts: Counts) -> dict[str, Numbers]:
    diversion, emissions = measured.diversion, measured.emissions
    months = diversion.cohorts.months_from(counts.from_date)
    areas = counts.areas
    cost, same = measured.cost, np.ones(1 + DRAWS_COUNT)
    return {
        "bins_given": same * float(areas["bins_given_in_year"].sum()),
        "bins_given_to_date": same * float(areas["bins_given_to_date"].sum()),
        "bins_in_use": diversion.bins_in_use[:, -1],
        "fed_t": diversion.fed_kg[:, months].sum(axis=1) / KG_PER_T,
        "kept_out_of_landfill_t": diversion.kept_out_kg[:, months].sum(axis=1) / KG_PER_T,
        "methane_avoided_100_years_t_co2e": emissions.over_100_years.methane_avoided_t_co2e,
        "emissions_avoided_100_years_t_co2e": emissions.over_100_years.net_t_co2e,
        "emissions_avoided_in_year_t_co2e": emissions.in_year.net_t_co2e,
        "program_cost": same * cost.in_year,
    }


def _rates(
    measured: MeasuredYear, counts: Counts, households: pl.DataFrame, least: int
) -> dict[str, Rate]:
    """Take the rates that others can learn from, of dwellings with enough households."""
    diversion, estimates = measured.diversion, measured.diversion.estimates
    months = diversion.cohorts.months_from(counts.from_date)
    served = households.group_by(pl.col("dwelling").cast(pl.String)).agg(
        pl.col("served_count").sum()
    )
    given = dict(served.iter_rows())
    rates = {
        f"{IN_USE}_{dwelling}": curve.in_use_share(np.array([AGE_MONTHS]))[:, 0]
        for dwelling, curve in zip(DWELLINGS, estimates.retained.curves, strict=True)
        if given.get(dwelling, 0) >= least
    }
    level = estimates.pooled_kg_per_in_use_bin_week * diversion.benchmark.last_level_over_year
    rates[FEED] = level * _to_reference_size(households, measured.factor_table)
    fed = diversion.fed_kg[:, months].sum(axis=1)
    if (fed > 0.0).all():
        rates[LANDFILLED] = diversion.kept_out_kg[:, months].sum(axis=1) / fed
    return {name: _rate(name, draws, measured.drawn) for name, draws in rates.items()}


def _to_reference_size(households: pl.DataFrame, table: FactorTable) -> float:
    """Ratio that brings the feed of households of this council's size to the reference size."""
    people = float(households["registered_people_count"].sum())
    registered = float(households["registered_count"].sum())
    reference = table.find("reference_household_people").value
    if not people or not registered:
        return 1.0
    exponent = table.find("feed_household_size_exponent").value
    return float((reference * registered / people) ** exponent)


def _rate(name: str, draws: Numbers, factors: Mapping[str, Numbers]) -> Rate:
    """Tell what of a rate's error comes of the survey: what draws of factors do not explain.

    The draws, as log or log odds, are regressed on those of the factors (ordinary least
    squares); what is left, over its degrees of freedom, is the survey's variance.
    """
    linked = link_of(name).forward(draws)
    moving = [values[1:] for values in factors.values() if np.ptp(values[1:]) > 0.0]
    explained = np.column_stack([np.ones(linked.size - 1), *moving])
    coefficients, _, rank, _ = np.linalg.lstsq(explained, linked[1:], rcond=None)
    fitted = explained @ coefficients
    left = linked[1:] - fitted
    part = np.concatenate([[0.0], fitted - fitted.mean()])
    return Rate(draws, float(left @ left / (left.size - rank)), part)


def _published(measured: MeasuredYear) -> dict[str, list[float]]:
    return {row.name: [row.value, *row.limits] for row in _used(measured) if not row.is_own}


def _own(measured: MeasuredYear) -> dict[str, str]:
    """Say the council's own factors; a setting that stands for one has no source of its own."""
    words, stated = paper(), measured.emission_factors.rows.stated
    own = {}
    for row in (row for row in _used(measured) if row.is_own):
        amount = f"{words.significant(row.value)} {words.unit_words(row.unit)}"
        source = measured.factor_table.source(row.source_id).cited(words)
        own[row.title(words)] = amount if row.factor_id in stated else f"{amount}. {source}"
    return own


def _used(measured: MeasuredYear) -> list[Factor]:
    rows = measured.emission_factors.rows
    return [*measured.feed_factors, *rows.every]
