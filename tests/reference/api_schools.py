"""California's Academic Performance Index: two samples of its 6,194 schools of 2000.

`api_schools_stratified.csv` is a stratified sample of 200 schools by level (elementary 4,421,
high 755, middle 1,018 in the state), `api_schools_clustered.csv` all 183 schools of 15 of 757
districts. California Department of Education, Academic Performance Index 2000 Base; the
samples are `apistrat` and `apiclus1` of T. Lumley's R package survey (Debian:
r-cran-survey 4.1-1), of which a few columns are restated: pw weight, fpc population of
schools or districts, api00 and api99 indices, enroll pupils, api_stu pupils tested, sch_wide
and awards whether the school met its target and earned an award.

Values in the tests that read these were printed by R 4.2.2 with survey 4.1-1 for the call that
stands beside each; many stand in that package's own documentation as well.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl

from planner.survey.calibration import Margin

HERE = Path(__file__).parent
LEVELS = ("E", "H", "M")
LEVEL_COUNTS = np.array([4421.0, 755.0, 1018.0])
MET = ("No", "Yes")
MET_COUNTS = np.array([1072.0, 5122.0])


def stratified():
    """Read the sample of schools by level."""
    return pl.read_csv(HERE / "api_schools_stratified.csv")


def clustered():
    """Read the sample of districts."""
    return pl.read_csv(HERE / "api_schools_clustered.csv")


def codes(column, labels):
    return column.replace_strict({name: i for i, name in enumerate(labels)}).to_numpy()


def stratified_design(schools):
    """Level of each school, and the share of each level's schools that was drawn."""
    level = codes(schools["stype"], LEVELS)
    return level, np.bincount(level, minlength=3) / LEVEL_COUNTS


def clustered_design(schools):
    """District of each school, all in one stratum, and the share of districts drawn."""
    _, district = np.unique(schools["dnum"].to_numpy(), return_inverse=True)
    return np.zeros(schools.height, dtype=int), np.array([15.0 / 757.0]), district


def levels_margin(schools):
    return Margin("level", codes(schools["stype"], LEVELS), LEVELS, LEVEL_COUNTS)


def met_margin(schools):
    return Margin("target met", codes(schools["sch_wide"], MET), MET, MET_COUNTS)


def floats(schools, *names):
    return schools.select(pl.col(names).cast(pl.Float64)).to_numpy()
