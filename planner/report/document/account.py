"""Emissions on three bases, and money."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.emissions.account import APART, OTHER_ROUTES
from planner.messages import said
from planner.program.giveaway import label_start, year_label
from planner.report.appraising import stated_assumptions
from planner.report.document import Section
from planner.report.document.contents import figure_table
from planner.report.document.saying import points, side_of_zero, table, text
from planner.report.figures.emissions import NET, line_words
from planner.report.wording import worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document import Block, Statement, Table
    from planner.report.document.contents import Contents

BASES = ("in_year", "to_date", "100_years")
BASIS_LINES = (
    ("report.basis.landfill", "landfill_methane_avoided_{}_t_co2e"),
    ("report.basis.bins", "bin_process_gases_{}_t_co2e"),
    ("report.basis.making", "making_and_freight_{}_t_co2e"),
    ("report.word.avoided", "emissions_avoided_{}_t_co2e"),
)
BASIS_WORDS = {
    "emissions_avoided_in_year_t_co2e": "report.basis.in_year_words",
    "emissions_avoided_to_date_t_co2e": "report.basis.to_date_words",
    "emissions_avoided_100_years_t_co2e": "report.basis.long_run_words",
}
BASES_NOTE = "report.basis.note"
ACCOUNT = "account_t_co2e"
LONG_RUN = "100_years"
SIGNS = "report.account.signs"
CONSERVATIVE = "report.account.cautious_note"
CLAIMS = (
    "report.claim.bases",
    "report.claim.biogenic",
    "report.claim.no_offset",
    "report.claim.no_ranking",
)
IN_KIND = ("in_kind_cost", "program_cost_with_in_kind")


def emissions(contents: Contents) -> Section:
    """Say what emissions were avoided, on each basis."""
    saying = contents.saying
    statements = [
        saying.say(
            words,
            figure=name,
            side=worded(f"report.side.{side_of_zero(saying, name)}"),
        )
        for name, words in BASIS_WORDS.items()
    ]
    blocks: list[Block] = [
        text(
            "report.emissions.lead",
            *statements,
        ),
        _bases(contents),
        *contents.pictures("emissions"),
        *points(CLAIMS),
    ]
    return Section("emissions", said("report.word.avoided"), tuple(blocks))


def _bases(contents: Contents) -> Table:
    saying = contents.saying
    rows: list[tuple[Statement | str, ...]] = []
    for name, template in BASIS_LINES:
        ids = [template.format(basis) for basis in BASES]
        if ids[0] not in contents.register:
            continue
        rows.append((name, *(saying.say(f"{{{i}:number}}") for i in ids)))
        rows.append(("report.interval", *(saying.cell(i, "spread") for i in ids)))
    return table(
        "bases",
        "report.basis.caption",
        (
            "report.basis.emissions",
            "report.basis.in_year",
            "report.basis.to_date",
            "report.basis.long_run",
        ),
        rows,
        numbers=(1, 2, 3),
        note=BASES_NOTE,
    )


def account_details(contents: Contents) -> Iterator[Table]:
    """Set out what the net over 100 years is made of, and what is not part of it."""
    lines = [name for name in contents.figures(ACCOUNT) if name.startswith(f"{LONG_RUN}.")]
    shown = [name for name in lines if contents.saying.knows(f"{ACCOUNT}[{name}]")]
    inside, apart = ([n for n in shown if _is_apart(n) is side] for side in (False, True))
    if inside:
        yield table(
            "account",
            "report.account.caption",
            (
                "report.account.source",
                "report.account.best",
                "report.interval",
                "report.account.cautious",
            ),
            [
                (
                    *_account_row(contents, name),
                    contents.saying.cell(f"account_conservative_t_co2e[{name}]"),
                )
                for name in inside
            ],
            numbers=(1, 2, 3),
            has_total=inside[-1].endswith(f".{NET}"),
            note=f"{worded(SIGNS)} {worded(CONSERVATIVE)}",
        )
    if apart:
        yield table(
            "apart",
            "report.account.apart",
            ("report.account.source", "report.account.best", "report.interval"),
            [_account_row(contents, name) for name in apart],
            numbers=(1, 2),
            note=SIGNS,
        )


def _account_row(contents: Contents, name: str) -> tuple[Statement | str, ...]:
    saying, figure_id = contents.saying, f"{ACCOUNT}[{name}]"
    return (
        line_words(name.partition(".")[2]),
        saying.cell(figure_id),
        saying.cell(figure_id, "spread"),
    )


def _is_apart(name: str) -> bool:
    return name.partition(".")[2] in (*OTHER_ROUTES, *APART)


def money(contents: Contents) -> Section:
    """Say what the program cost, and what it saved in disposal."""
    blocks: list[Block] = [
        text("report.money.lead"),
        figure_table(
            contents,
            "money",
            "report.money.caption",
            leaves_out=[name for name in IN_KIND if not contents.saying.knows(name)],
            note=as_booked(contents),
        ),
        *contents.pictures("money"),
    ]
    return Section("money", said("report.money.heading"), tuple(blocks))


def present_value(contents: Contents) -> Iterator[Block]:
    """Set out present value and benefit-cost ratio at each discount rate."""
    saying = contents.saying
    rates = contents.figures("net_present_value")
    known = [rate for rate in rates if saying.knows(f"net_present_value[{rate}]")]
    if not known:
        return
    sides = {side_of_zero(saying, f"net_present_value[{rate}]") for rate in known}
    words = {
        frozenset({"above"}): "report.value.always",
        frozenset({"below"}): "report.value.never",
    }
    yield text(
        words.get(
            frozenset(sides),
            "report.value.depends",
        )
    )
    for assumed in stated_assumptions(contents.program, saying.wording, contents.area_names):
        yield text(assumed)
    optional = {
        "net_present_value_as_surveyed": "report.value.as_surveyed",
        "net_present_value_with_carbon": "report.value.with_carbon",
    }
    more = {name: words for name, words in optional.items() if contents.figures(name)}
    if "net_present_value_with_carbon" in more:
        yield text(
            said("report.value.carbon", method=contents.figures("carbon_worth")[known[0]].method)
        )
    yield table(
        "present_value",
        "report.value.caption",
        (
            "report.value.rate",
            "report.value.net",
            "report.interval",
            "report.value.ratio",
            *more.values(),
        ),
        [
            (
                saying.wording.share(float(rate), 1),
                saying.cell(f"net_present_value[{rate}]"),
                saying.cell(f"net_present_value[{rate}]", "spread"),
                saying.cell(f"benefit_cost_ratio[{rate}]"),
                *(saying.cell(f"{name}[{rate}]") for name in more),
            )
            for rate in known
        ],
        numbers=range(1, 4 + len(more)),
        note=_in_prices(contents, f"net_present_value[{known[0]}]"),
    )


def to_decide(contents: Contents) -> Iterator[Block]:
    """Say what going on, or stopping, is worth from now on; what is spent is spent."""
    saying = contents.saying
    rates = [r for r in contents.figures("net_value_to_come") if _is_known(contents, r)]
    if not rates:
        return
    if saying.knows("program_cost_to_date"):
        yield text(saying.say("report.value.go_on"))
    for name, caption, headings in (
        (
            "{}_to_come",
            "report.value.to_come",
            ("report.value.saved", "report.value.support", "report.value.net_to_come"),
        ),
        (
            "another_year_{}",
            "report.value.another_year",
            ("report.value.saved", "report.value.cost", "report.value.net_to_come"),
        ),
    ):
        ids = [name.format(part) for part in ("benefits", "costs", "net_value")]
        shown = [rate for rate in rates if saying.knows(f"{ids[0]}[{rate}]")]
        if shown:
            yield table(
                name.replace("_{}", "").replace("{}_", ""),
                caption,
                ("report.value.rate", *headings, "report.interval"),
                [
                    (
                        saying.wording.share(float(rate), 1),
                        *(saying.cell(f"{one}[{rate}]") for one in ids),
                        saying.cell(f"{ids[-1]}[{rate}]", "spread"),
                    )
                    for rate in shown
                ],
                numbers=range(1, 5),
                note=_in_prices(contents, f"{ids[0]}[{shown[0]}]"),
            )


def _is_known(contents: Contents, rate: str) -> bool:
    return contents.saying.knows(f"net_value_to_come[{rate}]")


def as_booked(contents: Contents) -> str:
    """Say the price base of sums of the ledger."""
    return said("report.prices.booked", year=contents.label)


def _in_prices(contents: Contents, figure_id: str) -> str:
    """Say the price base of a present value."""
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
    rows = [
        (said(f"category.{category}"), saying.cell(f"program_cost[{category}]"))
        for category in contents.figures("program_cost")
    ]
    total = (contents.register["program_cost"].label, saying.cell("program_cost"))
    return table(
        "ledger",
        "report.ledger.caption",
        ("report.ledger.category", contents.program.council.currency),
        [*rows, total],
        numbers=(1,),
        has_total=True,
        note=as_booked(contents),
    )
