"""Charts of one figure in its parts: prior routes, gross to net, account, cohorts, drivers."""

from __future__ import annotations

from collections.abc import Mapping

from planner.emissions.account import IN_NET
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report.charts.drawing import Drawing
from planner.report.charts.ranges import (
    Plot,
    plot_bars,
    plot_ranges,
    rows_drawing,
    rows_in_words,
    with_value,
)
from planner.report.figures.emissions import NET
from planner.report.figures.weighings import AUDITED, GAP, SURVEYED
from planner.report.wording import Wording, known_words

ROUTES = ("residual_bin", "garden_compost", "kerbside_organics", "animals", "other")


def routes_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of where the scraps went before: the finding is the residual bin's share."""
    found = with_value(register.parts("prior_route_share"))
    if ROUTES[0] not in found:
        return None
    title = said("chart.routes.title", share=wording.figure(found[ROUTES[0]]))
    shown = {said(f"route.{name}"): found[name] for name in ROUTES if name in found}
    return _rows("routes", "prior_routes", "chain", title, shown, wording, plot_ranges)


def chain_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of gross to net: the finding is what is left of the gross."""
    steps = register.parts("gross_to_net")
    if not steps or len(with_value(steps)) < len(steps):
        return None
    gross, *_, net = steps.values()
    caption = said("chart.chain.caption", year=register.reporting_year)
    claim = register.find("gross_claim_t")
    if claim is not None and claim.value is not None:
        caption += " " + said("chart.chain.claim", claim=wording.amount(claim))
    title = said("chart.chain.title", gross=wording.amount(gross), net=wording.figure(net))
    shown = {said(f"step.{name}"): figure for name, figure in steps.items()}
    return _rows("chain", "gross_to_net", "chain", title, shown, wording, caption=caption)


def account_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the emissions account over 100 years: the finding is the net."""
    parts = with_value(register.parts("account_t_co2e"))
    found = {name.removeprefix("100_years."): figure for name, figure in parts.items()}
    if NET not in found:
        return None
    net, key = found[NET], "title"
    if net.high is not None and net.high < 0.0:
        key = "below"
    elif net.low is not None and net.high is not None and net.low <= 0.0:
        key = "unsure"
    title = said(f"chart.account.{key}", net=wording.figure(net))
    shown = {said(f"line.{name}"): found[name] for name in (*IN_NET, NET) if name in found}
    caption, name = said("chart.account.caption", year=register.reporting_year), "emissions_account"
    return _rows("account", name, "emissions", title, shown, wording, caption=caption)


def cohorts_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of bins in use by the year in which they were given."""
    years = with_value(register.parts("bins_in_use_by_year_given"))
    parts = {said("chart.cohorts.given", year=label): figure for label, figure in years.items()}
    if not parts or register["bins_in_use"].value is None:
        return None
    newest = list(years)[-1]
    told = {"whole": wording.figure(register["bins_in_use"]), "year": register.reporting_year}
    part = wording.plain(years[newest])
    title = said("chart.cohorts.title", **told, part=part, newest=newest)
    return _rows("cohorts", "bins_in_use_by_cohort", "details", title, parts, wording)


def drivers_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of what drives the uncertainty of the emissions avoided."""
    shares = with_value(register.parts("variance_share"))
    ranked = sorted(shares.items(), key=lambda item: -(item[1].value or 0.0))
    drawn = {
        source_words(name): figure for name, figure in ranked[:8] if (figure.value or 0.0) >= 0.005
    }
    if not drawn:
        return None
    first, most = next(iter(drawn.items()))
    title = said("chart.drivers.title", source=first, share=wording.share(most.value or 0.0))
    return _rows("drivers", "variance_shares", "sureness", title, drawn, wording)


def source_words(name: str) -> str:
    """Name a source of doubt: a published factor, the survey, or sources acting together."""
    return known_words(f"driver.{name}", name.replace("_", " "))


def audit_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the audited and the surveyed change: the finding is whether they agree."""
    names = {AUDITED: "audited", SURVEYED: "surveyed", GAP: "gap"}
    found = with_value({name: register[name] for name in names if name in register})
    if len(found) < len(names):
        return None
    holds_zero = {name: (f.low or 0.0) <= 0.0 <= (f.high or 0.0) for name, f in found.items()}
    result = "differ" if not holds_zero[GAP] else "small" if holds_zero[AUDITED] else "agree"
    parts = {said(f"chart.audit.{words}"): found[name] for name, words in names.items()}
    title = said(f"chart.audit.{result}")
    return _rows("audit", "audit_and_survey", "sureness", title, parts, wording, plot_ranges)


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
    if any(figure.low is not None for figure in figures.values()):
        caption = f"{caption} {said('chart.intervals')}"
    alt_text = f"{said(f'chart.{key}.alt')}. {rows_in_words(figures, wording)}."
    words = (title, caption, alt_text, said(f"chart.{key}.axis"))
    return rows_drawing(name, words, figures, wording, plot, section)
