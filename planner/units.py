"""Exact conversions between units; published values live in the factor tables."""

from __future__ import annotations

import datetime as dt

KG_PER_T = 1000.0
"""Kilograms in a tonne (SI)."""

DAYS_PER_YEAR = 365.25
"""Mean days of a Julian year (ISO 80000-3)."""

MONTHS_PER_YEAR = 12
"""Months in a year."""

DAYS_PER_MONTH = DAYS_PER_YEAR / MONTHS_PER_YEAR
"""Mean days of a month, the unit in which a bin's age is counted."""

DAYS_PER_WEEK = 7
"""Days in a week."""

ONE_DAY = dt.timedelta(days=1)

METHANE_PER_CARBON = 16.0 / 12.0
"""Mass of CH4 from one mass of carbon, the ratio the IPCC Guidelines use (equation 3.3)."""

CO2_PER_CARBON = 44.0 / 12.0
"""Mass of CO2 from one mass of carbon, the ratio the IPCC Guidelines use."""

PER_CENT = 100.0
"""[per cent] in a share of 1."""

G_PER_KG = 1000.0
"""Grams in a kilogram (SI)."""

KG_PER_LB = 0.45359237
"""Kilograms in an avoirdupois pound, exact (international agreement of 1 July 1959)."""

KG_PER_OZ = KG_PER_LB / 16
"""Kilograms in an avoirdupois ounce, a sixteenth of a pound."""

LITRES_PER_M3 = 1000.0
"""Litres in a cubic metre (SI)."""

ML_PER_LITRE = 1000.0
"""Millilitres in a litre (SI)."""
