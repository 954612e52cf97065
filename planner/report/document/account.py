"""Emissions on three bases, and money."""

from __future__ import annotations

from collections.abc import Iterator

from planner.emissions.account import APART, OTHER_ROUTES
from planner.messages import said
from planner.program.giveaway import label_start, year_label
from planner.report.appraising import stated_assumptions
from planner.report.document import Block, Section, Statement, Table
from planner.report.document.contents import Contents, figure_table
from planner.report.document.saying import points, section, side_of_zero, table, text
from planner.report.figures.emissions import NET

BASES = ("in_year", "to_date", "100_years")
BASIS_LINES = (
    ("report.basis.landfill", "landfill_methane_avoided_{}_t_co2e"),
    ("report.basis.bins", "bin_process_gases_{}_t_co2e"),
    ("report.basis.making", "making_and_freight_{}_t_co2e"),
    ("report.word.avoided", "emissions_avoided_{}_t_co2e"),
)
SIGNS = "report.account.signs"
CLAIMS = ("bases", "biogenic", "no_offset", "no_ranking")
IN_KIND = ("in_kind_cost", "program_cost_with_in_kind")


def emissions(contents: Contents) -> Section:
    """Say what emissions were avoided, on each basis."""
    saying = contents.saying
    statements = [
        saying.say(f"report.basis.{basis}_words", figure=name, side=said(f"report.side.{side}"))
        for basis in BASES
        for name in (f"emissions_avoided_{basis}_t_co2e",)
        for side in (side_of_zero(saying, name),)
    ]
    return section(
        "emissions",
        "report.word.avoided",
        text("report.emissions.lead", *statements),
        _bases(contents),
        *contents.pictures("emissions"),
        *points(f"report.claim.{one}" for one in CLAIMS),
    )


def _bases(contents: Contents) -> Table:
    saying = contents.saying
    rows: list[tuple[Statement | str, ...]] = []
    for name, template in BASIS_LINES:
        ids = [template.format(basis) for basis in BASES]
        if ids[0] not in contents.register:
            continue
        rows.append((name, *(saying.say(f"{{{i}:number}}") for i in ids)))
        rows.append(("report.interval", *(saying.cell(i, "spread") for i in ids)))
    headings = [f"report.basis.{name}" for name in ("emissions", *BASES)]
    caption, note = "report.basis.caption", "report.basis.note"
    return table("bases", caption, headings, rows, numbers=(1, 2, 3), note=note)


def account_details(contents: Contents) -> Iterator[Table]:
    """Set out what the net over 100 years is made of, and what is not part of it."""
    saying, cautious = contents.saying, "account_conservative_t_co2e"
    rows = {
        name: (
            said(f"line.{name}"),
            *saying.cells(f"account_t_co2e[{place}]"),
            saying.cell(f"{cautious}[{place}]"),
        )
        for place in contents.figures("account_t_co2e")
        if place.startswith("100_years.") and saying.knows(f"account_t_co2e[{place}]")
        for name in (place.partition(".")[2],)
    }
    apart = [rows.pop(name)[:3] for name in (*OTHER_ROUTES, *APART) if name in rows]
    headings = ("report.account.source", "report.account.best", "report.interval")
    if rows:
        yield table(
            "account",
            "report.account.caption",
            (*headings, "report.account.cautious"),
            rows.values(),
            numbers=(1, 2, 3),
            has_total=list(rows)[-1] == NET,
            note=f"{said(SIGNS)} {said('report.account.cautious_note')}",
        )
    if apart:
        yield table("apart", "report.account.apart", headings, apart, numbers=(1, 2), note=SIGNS)


def money(contents: Contents) -> Section:
    """Say what the program cost, and what it saved in disposal."""
    leaves_out = [name for name in IN_KIND if not contents.saying.knows(name)]
    caption, note = "report.money.caption", price_base(contents)
    return section(
        "money",
        "report.money.heading",
        text("report.money.lead"),
        figure_table(contents, "money", caption, leaves_out=leaves_out, note=note),
        *contents.pictures("money"),
    )


def present_value(contents: Contents) -> Iterator[Block]:
    """Set out present value and benefit-cost ratio at each discount rate."""
    saying = contents.saying
    known = contents.known("net_present_value")
    if not known:
        return
    sides = {side_of_zero(saying, f"net_present_value[{rate}]") for rate in known}
    is_sure = {"above": "report.value.always", "below": "report.value.never"}
    yield text(is_sure.get("".join(sides), "report.value.depends"))
    for assumed in stated_assumptions(contents.program, saying.wording, contents.area_names):
        yield text(assumed)
    optional = {
        "net_present_value_as_surveyed": "report.value.as_surveyed",
        "net_present_value_with_carbon": "report.value.with_carbon",
    }
    more = {name: words for name, words in optional.items() if contents.figures(name)}
    if "net_present_value_with_carbon" in more:
        method = contents.figures("carbon_worth")[known[0]].method
        yield text(said("report.value.carbon", method=method))
    headings = ("report.value.rate", "report.value.net", "report.interval", "report.value.ratio")
    rows: list[tuple[Statement | str, ...]] = [
        (
            saying.wording.share(float(rate), 1),
            *saying.cells(f"net_present_value[{rate}]"),
            *(saying.cell(f"{name}[{rate}]") for name in ("benefit_cost_ratio", *more)),
        )
        for rate in known
    ]
    yield table(
        "present_value",
        "report.value.caption",
        (*headings, *more.values()),
        rows,
        numbers=range(1, 4 + len(more)),
        note=_in_prices(contents, f"net_present_value[{known[0]}]"),
    )


def to_decide(contents: Contents) -> Iterator[Block]:
    """Say what going on, or stopping, is worth from now on; what is spent is spent."""
    saying = contents.saying
    rates = contents.known("net_value_to_come")
    if not rates:
        return
    if saying.knows("program_cost_to_date"):
        yield text(saying.say("report.value.go_on"))
    for key, name, cost in (
        ("to_come", "{}_to_come", "support"),
        ("another_year", "another_year_{}", "cost"),
    ):
        benefits, costs, net = (name.format(one) for one in ("benefits", "costs", "net_value"))
        rows = [
            (
                saying.wording.share(float(rate), 1),
                saying.cell(f"{benefits}[{rate}]"),
                saying.cell(f"{costs}[{rate}]"),
                *saying.cells(f"{net}[{rate}]"),
            )
            for rate in rates
            if saying.knows(f"{benefits}[{rate}]")
        ]
        if rows:
            headings = [f"report.value.{one}" for one in ("rate", "saved", cost, "net_to_come")]
            note = _in_prices(contents, f"{benefits}[{rates[0]}]")
            caption, columns = f"report.value.{key}", (*headings, "report.interval")
            yield table(key, caption, columns, rows, numbers=range(1, 5), note=note)


def price_base(contents: Contents) -> str:
    """Say the price base of sums of the ledger."""
    return said("report.prices.booked", year=contents.label)


def _in_prices(contents: Contents, figure_id: str) -> str:
    label, program = contents.register[figure_id].label, contents.program
    month = program.council.reporting_year_first_month
    # what is still to come is in money of the year after the last
    coming = year_label((label_start(contents.label) or 0) + 1, month)
    years = (*(year.reporting_year for year in program.reporting_years), coming)
    first = next((year for year in years if year in label), years[0])
    inflation = contents.program.money.inflation_share
    if inflation:
        share = contents.saying.wording.share(inflation, 1)
        return said("report.prices.real", first=first, share=share)
    return said("report.prices.nominal", first=first)


def ledger(contents: Contents) -> Table:
    """List the cost of the year by category."""
    saying = contents.saying
    rows: list[tuple[Statement | str, ...]] = [
        (said(f"category.{category}"), saying.cell(f"program_cost[{category}]"))
        for category in contents.figures("program_cost")
    ]
    rows.append((contents.register["program_cost"].label, saying.cell("program_cost")))
    caption, note = "report.ledger.caption", price_base(contents)
    headings = ("report.ledger.category", contents.program.council.currency)
    return table("ledger", caption, headings, rows, numbers=(1,), has_total=True, note=note)
