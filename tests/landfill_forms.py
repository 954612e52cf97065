"""The published yearly and monthly forms of decay, asked of the function that reports run.

Both only arrange deposits, delay and moments for `methane_between_kg`: the yearly form of the
IPCC 2006 Guidelines (volume 5, chapter 3, equations 3.4 to 3.6 and annex 3A1) and the monthly
form of CDM TOOL04. No decay is computed here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.emissions.landfill import methane_between_kg


def yearly_methane_kg(potential_kg, decay, *, start_month=13, years_count=None):
    """Methane of each year; decay starts with month M of the deposit year, 13 the next January."""
    potential = np.asarray(potential_kg, dtype=float)
    years = years_count or potential.shape[-1]
    deposits = np.zeros((*potential.shape[:-1], 12 * potential.shape[-1]))
    deposits[..., ::12] = potential
    waiting = replace(decay, delay_months=float(start_month - 1))
    return methane_between_kg(deposits, waiting, 12 * np.arange(years + 1))


def monthly_methane_kg(potential_kg, decay, *, months_count=None):
    """Methane of each month from deposits on the first day of their month."""
    potential = np.asarray(potential_kg, dtype=float)
    months = months_count or potential.shape[-1]
    return methane_between_kg(potential, decay, np.arange(months + 1))
