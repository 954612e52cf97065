"""Figures for deciding: what continuing is worth, another year of giving, emissions at a price."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.emissions import IN_NET, net_by_year_t_co2e
from planner.messages import paper
from planner.money import carbon_worth
from planner.report.appraising import (
    appraise,
    appraise_another_year,
    appraise_to_come,
    discount_rates,
    labels,
    year_starts,
)
from planner.report.disclosure import HIDDEN
from planner.report.figures.declaring import USED_ON, Declared, number_if_known
from planner.report.figures.money import NO_LEDGER
from planner.report.figures.present_value import (
    CARRIED_ON,
    PRICES,
    rate_inputs,
    rate_words,
)
from planner.report.inputs import of_key

if TYPE_CHECKING:
    from planner.figures import Input
    from planner.money import Appraisal
    from planner.report.figures.declaring import Writer

PRICED = " ".join(
    f"account_t_co2e[100_years.{name}]" for name in IN_NET if name != "collection_saved"
)
"""Lines of the account that a carbon value is set on; rounds are not said to shrink for ever."""


FIGURES = (
    Declared(
        "benefits_to_come[{rate}]", "{currency}", f"{CARRIED_ON} {PRICES}", method="sunk carried"
    ),
    Declared("costs_to_come[{rate}]", "{currency}", "{support}", method="own sunk"),
    Declared(
        "net_value_to_come[{rate}]", "{currency}", "benefits_to_come[{rate}] costs_to_come[{rate}]"
    ),
    Declared(
        "another_year_benefits[{rate}]",
        "{currency}",
        f"{CARRIED_ON} {PRICES}",
        method="another_year carried",
    ),
    Declared(
        "another_year_costs[{rate}]", "{currency}", "program_cost {support}", method="another_year"
    ),
    Declared(
        "another_year_net_value[{rate}]",
        "{currency}",
        "another_year_benefits[{rate}] another_year_costs[{rate}]",
    ),
    Declared(
        "net_present_value_as_surveyed[{rate}]",
        "{currency}",
        f"kept_out_of_landfill_t landfill_share {USED_ON} {PRICES} query:costs_by_month "
        "{support}",
    ),
    Declared(
        "carbon_worth[{rate}]",
        "{currency}",
        f"{CARRIED_ON} fed_to_date_t {PRICED} key:money.inflation_share",
    ),
    Declared(
        "net_present_value_with_carbon[{rate}]",
        "{currency}",
        "net_present_value[{rate}] carbon_worth[{rate}]",
    ),
)


def add_choices(out: Writer) -> None:
    """Add what is to be decided at each discount rate."""
    year = out.year
    to_come, again = appraise_to_come(year.program, year.carried), _again(out)
    for rate, factor in discount_rates(year.program, year.factor_table).items():
        also = rate_inputs(year, rate, factor)
        _put(out, "to_come", to_come, rate, also)
        _put_again(out, again, rate, also)
        _put_as_surveyed(out, rate, also)
        _put_carbon(out, rate, also)


def _again(out: Writer) -> Appraisal | None:
    year = out.year
    if year.again is None:
        return None
    return appraise_another_year(year.program, year.again, year.cost.in_year)


def _put(
    out: Writer, suffix: str, appraisal: Appraisal, rate: float, also: tuple[Input, ...]
) -> None:
    words = rate_words(out.year, rate, labels(appraisal, out.year.program)[0])
    for name, draws in (
        ("benefits", appraisal.present_value_of_benefits(rate)),
        ("costs", number_if_known(appraisal.present_value_of_costs(rate))),
        ("net_value", appraisal.net_present_value(rate)),
    ):
        out.put(f"{name}_{suffix}[{{rate}}]", draws, words, also=also)


def _put_again(out: Writer, again: Appraisal | None, rate: float, also: tuple[Input, ...]) -> None:
    year = out.year
    base = again or appraise_to_come(year.program, year.carried)
    words = rate_words(year, rate, labels(base, year.program)[0])
    given = out.register["bins_given"]
    why = "why.no_bins" if again is None else HIDDEN if given.value is None else ""
    for name in ("benefits", "costs", "net_value"):
        figure_id = f"another_year_{name}[{{rate}}]"
        if again is None or why:
            out.put(figure_id, None, words, why=why)
        elif name != "benefits" and not year.cost.lines_count:
            out.put(figure_id, None, words, why=NO_LEDGER)
        elif name == "benefits":
            out.put(figure_id, again.present_value_of_benefits(rate), words, also=also)
        elif name == "costs":
            costs = number_if_known(again.present_value_of_costs(rate))
            out.put(figure_id, costs, words, also=also)
        else:
            out.put(figure_id, again.net_present_value(rate), words, also=also)


def _put_as_surveyed(out: Writer, rate: float, also: tuple[Input, ...]) -> None:
    year = out.year
    if year.carried_as_surveyed is None:
        return
    appraisal = appraise(
        year.program.model_copy(update={"scenarios": ()}),
        year.diversion.cohorts,
        year.diversion.kept_out_kg,
        year.carried_as_surveyed,
        year.counts.costs_by_month,
    )
    words = rate_words(year, rate, labels(appraisal, year.program)[0])
    known = year.cost.lines_count > 0
    value = appraisal.net_present_value(rate) if known else None
    figure_id = "net_present_value_as_surveyed[{rate}]"
    out.put(figure_id, value, words, why=NO_LEDGER, also=also)


def _put_carbon(out: Writer, rate: float, also: tuple[Input, ...]) -> None:
    """Add the worth of emissions avoided where the program file states a carbon value."""
    year, stated = out.year, out.year.program.money.carbon_value
    if stated is None:
        return
    given, carried = year.diversion.cohorts, year.carried
    years, starts = year_starts(year.program, (*given.months, *carried.months))
    fed_kg, kept_out_kg = (
        np.hstack([measured, to_come])
        for measured, to_come in (
            (year.diversion.fed_kg, carried.fed_kg),
            (year.diversion.kept_out_kg, carried.kept_out_kg),
        )
    )
    supplies = year.activity.supplies
    net = net_by_year_t_co2e(kept_out_kg, fed_kg, supplies, year.emission_factors, starts)
    by_month = year.counts.costs_by_month
    appraisal = appraise(year.program, given, year.diversion.kept_out_kg, carried, by_month)
    # the ledger may begin in a year before the first bin
    late = years[0] - appraisal.years[0]
    net = np.hstack([np.zeros((net.shape[0], late)), net])
    worth = carbon_worth(
        net,
        stated.per_t_co2e,
        appraisal.years[0] - stated.price_year,
        stated.rise_share,
        year.program.money.inflation_share,
        rate,
    )
    words = rate_words(year, rate, labels(appraisal, year.program)[0])
    say = paper()
    named = say.say(
        "said.carbon_value",
        amount=say.significant(stated.per_t_co2e),
        year=str(stated.price_year),
        rise=say.share(stated.rise_share, 1),
        source=stated.source,
    )
    key = of_key("money.carbon_value", named)
    out.put("carbon_worth[{rate}]", worth, {**words, "source": named}, also=(*also, key))
    whole = appraisal.net_present_value(rate) + worth if year.cost.lines_count else None
    out.put("net_present_value_with_carbon[{rate}]", whole, words, why=NO_LEDGER, also=(key,))
