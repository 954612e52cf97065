"""program.toml and truth.toml as text."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sample_programs.generator.boundaries import BOUNDARIES_FILE
from sample_programs.generator.version import GENERATOR_VERSION

if TYPE_CHECKING:
    import polars as pl

    from sample_programs.generator.towns import Town
    from sample_programs.generator.truth import Truth

_MORE_BLOCKS = Path(__file__).parent / "more_blocks"
"""Blocks of program.toml that nothing is simulated from, a file a town, copied as they stand."""

_INVENTED = (
    "# {name}: an invented council. Its places, people, prices and records are invented too."
)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, float):
        return repr(float(f"{value:.10g}"))
    return str(value)


def _lines(pairs: dict[str, object]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in pairs.items()]


def _blocks(name: str, rows: list[dict[str, object]]) -> list[str]:
    return [line for row in rows for line in ("", f"[[{name}]]", *_lines(row))]


_PROGRAM = """\
{invented}

[council]
name = "{council.name}"
country_locale = "{council.country_locale}"
currency = "{council.currency}"
reporting_year_first_month = {council.first_month}

[landfill]
climate = "{council.landfill_climate}"
management = "managed_anaerobic"
cover = "oxidising"
# Share of residual-bin waste that is landfilled; the rest is burnt or treated.
landfilled_share_of_residual_waste = {council.landfilled_share}
# Share of the methane that wells catch, by the age of the waste.
gas_capture = [
{capture}
]

[method]
edition = "ipcc_2006"
gwp_set = "ar5"
draws_count = 1000
seed = {council.program_seed}

[climate]
# Mean of each month in °C, January first.
monthly_mean_temperature_c = [{temperatures}]

[privacy]
small_cell_threshold = {council.small_cell_threshold}

[map]
# Outlines of the areas: invented, and laid out at sea.
boundaries = "{boundaries}"
{models}

# Budget, prices of a tonne of residual waste, and what the council set out to do.
{years}
"""


def program_text(town: Town) -> str:
    """Write a town's program.toml, its further blocks at the end."""
    council = town.council
    capture = [
        f"    {{ from_age_years = {age}, captured_share = {share} }},"
        for age, share in council.gas_capture
    ]
    models = [_model_block(town, place) for place in range(len(town.bin_models))]
    years = [_year_block(town, place) for place in range(len(town.years))]
    more = _MORE_BLOCKS / f"{town.folder}.toml"
    written = _PROGRAM.format(
        boundaries=BOUNDARIES_FILE,
        invented=_INVENTED.format(name=council.name),
        council=council,
        capture="\n".join(capture),
        temperatures=", ".join(str(value) for value in council.monthly_mean_temperature_c),
        models="\n".join(_blocks("bin_models", models)),
        years="\n".join(_blocks("reporting_years", years)),
    )
    return f"{written}\n{more.read_text('utf-8')}" if more.exists() else written


def _model_block(town: Town, place: int) -> dict[str, object]:
    model = town.bin_models[place]
    return {
        "model_id": model.model_id,
        "model_name": model.model_name,
        "trays_count": model.trays_count,
        "tray_area_m2": model.tray_area_m2,
        "plastic_kg": model.plastic_kg,
        "plastic_recycled_share": model.plastic_recycled_share,
        "service_life_years": model.service_life_years,
        "unit_price": model.unit_price,
    }


def _year_block(town: Town, place: int) -> dict[str, object]:
    year = town.years[place]
    return {
        "reporting_year": year.label,
        "budget": year.budget,
        "landfill_levy_per_t": year.landfill_levy_per_t,
        "gate_fee_per_t": year.gate_fee_per_t,
        "bins_given_target": year.bins_given_target,
        "kept_out_of_landfill_t_target": year.kept_out_of_landfill_t_target,
    }


_TRUTH = """\
{invented}
# Known only because everything was simulated; nothing that plans or reports reads it.

{made}

# How answers differ from what happened.
[answering]
{answering}

# One block a reporting year; bins_in_use: households that use a bin at its end; landfill_share
# weighted by feed.
{years}

# The same by area.
{area_years}

# Share of households that use a bin so long after their first, whenever that falls.
{retention}

# Rows that must be taken in, by table.
[good_rows]
{good_rows}

# Rows that are wrong on purpose. Of a duplicate key the first row stands and the later
# one, which says something else, is wrong. Blank rows, lines that only add up and rows
# that repeat an earlier one in full are passed over (is_refused = false). Where a real
# row was spoilt its truth is missing from the records, though not from the figures above.
{wrong_rows}
"""


def truth_text(
    town: Town,
    seed: int,
    truth: Truth,
    program_cost: pl.DataFrame,
    good_rows: dict[str, int],
    wrong_rows: list[dict[str, object]],
) -> str:
    """Write truth.toml: what happened in the simulation, and which rows are wrong.

    `program_cost` has reporting_year and program_cost; `good_rows` counts, by table, the
    rows that must be taken in.
    """
    made = {"town": town.folder, "seed": seed, "generator_version": GENERATOR_VERSION}
    years = truth.years.join(program_cost, on="reporting_year", maintain_order="left")
    return _TRUTH.format(
        invented=_INVENTED.format(name=town.council.name),
        made="\n".join(_lines(made)),
        answering="\n".join(_lines(_answering(town))),
        years="\n".join(_blocks("years", years.to_dicts())),
        area_years="\n".join(_blocks("area_years", truth.area_years.to_dicts())),
        retention="\n".join(_blocks("retention", truth.retention.to_dicts())),
        good_rows="\n".join(_lines(dict(good_rows))),
        wrong_rows="\n".join(_blocks("wrong_rows", wrong_rows)),
    )


def _answering(town: Town) -> dict[str, object]:
    survey = town.survey
    return {
        "fed_over_report_ratio": survey.over_report,
        "caddy_density_kg_per_l_mean": sum(survey.density_kg_per_l) / 2.0,
        "response_log_odds_of_use": survey.response_use_link,
    }
