"""Emissions and cost computed a second time, from the months kept out and the ledger.

Emissions follow 2006 IPCC Guidelines, volume 5, chapter 3: equation 3.1 (recovery before
oxidation), 3.2 and 3.3 (L0 = W · DOC · DOCf · MCF · F · 16/12), 3.4 and 3.5 (first-order
decay), stepped month by month; chapter 4, equations 4.1 and 4.2, for the bins' gases. The
values are those of its tables 2.4, 3.1, 3.2, 3.3 and 4.1 and section 3.2.3 (delay of six
months, F and DOCf of a half), and the warming potentials of the Fifth Assessment Report,
working group 1, table 8.A.1. They are written out here so that a slip in the planner's
factor tables would show.
"""

from __future__ import annotations

import math

import polars as pl
import pytest

from planner.paths import SAMPLE_PROGRAMS
from planner.tables import COST_CATEGORIES
from tests.programs.conftest import TOWN_YEARS

DOC, DOCF, MCF, METHANE_IN_GAS, METHANE_PER_CARBON = 0.15, 0.5, 1.0, 0.5, 16 / 12
OXIDISED = 0.1
DELAY_MONTHS = 6 + 0.5  # scraps are kept out all through a month
DECAY_PER_YEAR = {
    "tropical_wet": 0.4,
    "boreal_temperate_wet": 0.185,
    "boreal_temperate_dry": 0.06,
}
METHANE_GWP, NITROUS_OXIDE_GWP = 28, 265
BIN_METHANE_KG_PER_T, BIN_NITROUS_OXIDE_KG_PER_T = 4.0, 0.24
HORIZON_MONTHS = 1200
TOLERANCE = 1e-9

EACH_YEAR = pytest.mark.parametrize(("town", "label"), TOWN_YEARS)


class Landfill:
    """A town's landfill: methane to the air of a tonne in each month of its age [t CH4]."""

    def __init__(self, landfill):
        assert (landfill.management, landfill.cover) == ("managed_anaerobic", "oxidising")
        rate = DECAY_PER_YEAR[landfill.climate] / 12
        steps = [(step.from_age_years * 12, step.captured_share) for step in landfill.gas_capture]
        potential = DOC * DOCF * MCF * METHANE_IN_GAS * METHANE_PER_CARBON
        self.methane_by_age = []
        for age in range(HORIZON_MONTHS):
            remaining, later = (
                math.exp(-rate * max(0.0, months - DELAY_MONTHS)) for months in (age, age + 1)
            )
            captured = [share for from_age, share in steps if from_age <= age][-1]
            emitted = (remaining - later) * (1 - captured) * (1 - OXIDISED)
            self.methane_by_age.append(potential * emitted)

    def methane_t(self, deposit_t, to_age):
        """Methane of one month's deposit up to an age [t CH4]."""
        return deposit_t * sum(self.methane_by_age[:to_age])


def bin_gases_t_co2e(fed_t):
    kg_per_t = BIN_METHANE_KG_PER_T * METHANE_GWP + BIN_NITROUS_OXIDE_KG_PER_T * NITROUS_OXIDE_GWP
    return fed_t * kg_per_t / 1000


def monthly_t(kilograms):
    """Take the central values by month [t]."""
    return (kilograms[0] / 1000).tolist()


@EACH_YEAR
def test_emissions_avoided_follow_from_the_months_kept_out(sample, town, label):
    one = sample(town)
    year, register = one.year(label)
    assert (one.program.method.edition, one.program.method.gwp_set) == ("ipcc_2006", "ar5")
    landfill = Landfill(one.program.landfill)
    kept_out = monthly_t(year.diversion.kept_out_kg)
    fed = monthly_t(year.diversion.fed_kg)
    end = len(kept_out)
    start = sum(month < year.counts.from_date for month in year.diversion.cohorts.months)

    to_date = sum(landfill.methane_t(t, end - m) for m, t in enumerate(kept_out))
    before = sum(landfill.methane_t(t, start - m) for m, t in enumerate(kept_out[:start]))
    in_100_years = sum(landfill.methane_t(t, HORIZON_MONTHS) for t in kept_out[start:])
    for basis, methane_t, fed_t in (
        ("in_year", to_date - before, sum(fed[start:])),
        ("to_date", to_date, sum(fed)),
        ("100_years", in_100_years, sum(fed[start:])),
    ):
        methane = methane_t * METHANE_GWP
        gases = bin_gases_t_co2e(fed_t)
        value = {
            name: register[f"{name}_{basis}_t_co2e"].value
            for name in (
                "landfill_methane_avoided",
                "bin_process_gases",
                "making_and_freight",
                "emissions_avoided",
            )
        }
        assert value["landfill_methane_avoided"] == pytest.approx(methane, rel=TOLERANCE)
        assert value["bin_process_gases"] == pytest.approx(gases, rel=TOLERANCE)
        scale = TOLERANCE * (methane + gases)  # a difference of two may be near nothing
        net = methane - gases - value["making_and_freight"]
        assert value["emissions_avoided"] == pytest.approx(net, abs=scale)


@EACH_YEAR
def test_the_years_of_decay_add_up_to_a_hundred_years(sample, town, label):
    _, register = sample(town).year(label)
    by_year = [f.value for f in register.parts("landfill_methane_avoided_by_year_t_co2e").values()]
    whole = register["landfill_methane_avoided_100_years_t_co2e"].value
    assert sum(by_year) == pytest.approx(whole, rel=TOLERANCE)
    assert min(by_year) >= 0.0


def ledger(town):
    """Good lines of a town's ledger, read with polars alone: date, amount."""
    if town == "valdorra":
        lines = pl.read_csv(
            SAMPLE_PROGRAMS / town / "costs.csv", separator=";", infer_schema=False
        ).with_columns(
            pl.col("cost_date").str.to_date("%d/%m/%Y", strict=False),
            pl.col("amount").str.replace(",", ".").cast(pl.Float64, strict=False),
        )
    else:
        notes = {"port_marrow": 2, "thornquay": 0}[town]
        lines = pl.read_excel(
            SAMPLE_PROGRAMS / town / "audits_and_costs.xlsx",
            sheet_name="costs",
            read_options={"header_row": notes, "dtypes": "string"},
        ).with_columns(
            pl.col("cost_date").str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False),
            pl.col("amount").cast(pl.Float64, strict=False),
        )
    good = lines.filter(pl.col("category").is_in(COST_CATEGORIES))
    return good.drop_nulls(["cost_date", "amount"])


@EACH_YEAR
def test_the_program_cost_is_the_sum_of_the_ledger_s_lines(sample, town, label):
    one = sample(town)
    _, register = one.year(label)
    from_date, before_date = one.program.months(label)
    lines = ledger(town)
    in_year = lines.filter(pl.col("cost_date").is_between(from_date, before_date, closed="left"))
    assert in_year.height > 20
    assert register["program_cost"].value == pytest.approx(in_year["amount"].sum(), rel=TOLERANCE)
    to_date = lines.filter(pl.col("cost_date") < before_date)["amount"].sum()
    assert register["program_cost_to_date"].value == pytest.approx(to_date, rel=TOLERANCE)
    for category, amount in in_year.group_by("category").agg(pl.col("amount").sum()).iter_rows():
        assert register[f"program_cost[{category}]"].value == pytest.approx(amount, rel=TOLERANCE)
