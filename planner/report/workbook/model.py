"""The live sheets of the model: assumptions, months, landfill, account, money."""

from __future__ import annotations

from planner.emissions.choice import (
    LANDFILL_FACTORS,
    FactorRows,
    LandfillRows,
    choose_emission_factors,
)
from planner.emissions.drawn import MID_MONTH
from planner.factors import Factor, FactorTable
from planner.figures import FigureRegister
from planner.messages import paper, said
from planner.program import Program
from planner.program.giveaway import year_label
from planner.report.workbook.model_account import ASSUMED, add_model_account
from planner.report.workbook.model_cohorts import add_model_cohorts
from planner.report.workbook.model_landfill import add_model_landfill
from planner.report.workbook.model_money import add_model_money
from planner.report.workbook.model_months import WEEKS, add_model_months
from planner.report.workbook.named_cells import (
    ANYWAY_SHARE,
    GATE_FEE,
    INFLATION,
    LANDFILLED_SHARE,
    LEVY,
    PRICE_RISE,
    SUPPORT,
    THROWN_SHARE,
    USUAL_FEED,
    USUAL_SHARE,
    Assumption,
    Site,
    add_assumptions,
    discount_cell,
    price_cell,
)
from planner.report.workbook.page import Book


def add_model(book: Book, register: FigureRegister, program: Program, table: FactorTable) -> None:
    """Write the sheets, on the program file's own assumptions and the factors it calls for.

    Nothing is written where the register does not hold the parts of each month's feed.
    """
    if not register.parts(WEEKS):
        return
    rows = choose_emission_factors(program, table)
    sites = [
        Site(
            place,
            landfill.name,
            tuple(step.from_age_years for step in landfill.site.gas_capture),
            len(rows.landfills),
        )
        for place, landfill in enumerate(rows.landfills, start=1)
    ]
    assumed = add_assumptions(book, _groups(register, program, table, rows, sites))
    cohorts = add_model_cohorts(book, register)
    months = add_model_months(book, register, program, assumed, cohorts)
    landfill = add_model_landfill(book, register, assumed, sites, months)
    net = add_model_account(book, register, months, landfill)
    add_model_money(book, register, program, assumed, months, net)


def _groups(
    register: FigureRegister,
    program: Program,
    table: FactorTable,
    rows: FactorRows,
    sites: list[Site],
) -> list[tuple[str, list[Assumption]]]:
    landfilled = program.landfill.landfilled_share_of_residual_waste
    key = "program.toml, landfill.landfilled_share_of_residual_waste"
    month, source = "model.assumed.mid_month", "model.assumed.mid_month_source"
    waste = [
        Assumption(LANDFILLED_SHARE, "model.assumed.landfilled", landfilled, "share", key),
        *(_of_factor(rows.shared[name], table) for name in LANDFILL_FACTORS),
        Assumption("from_deposit_months", month, MID_MONTH, "months", source),
    ]
    groups = [("model.assumed.scraps", waste)]
    for site, landfill in zip(sites, rows.landfills, strict=True):
        name = "model.assumed.the_landfill"
        if len(sites) > 1:
            name = said("model.landfill_named", name=landfill.name)
        groups.append((name, _of_landfill(site, landfill, table)))
    account = [_of_factor(rows.shared[name], table, name) for name in ASSUMED]
    return [
        ("model.assumed.feed", _of_feed(register)),
        *groups,
        ("model.assumed.account", account),
        ("model.assumed.money", _of_money(register, program)),
    ]


def _of_feed(register: FigureRegister) -> list[Assumption]:
    """Feed and share that the months are set in proportion to, and both leaks, as measured."""
    source = said("model.assumed.see_figures", figures=said("sheet.figures"))
    return [
        Assumption(cell, figure.label, value, figure.unit, source)
        for cell, figure, instead in (
            (USUAL_FEED, register["feed_kg_per_bin_week"], 1.0),
            (USUAL_SHARE, register["prior_route_share[residual_bin]"], 1.0),
            (ANYWAY_SHARE, register["composted_anyway_share"], 0.0),
            (THROWN_SHARE, register["thrown_away_share"], 0.0),
        )
        for value in (figure.value or instead,)
    ]


def _of_money(register: FigureRegister, program: Program) -> list[Assumption]:
    council, money = program.council, program.money
    of_blocks = {year.reporting_year for year in program.reporting_years}
    prices = [
        Assumption(
            price_cell(name, label, register.reporting_year),
            said(f"model.assumed.price.{name}", year=label),
            price,
            f"{council.currency} per t",
            f"program.toml, {'reporting_years' if label in of_blocks else 'scenarios'}, {label}",
        )
        for start, (levy, fee) in program.prices().items()
        for label in (year_label(start, council.reporting_year_first_month),)
        for name, price in ((LEVY, levy), (GATE_FEE, fee))
    ]
    to_come = [
        (INFLATION, "model.assumed.inflation", money.inflation_share, "share"),
        (PRICE_RISE, "model.assumed.price_rise", money.price_rise_share, "share"),
        (SUPPORT, "model.assumed.support", money.support_cost_per_bin_year, council.currency),
    ]
    source = said("model.assumed.see_figures", figures=said("sheet.figures"))
    rates = [
        Assumption(discount_cell(rate), "model.assumed.discount", float(rate), "a year", source)
        for rate in register.parts("net_present_value")
    ]
    return [
        *prices,
        *(
            Assumption(name, key, value, unit, f"program.toml, money.{name}")
            for name, key, value, unit in to_come
            if value or name != SUPPORT
        ),
        *rates,
    ]


def _of_landfill(site: Site, landfill: LandfillRows, table: FactorTable) -> list[Assumption]:
    own = [_of_factor(row, table, site.cell(row.factor_id)) for row in landfill.rows]
    others = (f"share_of_landfilled_waste_{place}" for place in range(2, site.count + 1))
    share = Assumption(
        site.share_cell,
        "model.assumed.share_of_waste",
        landfill.share_of_landfilled_waste,
        "share",
        "model.assumed.share_of_waste_source",
        # the first takes what the others leave
        formula=f"1-({'+'.join(others)})" if site.place == 1 else "",
    )
    captured = [
        Assumption(
            site.captured(step.from_age_years),
            said("model.assumed.captured", years=step.from_age_years),
            step.captured_share,
            "share",
            "program.toml, gas_capture",
        )
        for step in landfill.site.gas_capture
    ]
    return [*([share] if site.count > 1 else []), *own, *captured]


def _of_factor(row: Factor, table: FactorTable, name: str = "") -> Assumption:
    source = table.source(row.source_id)
    words = paper()
    place = f", {row.place(words)}" if row.source_place else ""
    return Assumption(
        name or row.factor_id,
        f"source.{row.factor_id}",
        row.value,
        row.unit,
        f"{source.cited(words)}{place}",
    )
