"""Charts of a plan: frontier, drivers, scenarios and the fan of tonnes by month."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import Drawing, render_chart, tick_words, write_picture
from planner.report.charts.ranges import plot_ranges, rows_drawing, rows_in_words, with_value
from planner.report.plan.words import named
from planner.report.wording import Wording

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from planner.sizing.sizing import Sizing

HEADROOM = 1.12
FAN_TICKS = 9


def write_plan_charts(
    folder: Path, register: FigureRegister, sizing: Sizing
) -> tuple[Drawing, ...]:
    """Write the charts of a plan as PNG and SVG, in the order in which they are best read."""
    wording = Wording.of(sizing.program)
    drawings = [frontier_drawing(register, wording), fan_drawing(register, wording)]
    if sizing.drivers.variance[0] > 0.0:
        drawings.append(drivers_drawing(register, sizing, wording))
    if any(one.plan is not None for one in sizing.scenarios):
        drawings.append(scenarios_drawing(register, wording))
    for drawing in drawings:
        write_picture(folder, drawing.name, *render_chart(drawing)[:2])
    return tuple(drawings)


def frontier_drawing(register: FigureRegister, wording: Wording) -> Drawing:
    """Chart of the frontier: the finding is what the next tonne costs."""
    cost, tonnes = (
        [figure.value or 0.0 for figure in register.parts(name).values()]
        for name in ("plan_frontier_cost", "plan_frontier_kept_out_t")
    )
    plan_bins, dearer = register["plan_bins"], register["plan_next_tonne_cost"]
    own = register["plan_cost"].value or 0.0, register["plan_kept_out_t"].value or 0.0

    def plot(axes: Axes) -> None:
        axes.plot(cost, tonnes, color=style.MAIN, linewidth=2.0, marker="o", markersize=4)
        axes.plot([own[0]], [own[1]], "o", color=style.ACCENT, markersize=9)
        axes.annotate(
            said("plan.chart.the_plan", bins=wording.amount(plan_bins)),
            own,
            (10, -14),
            textcoords="offset points",
            color=style.ACCENT,
            weight="bold",
        )
        axes.set_ylim(0.0, max(tonnes) * HEADROOM or 1.0)
        axes.set_xlim(min(cost), max(cost) + 0.12 * (max(cost) - min(cost) or 1.0))
        axes.set_xlabel(said("plan.chart.cost_axis", currency=wording.currency))
        axes.set_ylabel(said("plan.chart.tonnes_axis"))
        axes.xaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))
        axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))

    finding = (
        said("plan.chart.next", cost=wording.plain(dearer))
        if dearer.value is not None
        else said("plan.chart.no_next")
    )
    points = "; ".join(
        said("plan.chart.point", cost=wording.money(c), tonnes=wording.number(t, 1))
        for c, t in zip(cost, tonnes, strict=True)
    )
    return Drawing(
        "plan_frontier",
        finding,
        said("plan.chart.frontier_note"),
        said("plan.chart.frontier_alt", points=points),
        plot,
    )


def fan_drawing(register: FigureRegister, wording: Wording) -> Drawing:
    """Chart of tonnes by month as a fan: the finding is the first year's total."""
    months = register.parts("plan_kept_out_t_in_month")
    low, middle, high = (
        np.array(
            [f.value for f in register.parts(f"plan_kept_out_t_in_month_p{p}").values()], float
        )
        for p in (10, 50, 90)
    )
    outer = np.array([[f.low, f.high] for f in months.values()], float)
    year, total = next(iter(register.parts("plan_kept_out_t_in_year").items()))
    places = np.arange(len(months))

    def plot(axes: Axes) -> None:
        axes.fill_between(places, outer[:, 0], outer[:, 1], facecolor=style.BAND, **style.EDGED)
        axes.fill_between(places, low, high, facecolor=style.FILL, **style.WITHIN)
        axes.plot(places, middle, color=style.INK, linewidth=2.0)
        names = [wording.month(month) for month in months]
        step = 12 if len(names) > 4 * FAN_TICKS else 6 if len(names) > FAN_TICKS * 2 else 2
        axes.set_xticks(places[::step], [names[n].replace(" ", "\n") for n in places[::step]])
        axes.set_xlim(0, len(months) - 1)
        axes.set_ylim(0.0, float(outer.max()) * HEADROOM or 1.0)
        axes.set_ylabel(said("plan.chart.month_axis"))
        axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))

    return Drawing(
        "plan_months",
        said("plan.chart.months", tonnes=wording.figure(total), year=year),
        said("plan.chart.months_note"),
        said(
            "plan.chart.months_alt",
            first=wording.month(next(iter(months))),
            last=wording.month(list(months)[-1]),
            year=year,
            tonnes=wording.figure(total),
        ),
        plot,
    )


def drivers_drawing(register: FigureRegister, sizing: Sizing, wording: Wording) -> Drawing:
    """Chart of what the tonnes depend on: the finding is the greatest driver."""
    parts = register.parts("plan_variance_share_of_kept_out_t")
    of_drivers = {
        named("driver", driver): parts[driver.lower().replace(" ", "_")]
        for driver in sizing.drivers.drivers
    }
    largest = sorted(of_drivers.items(), key=lambda item: -(item[1].value or 0.0))
    shown = {name: one for name, one in largest if (one.value or 0.0) >= 0.005}
    first, figure = next(iter(shown.items()), ("", None))

    finding = said("plan.chart.drivers", driver=first)
    if figure is not None:
        finding = said("plan.chart.drivers_share", driver=first, share=wording.amount(figure))
    alt_text = said("plan.chart.drivers_alt", rows=rows_in_words(shown, wording))
    words = (finding, said("plan.chart.drivers_note"), alt_text, said("plan.chart.variance_axis"))
    return rows_drawing("plan_drivers", words, shown, wording)


def scenarios_drawing(register: FigureRegister, wording: Wording) -> Drawing:
    """Chart of scenarios against the plan: the finding is the one that differs most."""
    differences = with_value(register.parts("plan_scenario_kept_out_t_difference"))
    shown = {named("scenario", name): figure for name, figure in differences.items()}
    best = max(shown, key=lambda name: shown[name].value or 0.0)
    gain = shown[best].value or 0.0
    words = wording.figure(replace(shown[best], label=""))
    finding = (
        said("plan.chart.better", plan=best, tonnes=words)
        if gain > 0.0 and (shown[best].low or 0.0) > 0.0
        else said("plan.chart.none_better")
    )
    alt_text = said("plan.chart.scenarios_alt", rows=rows_in_words(shown, wording))
    told = (finding, said("plan.chart.scenarios_note"), alt_text, said("plan.chart.scenario_axis"))
    return rows_drawing("plan_scenarios", told, shown, wording, plot_ranges)
