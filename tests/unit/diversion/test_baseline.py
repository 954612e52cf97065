"""Dated scenarios: what would still go to the residual bin, by area and month; by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from planner.diversion.planned import equal_rows, still_in_residual_bin
from planner.errors import ProgramError
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import BaselineScenario, read_program

MONTHS = [dt.date(2027, month, 1) for month in (5, 6, 7, 8)]


def program_with(*scenarios):
    program = read_program(TEMPLATES / PROGRAM_FILE)
    return program.model_copy(update={"scenarios": scenarios})


def collection(begins, share, areas=()):
    return BaselineScenario(
        name=f"{begins}", begins=begins, areas=areas, leaves_residual_bin_share=share
    )


def test_without_scenarios_all_stays():
    assert (still_in_residual_bin(program_with(), ["A"], MONTHS) == 1.0).all()


def test_scenarios_hold_from_their_day_in_their_areas_and_together():
    early = collection(dt.date(2027, 6, 1), 0.5, ("A",))
    late = collection(dt.date(2027, 8, 1), 0.2)
    stays = still_in_residual_bin(program_with(early, late), ["A", "B"], MONTHS)
    assert stays == pytest.approx(np.array([[1.0, 0.5, 0.5, 0.4], [1.0, 1.0, 1.0, 0.8]]))


def test_an_area_that_there_is_not_is_told():
    with pytest.raises(ProgramError, match="found area 'X', expected one of A, B"):
        still_in_residual_bin(
            program_with(collection(dt.date(2027, 6, 1), 0.5, ("X",))), ["A", "B"], MONTHS
        )


def test_courses_part_the_rows_and_put_them_together_again():
    stays = np.array([[1.0, 0.5], [1.0, 1.0], [1.0, 0.5]])
    again = np.zeros_like(stays)
    for own, course in equal_rows(stays):
        again[own] += course
    assert (again == stays).all()
