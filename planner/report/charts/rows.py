"""Charts of one figure in its parts: prior routes, gross to net, account, cohorts, drivers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import paper, said
from planner.report.charts.drawing import Drawing, row_spots
from planner.report.charts.ranges import (
    plot_bars,
    plot_ranges,
    rows_in_words,
    rows_inches,
    with_value,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from matplotlib.axes import Axes

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording

    Plot = Callable[[Axes, Mapping[str, Figure], str, Wording], None]

INTERVALS = "chart.intervals"
ROUTES = ("residual_bin", "garden_compost", "kerbside_organics", "animals", "other")
STEPS = (
    "given",
    "set_up",
    "in_use",
    "fed",
    "from_residual_bin",
    "landfilled",
    "not_composted_anyway",
    "kept_out",
)
ACCOUNT = (
    "landfill_methane",
    "bin_methane",
    "bin_nitrous_oxide",
    "bin_plastic",
    "bin_disposal",
    "bedding",
    "worm_supply",
    "freight",
    "household_trips",
    "collection_saved",
    "net",
)
MOST_DRIVERS = 8
LEAST_SHARE = 0.005


def routes_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of where the scraps went before: the finding is the residual bin's share."""
    found = with_value(register.parts("prior_route_share"))
    if ROUTES[0] not in found:
        return None
    title = said("chart.routes.title", share=wording.figure(found[ROUTES[0]]))
    shown = _named(found, {name: said(f"route.{name}") for name in ROUTES})
    return _rows("routes", "prior_routes", "chain", title, shown, wording, plot_ranges)


def chain_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of gross to net: the finding is what is left of the gross."""
    found = with_value(register.parts("gross_to_net"))
    if not found.keys() >= set(STEPS):
        return None
    gross, net = found[STEPS[0]], found[STEPS[-1]]
    caption = said("chart.chain.caption", year=register.reporting_year)
    if "gross_claim_t" in register and register["gross_claim_t"].value is not None:
        claim = wording.amount(register["gross_claim_t"])
        caption += " " + said("chart.chain.claim", claim=claim)
    title = said("chart.chain.title", gross=wording.amount(gross), net=wording.figure(net))
    shown = _named(found, {name: said(f"step.{name}") for name in STEPS})
    return _rows("chain", "gross_to_net", "chain", title, shown, wording, caption=caption)


def account_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the emissions account over 100 years: the finding is the net."""
    parts = with_value(register.parts("account_t_co2e"))
    found = {name.removeprefix("100_years."): figure for name, figure in parts.items()}
    if ACCOUNT[-1] not in found:
        return None
    title = _account_finding(found[ACCOUNT[-1]], wording)
    shown = _named(found, {name: said(f"line.{name}") for name in ACCOUNT})
    caption = said("chart.account.caption", year=register.reporting_year)
    key = "emissions_account"
    return _rows("account", key, "emissions", title, shown, wording, caption=caption)


def cohorts_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of bins in use by the year in which they were given."""
    years = with_value(register.parts("bins_in_use_by_year_given"))
    parts = {said("chart.cohorts.given", year=label): figure for label, figure in years.items()}
    if not parts or register["bins_in_use"].value is None:
        return None
    whole = wording.figure(register["bins_in_use"])
    newest = list(years)[-1]
    title = said(
        "chart.cohorts.title",
        whole=whole,
        year=register.reporting_year,
        part=wording.plain(years[newest]),
        newest=newest,
    )
    return _rows("cohorts", "bins_in_use_by_cohort", "details", title, parts, wording)


def drivers_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of what drives the uncertainty of the emissions avoided."""
    shares = with_value(register.parts("variance_share"))
    ranked = sorted(shares.items(), key=lambda item: -(item[1].value or 0.0))
    drawn = {
        source_words(name): figure
        for name, figure in ranked[:MOST_DRIVERS]
        if (figure.value or 0.0) >= LEAST_SHARE
    }
    if not drawn:
        return None
    first, most = next(iter(drawn.items()))
    title = said("chart.drivers.title", source=first, share=wording.share(most.value or 0.0))
    return _rows("drivers", "variance_shares", "sureness", title, drawn, wording)


def source_words(name: str) -> str:
    """Name a source of doubt: a published factor, the survey, or sources acting together."""
    key = f"driver.{name}"
    words = paper().text(key)
    return name.replace("_", " ") if words == key else words


def audit_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the audited and the surveyed change: the finding is whether they agree."""
    names = {
        "audit_food_kg_per_household_week_change": said("chart.audit.audited"),
        "survey_food_kg_per_household_week_change": said("chart.audit.surveyed"),
        "audit_less_survey_food_kg_per_household_week": said("chart.audit.gap"),
    }
    parts = {words: register[name] for name, words in names.items() if name in register}
    if len(with_value(parts)) < len(names):
        return None
    audited, _, gap = parts.values()
    agrees = (gap.low or 0.0) <= 0.0 <= (gap.high or 0.0)
    title = _audit_finding(audited, agrees=agrees)
    return _rows("audit", "audit_and_survey", "sureness", title, parts, wording, plot_ranges)


def _audit_finding(audited: Figure, *, agrees: bool) -> str:
    if not agrees:
        return said("chart.audit.differ")
    if (audited.low or 0.0) <= 0.0 <= (audited.high or 0.0):
        return said("chart.audit.small")
    return said("chart.audit.agree")


def _named(found: Mapping[str, Figure], words: Mapping[str, str]) -> dict[str, Figure]:
    """Name the parts that there are, in the order of their words."""
    return {said: found[name] for name, said in words.items() if name in found}


def _account_finding(net: Figure, wording: Wording) -> str:
    found = said("chart.account.title", net=wording.figure(net))
    if net.high is not None and net.high < 0.0:
        return said("chart.account.below", net=wording.figure(net))
    if net.low is not None and net.high is not None and net.low <= 0.0:
        return said("chart.account.unsure", net=wording.figure(net))
    return found


def _rows(
    key: str,
    name: str,
    section: str,
    title: str,
    figures: Mapping[str, Figure],
    wording: Wording,
    plot: Plot = plot_bars,
    caption: str = "",
) -> Drawing:
    """Draw a row for each figure; the words of a chart stand under its key."""
    caption = caption or said(f"chart.{key}.caption")
    has_intervals = any(figure.low is not None for figure in figures.values())
    unit = said(f"chart.{key}.axis")
    return Drawing(
        name,
        title,
        f"{caption} {said(INTERVALS)}" if has_intervals else caption,
        f"{said(f'chart.{key}.alt')}. {rows_in_words(figures, wording)}.",
        lambda axes: plot(axes, figures, unit, wording),
        rows_inches(len(figures)),
        section,
        row_spots(figures, wording),
    )
