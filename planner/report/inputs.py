"""Inputs of figures, in the words that explain prints."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.figures import FigureRegister, Input
from planner.messages import paper
from planner.program import year_label
from planner.report.disclosure import is_small

if TYPE_CHECKING:
    from collections.abc import Iterable

    import polars as pl

    from planner.factors import Factor, FactorTable
    from planner.program import Privacy, Program
    from planner.report.year import Year

OF_HOUSEHOLDS = (
    "diary_pairs",
    "diary_weeks",
    "followup_answers",
    "prior_shares",
    "use_intervals",
    "wave_frames",
)
"""Queries of which each row is a household."""


def of_query(name: str, rows: pl.DataFrame | None = None) -> Input:
    """Name a query with the rows it counted, where these may be told."""
    return Input("query", name, "" if rows is None else paper().say("input.rows", rows.height))


def of_figures(*ids: str) -> tuple[Input, ...]:
    """Name other figures."""
    return tuple(Input("figure", name) for name in ids)


def of_key(key: str, value: object) -> Input:
    """Name a key of program.toml with its value."""
    return Input("program", key, str(value))


def of_factors(table: FactorTable, factors: Iterable[Factor]) -> tuple[Input, ...]:
    """Name published factors with value, range, unit, source and place."""
    return tuple(Input("factor", _factor_name(f), _factor_detail(table, f)) for f in factors)


def of_setting(year: Year, key: str) -> tuple[Input, ...]:
    """Name a setting of program.toml with what it says; for a reporting year, this one's."""
    lists = summed_up(year.program)
    if key in lists:
        told = "; ".join(lists[key])
        return (of_key(key, told),) if told else ()
    if key == "further_landfills":
        several = year.program.further_landfills
        return tuple(of_key(f"{key}.{a.name}", f"{a.share_of_landfilled_waste:g}") for a in several)
    block, _, name = key.partition(".")
    of_block = year.reporting_year if block == "reporting_years" else getattr(year.program, block)
    return (of_key(key, getattr(of_block, name)),)


def summed_up(program: Program) -> dict[str, Iterable[str]]:
    """Say the settings that are lists, an item at a time, by their keys."""
    say, models = paper().say, program.bin_models
    month, prices = program.council.reporting_year_first_month, program.prices()
    return {
        "bin_models.plastic_kg+plastic_recycled_share": (
            say(
                "input.plastic",
                model=one.model_id,
                kg=f"{one.plastic_kg:g}",
                share=f"{one.plastic_recycled_share:g}",
            )
            for one in models
        ),
        "bin_models.service_life_years": (
            say("input.life", model=one.model_id, years=f"{one.service_life_years}")
            for one in models
        ),
        "bin_models.tray_area_m2": (f"{one.model_id} {one.tray_area_m2:g} m2" for one in models),
        "climate.monthly_mean_temperature_c": (say("input.monthly_means"),),
        "landfill.gas_capture": (
            say("input.capture", age=f"{one.from_age_years}", share=f"{one.captured_share:g}")
            for one in program.landfill.gas_capture
        ),
        "reporting_years.landfill_levy_per_t+gate_fee_per_t": (
            f"{year_label(start, month)} {levy:g} + {fee:g}"
            for start, (levy, fee) in prices.items()
        ),
        "scenarios": (
            say("input.scenario", name=one.name, day=str(one.begins)) for one in program.scenarios
        ),
    }


def of_factor(year: Year, name: str) -> tuple[Input, ...]:
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


def without_small_counts(register: FigureRegister, privacy: Privacy) -> FigureRegister:
    """Say "fewer than" where a query behind a figure counted few households.

    Where the answers of one survey round are not shown, rows of all rounds together are
    not told either: those of the others would give them away.
    """
    told = replace(register, _figures={})
    threshold = privacy.small_cell_threshold
    rounds = register.parts("response_share").values()
    tells_sums = all(one.value is not None for one in rounds)
    for figure in register:
        inputs = tuple(
            _without_small(item, threshold, tells_sums=tells_sums) for item in figure.inputs
        )
        told.add(replace(figure, inputs=inputs))
    return told


def _without_small(item: Input, threshold: int, *, tells_sums: bool) -> Input:
    if item.kind != "query" or item.name not in OF_HOUSEHOLDS:
        return item
    if not tells_sums:
        return replace(item, detail="")
    rows = int("".join(filter(str.isdigit, item.detail)))
    if not is_small(rows, threshold):
        return item
    return replace(item, detail=paper().say("input.few_rows", threshold=threshold))


def _factor_name(factor: Factor) -> str:
    return "/".join(part for part in factor.key if part)


def _factor_detail(table: FactorTable, factor: Factor) -> str:
    low, high = factor.limits
    words = paper()
    say = words.say
    value, unit = words.significant(factor.value), words.unit_words(factor.unit)
    is_range = low != high and factor.shape != "fixed"
    spread = (
        say("input.range", low=words.significant(low), high=words.significant(high))
        if is_range
        else ""
    )
    source = table.source(factor.source_id)
    memory = say("input.not_read") if factor.seen == "memory" else ""
    assumed = say("input.assumed") if factor.evidence == "assumed" else ""
    where = factor.remark(words) if factor.is_own else factor.place(words)
    place = f", {where}" if where else ""
    return f"{value}{spread} {unit}. {assumed}{source.cited(words)}{place}{memory}"
