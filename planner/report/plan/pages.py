"""Pages of the sizing workbook on one bin, the frontier, sureness, scenarios and beliefs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import Number
from planner.report.plan.answers import KEPT_OUT_BY_ONE
from planner.report.plan.figures import PERCENTILES, plan_years
from planner.report.workbook.formats import columns_of_figures, figure_cells, money_cell, to_cents
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page
    from planner.sizing.sizing import Sizing

RESULTS = (
    "plan_bins_given",
    "plan_kept_out_t",
    "plan_net_t_co2e",
    "plan_cost",
    "plan_cost_per_t",
)


def add_frontier_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write the frontier, the limits that bind, and what the next tonne costs."""
    wording = book.wording
    page = book.add("Money and limits", (62, 22, 16, 30))
    page.title("What more or less money would do")
    page.note(
        "Each row is the best plan for its amount of money, within every other limit: expected "
        "tonnes over the horizon."
    )
    columns = [
        list(register.parts(name).values())
        for name in (
            "plan_frontier_cost",
            "plan_frontier_bins",
            "plan_frontier_kept_out_t",
            "plan_frontier_marginal_cost_per_t",
        )
    ]
    rows = [[_cell(figure, wording) for figure in row] for row in zip(*columns, strict=True)]
    page.table(
        ("cost of the plan", "bins", "kept out, t", "cost of a further tonne since the row above"),
        rows,
    )
    page.note(
        f"{register['plan_next_tonne_cost'].label}: "
        f"{wording.amount(register['plan_next_tonne_cost'])}."
    )
    _add_limits(page, sizing, wording)
    page.finish(book.footer, landscape=True)


def _add_limits(page: Page, sizing: Sizing, wording: Wording) -> None:
    page.section("Limits that bind")
    if not sizing.binding:
        page.note("No limit binds: there are bins and money for everybody who wants one.")
    else:
        page.table(
            ("limit", "one more", "tonnes", "cost"),
            [
                [
                    worth.limit.words,
                    worth.limit.unit,
                    Number(worth.tonnes, "#,##0.000"),
                    money_cell(worth.cost, wording),
                ]
                for worth in sizing.binding
            ],
        )
        page.note(
            "An integer program has no dual prices: each limit was given one step and the program "
            "solved again, with bins that may be split, so that no rounding is in the difference."
        )


def add_sureness_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write percentiles, years, drivers and the rule of thumb."""
    wording = book.wording
    page = book.add("How sure", (54, 14, 14, 14, 14, 14, 14))
    page.title("How sure the plan is, and what drives it")
    page.note(
        f"{sizing.program.sizing.draws_count:,} draws of every uncertain input, from a scrambled "
        "Sobol sequence through each input's shape, correlated as stated."
    )
    rows: list[list[Cell]] = []
    for name in RESULTS:
        figure = register[name]
        if figure.value is None:
            continue
        parts = [_cell(register[f"{name}[p{p}]"], wording, figure) for p in PERCENTILES]
        _, low, high = figure_cells(figure, wording)
        rows.append([figure.label, low, *parts, high])
    page.table(("result", "2.5%", "10%", "50%", "90%", "97.5%"), rows)
    _add_years(page, register, sizing, wording)
    _add_drivers(page, register, sizing)
    page.section("The rule of thumb and the plan's first year")
    page.table(
        ("step", "t in a year"),
        [[step.words, Number(step.tonnes, "#,##0.0")] for step in sizing.steps],
    )
    page.note(
        "The first row is what is often claimed for a compost bin with garden waste. From the "
        "second row on, each row puts one number of the plan in the place of the rule's."
    )
    page.finish(book.footer, landscape=True)


def _add_years(page: Page, register: FigureRegister, sizing: Sizing, wording: Wording) -> None:
    page.section("Years")
    columns = [
        [register[f"{name}[{year}]"] for year in plan_years(sizing)]
        for name in ("plan_kept_out_t_in_year", "plan_new_kept_out_t_in_year")
    ]
    cells = columns_of_figures([[*column, column[-1]] for column in columns], wording)[:-1]
    page.table(
        ("year", "all bins, t", "low", "high", "the plan's, t", "low", "high"),
        [[year, *row] for year, row in zip(plan_years(sizing), cells, strict=True)],
    )


def _add_drivers(page: Page, register: FigureRegister, sizing: Sizing) -> None:
    page.section("What drives the result")
    drivers = [d.lower().replace(" ", "_") for d in sizing.drivers.drivers]
    page.table(
        ("input", "of tonnes, alone", "with others", "of emissions, alone", "of cost per tonne"),
        [
            [
                label,
                *(
                    Number(register[f"{name}[{part}]"].value, "0%")
                    for name in (
                        "plan_variance_share_of_kept_out_t",
                        "plan_total_variance_share_of_kept_out_t",
                        "plan_variance_share_of_net_t_co2e",
                        "plan_variance_share_of_cost_per_t",
                    )
                ),
            ]
            for label, part in zip(sizing.drivers.drivers, drivers, strict=True)
        ],
    )
    page.note("Shares of the variance: what would go if the input alone were known.")


def add_scenarios_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write scenarios side by side, and each difference with its interval."""
    wording = book.wording
    page = book.add("Scenarios", (30, 10, 14, 14, 14, 14, 14, 14))
    page.title("Other plans compared with this one")
    shown = [one.name for one in sizing.scenarios if one.plan is not None]
    rows: list[list[Cell]] = [
        [
            "this plan",
            _cell(register["plan_bins"], wording),
            *(_value(register[f"plan_{n}"], wording) for n in _SIDE),
        ]
    ]
    for name in shown:
        rows.append(
            [
                name,
                _cell(register[f"plan_scenario_bins[{name}]"], wording),
                *(_value(register[f"plan_scenario_{n}[{name}]"], wording) for n in _SIDE),
            ]
        )
    page.table(("plan", "bins", "kept out, t", "avoided, t CO2-e", "cost", "cost per t"), rows)
    for name, label in (
        ("kept_out_t", "Tonnes kept out, less those of this plan"),
        ("net_t_co2e", "Emissions avoided, less those of this plan"),
        ("cost", "Cost, less that of this plan"),
        ("cost_per_t", "Cost per tonne, less that of this plan"),
    ):
        page.section(label)
        page.table(
            ("plan", "", "difference", "low", "high"),
            [
                [
                    one,
                    "",
                    *figure_cells(register[f"plan_scenario_{name}_difference[{one}]"], wording),
                ]
                for one in shown
            ],
        )
    page.note(
        "Both plans meet the same draws, so the interval is that of the difference alone. "
        "Where it holds zero, no difference can be told."
    )
    for one in sizing.scenarios:
        if one.plan is None:
            page.note(one.why_not)
    page.finish(book.footer, landscape=True)


_SIDE = ("kept_out_t", "net_t_co2e", "cost", "cost_per_t")


def add_beliefs_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write what was learnt, and every uncertain input."""
    wording = book.wording
    page = book.add("Beliefs", (50, 12, 12, 12, 12, 12, 12, 12, 12, 12, 16))
    page.title("What is believed, and what measuring has taught")
    if sizing.inputs.learned:
        page.section("Before and after measuring")
        rows: list[list[Cell]] = []
        for one in sizing.inputs.learned:
            cells = [
                cell
                for name in ("plan_prior", "plan_measured", "plan_posterior")
                for cell in figure_cells(register[f"{name}[{one.name}]"], wording)
            ]
            worth = Number(one.effective_size, "#,##0", "a quantity")
            rows.append([one.label, *cells, worth])
        page.table(
            (
                "input",
                "before",
                "low",
                "high",
                "measured",
                "low",
                "high",
                "after",
                "low",
                "high",
                "independent answers",
            ),
            rows,
        )
        page.note(
            "Shares: beta-binomial with the survey's effective sample size; quantities above zero: "
            "normal on the log scale. A measurement of last year counts with "
            f"{sizing.program.sizing.last_year_weight:g} for next year."
        )
    else:
        page.note("Nothing is measured yet: every number is published, assumed or your own.")
    _add_inputs(page, register, sizing, wording)
    page.finish(book.footer, landscape=True)


def _add_inputs(page: Page, register: FigureRegister, sizing: Sizing, wording: Wording) -> None:
    page.section("Every uncertain input of the plan")
    page.table(
        ("input", "value", "low", "high", "unit", "shape"),
        [
            [
                belief.label,
                *figure_cells(register[f"plan_input[{belief.name}]"], wording),
                belief.unit,
                belief.shape,
            ]
            for belief in sizing.inputs.beliefs
            if belief.unit != "rank"
        ],
    )
    page.note(
        "Inputs of what was landfilled before (where surveyed) and of emissions are drawn together "
        "and have no single range here."
    )


def add_one_bin_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write one row for each area and dwelling."""
    wording = book.wording
    page = book.add("One bin", (26, 14, 13, 10, 10, 13, 10, 10, 13, 10, 10))
    years = sizing.main.settings.horizon_years
    page.title(f"What one bin does over {years} years")
    page.note(KEPT_OUT_BY_ONE)
    groups = sizing.context.groups
    names = ("plan_one_bin_kept_out_kg", "plan_one_bin_net_kg_co2e", "plan_one_bin_cost")
    shown = [n for n, label in enumerate(groups.labels) if f"{names[0]}[{label}]" in register]
    if not shown:
        page.note("No model suits any dwelling.")
        page.finish(book.footer)
        return
    columns = [[register[f"{name}[{groups.labels[n]}]"] for n in shown] for name in names]
    cells = columns_of_figures([[*column, column[-1]] for column in columns], wording)[:-1]
    page.table(
        (
            "area",
            "dwelling",
            "kept out, kg",
            "low",
            "high",
            "avoided, kg CO2-e",
            "low",
            "high",
            "cost",
            "low",
            "high",
        ),
        [
            [groups.area_names[groups.area[n]], DWELLINGS[groups.dwelling[n]], *row]
            for n, row in zip(shown, cells, strict=True)
        ],
        stays_in_sight=True,
    )
    page.finish(book.footer, landscape=True)


def _cell(figure: Figure, wording: Wording, like: Figure | None = None) -> Cell:
    """Value of a figure; shown with the decimals of another where given."""
    if like is None:
        return figure_cells(figure, wording)[0]
    code = figure_cells(like, wording)[0]
    shown = code.number_format if isinstance(code, Number) else "General"
    value = None if figure.value is None else to_cents(figure.value, figure.unit, wording)
    return Number(value, shown)


def _value(figure: Figure, wording: Wording) -> Cell:
    return figure_cells(figure, wording)[0]
