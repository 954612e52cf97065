"""Folders of invented programs of any size, whose records `planner load` takes in.

A town of at most 25,000 households in 300 areas is simulated as the samples are, and copied
until it is large enough: each copy's households have ids of their own and live one area on, so
that no two copies have the same rows in an area.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl
from polars import selectors as cs

from planner.paths import PROGRAM_FILE
from sample_programs.generator import TOWNS, Town, records, simulate
from sample_programs.generator.text_files import program_text

MOST_SIMULATED = 25_000
AREAS_COUNT, LEAST_PER_AREA = 300, 100
"""A program of 1,000 households has ten areas; one of 30,000 and more has all."""

ANSWERS_SHARE = 0.107
"""Households asked twice over, over all nine rounds: about 98,000 answers in a million."""

ROUNDS_COUNT, LEAST_ASKED = 9, 80
OF_TOWN = (
    "areas",
    "drop_points",
    "events",
    "waves",
    "weighings",
    "audits",
    "costs",
    "suppliers",
    "offers",
)
YES_OR_NO = {True: "yes", False: "no"}
OF_HOUSEHOLDS = ("households", "handovers", "givebacks", "samples", "answers")
"""Tables of which each copy has rows of its own."""


def big_town(households_count: int) -> Town:
    """Tell of a town with so many households, nine rounds of answers and up to 300 areas."""
    town = TOWNS["port_marrow"]
    areas_count = min(AREAS_COUNT, max(len(town.areas), households_count // LEAST_PER_AREA))
    dwellings = 3 * households_count // areas_count
    areas = tuple(
        replace(
            town.areas[place % 6],
            area_id=f"A{place:03d}",
            area_name=f"Area {place}",
            houses_count=dwellings,
            townhouses_count=dwellings // 5,
            apartments_count=dwellings // 10,
            residents_count=3 * dwellings,
            uptake=1.0,
        )
        for place in range(areas_count)
    )
    asked = households_count * ANSWERS_SHARE / ROUNDS_COUNT / town.survey.response_share
    asked = max(LEAST_ASKED, round(asked))
    years = tuple(
        replace(
            year,
            registrations_count=households_count // len(town.years),
            bins_given_target=households_count // len(town.years),
            budget=90.0 * households_count,
        )
        for year in town.years
    )
    return replace(
        town,
        areas=areas,
        years=years,
        giving=replace(town.giving, brought_share=0.9),
        survey=replace(
            town.survey,
            baseline_asked_count=asked,
            followup_asked_count=asked,
            stratify_by=("dwelling",),
            diaries_count=min(400, asked // 4),
        ),
    )


def write_program(folder: Path, households_count: int, draws_count: int = 1000) -> list[Path]:
    """Write a program file and a CSV file for each table; name the tables' files."""
    simulated = min(households_count, MOST_SIMULATED)
    town = big_town(households_count)
    copies = households_count // simulated
    share = replace(
        town.survey,
        baseline_asked_count=town.survey.baseline_asked_count // copies,
        followup_asked_count=town.survey.followup_asked_count // copies,
    )
    years = tuple(
        replace(year, registrations_count=year.registrations_count // copies) for year in town.years
    )
    tables = records(simulate(replace(town, survey=share, years=years), town.seed))
    folder.mkdir(parents=True)
    text = program_text(replace(town, folder="none")).replace(
        "draws_count = 1000", f"draws_count = {draws_count}"
    )
    (folder / PROGRAM_FILE).write_text(_without_map(text), "utf-8")
    area_ids = [area.area_id for area in town.areas]
    paths = [folder / f"{name}.csv" for name in (*OF_TOWN, *OF_HOUSEHOLDS)]
    for path in paths:
        rows = tables[path.stem]
        if path.stem in OF_HOUSEHOLDS:
            rows = pl.concat([_copy(rows, place, area_ids) for place in range(copies)])
        rows.with_columns(
            cs.boolean().replace_strict({True: "yes", False: "no"}, return_dtype=pl.String)
        ).write_csv(path)
    return paths


def _without_map(text: str) -> str:
    """Leave out the block of outlines, which a program of this size need not have."""
    before, rest = text.split("[map]")
    return before + rest[rest.index("[[") :]


def _copy(rows: pl.DataFrame, place: int, area_ids: list[str]) -> pl.DataFrame:
    """Copy rows with ids and serial numbers of their own, each living one area on for each copy."""
    moved = dict(zip(area_ids, area_ids[place:] + area_ids[:place], strict=True))
    ids = [name for name in ("household_id", "handover_id", "serial") if name in rows.columns]
    return rows.with_columns(
        *(pl.format("{}-{}", name, pl.lit(place)) for name in ids if place),
        *(pl.col(name).replace(moved) for name in rows.columns if name == "area_id"),
    )
