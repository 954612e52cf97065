"""Emissions on three bases, and money."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.emissions import APART, OTHER_ROUTES
from planner.report.document.judging import side_of_zero
from planner.report.document.model import Section
from planner.report.document.saying import points, table, text
from planner.report.document.tables import figure_table
from planner.report.figures.emissions import LINES, NET, NET_LABEL
from planner.report.stated import stated_assumptions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement, Table

BASES = ("in_year", "to_date", "100_years")
BASIS_LINES = (
    ("Landfill methane avoided", "landfill_methane_avoided_{}_t_co2e"),
    ("Methane and nitrous oxide from the bins (subtracted)", "bin_process_gases_{}_t_co2e"),
    ("Making bins, transport and leakage (subtracted)", "making_and_freight_{}_t_co2e"),
    ("Emissions avoided", "emissions_avoided_{}_t_co2e"),
)
SIDES = {
    "above": "above zero",
    "below": "below zero",
    "either": "it could be zero",
}
BASIS_WORDS = {
    "in_year": "In the year itself the net result is {figure}: {side}.",
    "to_date": "Since the first bin it is {figure}: {side}.",
    "100_years": "Over 100 years, counting this year's scraps alone, it is {figure}: {side}.",
}
BASES_NOTE = (
    "Emissions avoided are methane avoided minus program emissions. A minus sign means that the "
    "program emitted more than it avoided."
)
ACCOUNT = "account_t_co2e"
LONG_RUN = "100_years"
SHORTER = ((" that were thrown away after all", " thrown away"), (" that would have been ", " "))
"""What a row can do without."""

SIGNS = "A plus means avoided, a minus means emitted by the program."
CONSERVATIVE = "Cautious: every uncertain number at the end of its range that lowers the net."
CLAIMS = (
    "The three bases count some of the same methane and are never added.",
    "Carbon dioxide from plants and food is not counted, on either side.",
    "Emissions avoided are not an offset or a credit. Nobody has checked them against a crediting "
    "standard, and the food might have been kept out of landfill in other ways.",
    "Nothing here says that worm bins emit less than other composting. Too few measurements "
    "exist to say so.",
)
IN_KIND = ("in_kind_cost", "program_cost_with_in_kind")


def emissions(contents: Contents) -> Section:
    """Say what emissions were avoided, on each basis."""
    saying = contents.saying
    statements = [
        saying.say(
            words.replace("{figure}", f"{{emissions_avoided_{basis}_t_co2e}}"),
            side=SIDES[side_of_zero(saying, f"emissions_avoided_{basis}_t_co2e")],
        )
        for basis, words in BASIS_WORDS.items()
    ]
    blocks: list[Block] = [
        text(
            "Food in landfill gives off methane over many years. The bins give off some methane "
            "and nitrous oxide at once, and making and delivering them emits too. Emissions "
            "avoided are methane avoided minus program emissions.",
            *statements,
        ),
        _bases(contents),
        *contents.pictures("emissions"),
        *points(CLAIMS),
    ]
    return Section("emissions", "Emissions avoided", tuple(blocks))


def _bases(contents: Contents) -> Table:
    saying = contents.saying
    rows: list[tuple[Statement | str, ...]] = []
    for name, template in BASIS_LINES:
        ids = [template.format(basis) for basis in BASES]
        if ids[0] not in contents.register:
            continue
        rows.append((name, *(saying.say(f"{{{i}:number}}") for i in ids)))
        rows.append(("95% interval", *(saying.cell(i, "spread") for i in ids)))
    return table(
        "bases",
        "Emissions avoided, in tonnes of CO2-e",
        ("Emissions", "In the year", "To date", "Over 100 years"),
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
            "What the net over 100 years is made of, in tonnes of CO2-e",
            ("Source", "Best estimate", "95% interval", "Cautious"),
            [
                (
                    *_account_row(contents, name),
                    contents.saying.cell(f"account_conservative_t_co2e[{name}]"),
                )
                for name in inside
            ],
            numbers=(1, 2, 3),
            has_total=inside[-1].endswith(f".{NET}"),
            note=f"{SIGNS} {CONSERVATIVE}",
        )
    if apart:
        yield table(
            "apart",
            "Not part of the net, over 100 years, in tonnes of CO2-e",
            ("Source", "Best estimate", "95% interval"),
            [_account_row(contents, name) for name in apart],
            numbers=(1, 2),
            note=SIGNS,
        )


def _account_row(contents: Contents, name: str) -> tuple[Statement | str, ...]:
    saying, figure_id = contents.saying, f"{ACCOUNT}[{name}]"
    return (
        _row_name(name.partition(".")[2]),
        saying.cell(figure_id),
        saying.cell(figure_id, "spread"),
    )


def _row_name(line: str) -> str:
    """Name a line as its figure does, a little shorter."""
    words = LINES[line].label if line in LINES else NET_LABEL
    for long, short in SHORTER:
        words = words.replace(long, short)
    return words


def _is_apart(name: str) -> bool:
    return name.partition(".")[2] in (*OTHER_ROUTES, *APART)


def money(contents: Contents) -> Section:
    """Say what the program cost, and what it saved in disposal."""
    blocks: list[Block] = [
        text(
            "The cost is the sum of the council's ledger, minus receipts such as co-payments. Each "
            "tonne kept out of landfill saves its levy and gate fee."
        ),
        figure_table(
            contents,
            "money",
            "Cost and savings",
            leaves_out=[name for name in IN_KIND if not contents.saying.knows(name)],
            note=as_booked(contents),
        ),
        *contents.pictures("money"),
    ]
    return Section("money", "Money", tuple(blocks))


def present_value(contents: Contents) -> Iterator[Block]:
    """Set out present value and benefit-cost ratio at each discount rate."""
    saying = contents.saying
    rates = contents.figures("net_present_value")
    known = [rate for rate in rates if saying.knows(f"net_present_value[{rate}]")]
    if not known:
        return
    sides = {side_of_zero(saying, f"net_present_value[{rate}]") for rate in known}
    words = {
        frozenset({"above"}): "At every discount rate, the fees saved over the life of the bins "
        "are worth more than the program costs.",
        frozenset({"below"}): "At no discount rate do the fees saved over the life of the bins "
        "cover the cost of the program.",
    }
    yield text(
        words.get(
            frozenset(sides),
            "Whether the fees saved over the life of the bins cover the cost depends on the "
            "discount rate, or is too close to call.",
        )
    )
    for assumed in stated_assumptions(contents.program, saying.wording, contents.area_names):
        yield text(assumed)
    optional = {
        "net_present_value_as_surveyed": "Without the stated changes",
        "net_present_value_with_carbon": "With emissions at the stated carbon value",
    }
    more = {name: words for name, words in optional.items() if contents.figures(name)}
    if "net_present_value_with_carbon" in more:
        yield text(f"Carbon value: {contents.figures('carbon_worth')[known[0]].method}")
    yield table(
        "present_value",
        "Present value over the service life of the bins given so far",
        (
            "Discount rate",
            "Net present value",
            "95% interval",
            "Benefit–cost ratio",
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
        yield text(
            saying.say(
                "Go on or stop? {program_cost_to_date:amount} is spent and stays spent whatever "
                "is decided, so it is left out below (HM Treasury, The Green Book, paragraph "
                "5.17); the present value above has it."
            )
        )
    for name, caption, headings in (
        (
            "{}_to_come",
            "From now on: the bins given so far",
            ("Fees saved", "Support", "Net value"),
        ),
        (
            "another_year_{}",
            "From now on: another year of giving like this one",
            ("Fees saved", "Cost", "Net value"),
        ),
    ):
        ids = [name.format(part) for part in ("benefits", "costs", "net_value")]
        shown = [rate for rate in rates if saying.knows(f"{ids[0]}[{rate}]")]
        if shown:
            yield table(
                name.replace("_{}", "").replace("{}_", ""),
                caption,
                ("Discount rate", *headings, "95% interval"),
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
    return f"Price base: {contents.label}, as booked and paid; no inflation is taken out."


def _in_prices(contents: Contents, figure_id: str) -> str:
    """Say the price base of a present value."""
    first = contents.register[figure_id].label.rpartition("in money of ")[2]
    inflation = contents.program.money.inflation_share
    if inflation:
        share = contents.saying.wording.share(inflation, 1)
        return f"Price base: real, prices of {first}; {share} inflation a year is taken out."
    return (
        f"Price base: money of {first}; no inflation is stated, so prices to come stay as they are."
    )


def ledger(contents: Contents) -> Table:
    """List the cost of the year by category."""
    saying = contents.saying
    rows = [
        (category.replace("_", " "), saying.cell(f"program_cost[{category}]"))
        for category in contents.figures("program_cost")
    ]
    total = (contents.register["program_cost"].label, saying.cell("program_cost"))
    return table(
        "ledger",
        "Cost of the year by category",
        ("Category", contents.program.council.currency),
        [*rows, total],
        numbers=(1,),
        has_total=True,
        note=as_booked(contents),
    )
