"""The export of one council's year: what is in it, how it is written and how it is read back.

It is an Apache Parquet file with a row a quantity. A row holds the central value and the
draws behind its interval; who it is of stands in the file's own metadata. There is no row of
a household, an area or a month in it.
"""

from __future__ import annotations

import hashlib
import io
import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.errors import PoolError
from planner.messages import paper, say
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from collections.abc import Mapping


CONTRACT = 1
"""Version of the export; raised when a quantity changes its meaning."""

METADATA = "planner.export"
DIGEST = "sha256"
DRAWS_COUNT = 1000
SEED = 20_262
"""Begins what is drawn when councils are put together."""

FACTOR_SEED = 20_261
"""Begins the draws of published factors in every export: one draw, one world for all."""

SIGNIFICANT_DIGITS = 5
"""Digits of each number: far below any interval, and no answer can be worked out from them."""


@dataclass(frozen=True)
class Quantity:
    """One row of an export: its unit, and whether it is money."""

    unit: str
    is_money: bool = False


TOTALS: dict[str, Quantity] = {
    "bins_given": Quantity("bins"),
    "bins_given_to_date": Quantity("bins"),
    "bins_in_use": Quantity("bins"),
    "fed_t": Quantity("t"),
    "kept_out_of_landfill_t": Quantity("t"),
    "methane_avoided_100_years_t_co2e": Quantity("t CO2-e"),
    "emissions_avoided_100_years_t_co2e": Quantity("t CO2-e"),
    "emissions_avoided_in_year_t_co2e": Quantity("t CO2-e"),
    "program_cost": Quantity("", is_money=True),
}
"""What is added up over councils, in the order in which it is shown."""

IN_USE = "in_use_12_months_share"
FEED = "feed_kg_per_week"
LANDFILLED = "landfilled_share"
RATES: dict[str, Quantity] = {
    **{f"{IN_USE}_{dwelling}": Quantity("share") for dwelling in DWELLINGS},
    FEED: Quantity("kg per week"),
    LANDFILLED: Quantity("share"),
}
"""What councils learn from each other."""


def label_of(name: str) -> str:
    """Name a quantity in the language of the report."""
    return paper().say(f"pooled.label.{name}")


FRAME = pl.Schema(
    {
        "quantity": pl.String(),
        "unit": pl.String(),
        "survey_variance": pl.Float64(),
        "draws": pl.List(pl.Float64()),
        "factor_part": pl.List(pl.Float64()),
    }
)


@dataclass(frozen=True)
class ExportHeader:
    """Whose year it is, and how it was estimated."""

    # as the council's program file has them
    council: str
    country_locale: str
    currency: str
    reporting_year: str
    # first day of the year and first day after it
    from_date: str
    before_date: str
    is_running: bool  # whether its records ended before the year did
    # households that have had a bin, and follow-up answers behind the rates
    households_count: int
    answers_count: int
    # edition and warming potentials of the emissions method
    edition: str
    gwp_set: str
    version: str  # of the planner that wrote the export
    # value, low and high of every published factor that was used, by its name
    factors: dict[str, list[float]]
    # factors of the council's own, with their source
    own_factors: dict[str, str] = field(default_factory=dict)
    issue: int = 0  # number of the report that was given out of this year; 0 where none was
    contract: int = CONTRACT  # version of the export


@dataclass(frozen=True)
class Rate:
    """A rate of one council, and what of its error is its survey's own."""

    draws: Numbers  # shape (1 + draws_count,)
    # variance of its logarithm, or of its log odds where it is a share, that comes of the survey
    # and not of published factors
    survey_variance: float
    # shape (1 + draws_count,): what the draws of published factors add to it on that scale
    factor_part: Numbers


@dataclass(frozen=True)
class Export:
    """What a council hands over of one year."""

    about: ExportHeader
    # shape (1 + draws_count,) each, by the names of TOTALS
    totals: Mapping[str, Numbers]
    # by the names of RATES; a rate that the answers do not carry is not there
    rates: Mapping[str, Rate]


def export_bytes(export: Export) -> bytes:
    """Write an export; the same export gives the same bytes."""
    rows = [
        {"quantity": name, "unit": TOTALS[name].unit, "draws": _short(draws)}
        for name, draws in export.totals.items()
    ] + [
        {
            "quantity": name,
            "unit": RATES[name].unit,
            "survey_variance": rate.survey_variance,
            "draws": _short(rate.draws),
            "factor_part": _short(rate.factor_part),
        }
        for name, rate in export.rates.items()
    ]
    about, frame = asdict(export.about), pl.DataFrame(rows, schema=FRAME)
    words = json.dumps({**about, DIGEST: _digest(about, frame)}, ensure_ascii=False)
    out = io.BytesIO()
    frame.write_parquet(out, metadata={METADATA: words})
    return out.getvalue()


def read_export(content: bytes, name: str) -> Export:
    """Read an export back.

    Raises
    ------
    PoolError
        The file is no export, or one of another version; the message says what to do.
    """
    about, frame = _read(content, name)
    if about.get("contract") != CONTRACT:
        versions = {"found": str(about.get("contract")), "wanted": str(CONTRACT)}
        message = say("pooled.fail.version", file=name, **versions)
        raise PoolError(message, path=name)
    try:
        if about.pop(DIGEST) != _digest(about, frame):
            raise _no_export(name)
        export = _export_of(ExportHeader(**about), frame)
    except (TypeError, ValueError, KeyError) as error:
        raise _no_export(name) from error
    missing = [quantity for quantity in TOTALS if quantity not in export.totals]
    if missing:
        message = say("pooled.fail.no_row", file=name, names=", ".join(missing))
        raise PoolError(message, path=name)
    return export


def _read(content: bytes, name: str) -> tuple[dict[str, Any], pl.DataFrame]:
    try:
        about = json.loads(pl.read_parquet_metadata(io.BytesIO(content))[METADATA])
        frame = pl.read_parquet(io.BytesIO(content))
    except (OSError, KeyError, ValueError, pl.exceptions.PolarsError) as error:
        raise _no_export(name) from error
    if frame.schema != FRAME or not isinstance(about, dict):
        raise _no_export(name)
    return about, frame


def _export_of(about: ExportHeader, frame: pl.DataFrame) -> Export:
    totals, rates = {}, {}
    for name, _, variance, draws, part in frame.iter_rows():
        values = _checked(name, draws)
        if name in RATES:
            rates[name] = Rate(values, float(variance), _checked(name, part))
        elif name in TOTALS:
            totals[name] = values
    return Export(about, totals, rates)


def _digest(about: Mapping[str, Any], frame: pl.DataFrame) -> str:
    """Digest of everything in an export, so that a byte gone wrong is seen."""
    content = json.dumps([about, frame.rows()], sort_keys=True)
    return hashlib.sha256(content.encode()).hexdigest()


def _checked(name: str, draws: list[float]) -> Numbers:
    values = np.asarray(draws, dtype=float)
    if values.shape != (1 + DRAWS_COUNT,) or not np.isfinite(values).all():
        message = f"{name}: expected {1 + DRAWS_COUNT} numbers"
        raise ValueError(message)
    return values


def _short(draws: Numbers) -> list[float]:
    return [float(f"{value:.{SIGNIFICANT_DIGITS}g}") for value in draws]


def _no_export(name: str) -> PoolError:
    return PoolError(say("pooled.fail.no_export", file=name), path=name)
