"""What we recommend for next year: each by a rule on the results, which the report states."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.program.giveaway import next_label
from planner.report.document.judging import audit_agrees
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.report.document.contents import Contents
    from planner.report.document.model import Statement

GOOD_RESPONSE_SHARE = 0.8
"""Below it, study whether those who did not answer differ.

US Office of Management and Budget, Standards and Guidelines for Statistical Surveys, 2006,
guideline 3.2.9; from memory.
"""

HALF = 0.5
EARLY_MONTHS, YEAR_MONTHS = 3, 12
MOST_AREAS = 3
OWN_WEIGHINGS = "From own weighings"
PLANNED_T, PLANNED_BINS = "next_plan_kept_out_t", "next_plan_bins"
LONG_RUN = "emissions_avoided_100_years_t_co2e"


@dataclass(frozen=True)
class Advice:
    """Something recommended.

    Parameters
    ----------
    short
        One sentence for the brief.
    reason
        The results behind it.
    rule
        When it is recommended.
    """

    short: Statement | str
    reason: Statement
    rule: str


def advice(contents: Contents) -> tuple[Advice, ...]:
    """Recommend what the results call for, the most pressing first."""
    found = (rule(contents) for rule in RULES)
    return tuple(one for one in found if one is not None)


def _audit_differs(contents: Contents) -> Advice | None:
    if audit_agrees(contents.saying) is not False:
        return None
    return Advice(
        "Find out why the bin audit and the survey differ.",
        contents.saying.say(
            "The audit found a change of {audit_food_kg_per_household_week_change}, the survey "
            "one of {survey_food_kg_per_household_week_change}."
        ),
        "Where audit and survey differ by more than chance explains.",
    )


def _keep_in_use(contents: Contents) -> Advice | None:
    saying = contents.saying
    early, later = (f"retention_by_age[{age}]" for age in (EARLY_MONTHS, YEAR_MONTHS))
    if not saying.knows(early, later):
        return None
    lost_early, lost = 1.0 - saying.value(early), 1.0 - saying.value(later)
    when = "in the first three months" if lost_early >= HALF * lost else "after the third month"
    return Advice(
        "Call each home within three months of the hand-over, and help it to keep going."
        if lost_early >= HALF * lost
        else "Call homes again six months after the hand-over, and help them to keep going.",
        saying.say(
            f"Most homes that stop in the first year stop {when}: {{{early}:amount}} of bins are "
            f"in use after 3 months and {{{later}:amount}} after 12."
        ),
        "By whether at least half of the bins that stop within 12 months stop within 3.",
    )


def _reach_landfill(contents: Contents) -> Advice | None:
    saying = contents.saying
    if not saying.knows("landfill_share") or saying.limits("landfill_share")[1] >= HALF:
        return None
    above = _areas_above(contents)
    where = f" It is highest in {listing(above, MOST_AREAS)}." if above else ""
    return Advice(
        "Offer bins first where food scraps still go to landfill.",
        saying.say(
            "Only {landfill_share} of the scraps fed would have gone to landfill. The rest went "
            "elsewhere before.{where}",
            where=where,
        ),
        "Where less than half of the scraps would have gone to landfill, even at the top of the "
        "range.",
    )


def _areas_above(contents: Contents) -> list[str]:
    """Areas whose landfilled share is above that of all, most first."""
    whole = contents.saying.limits("landfill_share")[1]
    areas = contents.figures("landfill_share")
    above = [
        (figure.value, contents.area_names.get(area_id, area_id))
        for area_id, figure in areas.items()
        if figure.value is not None and figure.low is not None and figure.low > whole
    ]
    return [name for _, name in sorted(above, key=lambda one: (-one[0], one[1]))]


def _set_target(contents: Contents) -> Advice | None:
    """Advise on next year's target by the plan for it, or by the bins that are already out."""
    if contents.is_running:
        return None
    saying, coming = contents.saying, next_label(contents.label)
    if saying.knows(PLANNED_T, PLANNED_BINS):
        return Advice(
            saying.say(
                "Set the target for {year} at {next_plan_kept_out_t:amount} or less: that is what "
                "the plan expects of all bins.",
                year=coming,
            ),
            saying.say(
                "The plan for {year} gives {next_plan_bins:amount} and expects all bins, those "
                "given before among them, to keep {next_plan_kept_out_t} out of landfill.",
                year=coming,
            ),
            "By the plan for the coming year, where there is one.",
        )
    carried_on = f"kept_out_of_landfill_t_by_year[{coming}]"
    if not saying.knows(carried_on):
        return None
    return Advice(
        saying.say("Plan the {year} giveaway before you set its target.", year=coming),
        saying.say(
            f"The bins already given should keep {{{carried_on}}} out of landfill in {{year}}. "
            "What new bins add follows from the plan.",
            year=coming,
        ),
        "Where there is no plan for the coming year yet.",
    )


def _climate(contents: Contents) -> Advice | None:
    """Advise against a claim where the net may be below zero, and name the larger cause."""
    saying = contents.saying
    if saying.limits(LONG_RUN)[0] > 0.0:
        return None
    making, gases = (
        f"{name}_100_years_t_co2e" for name in ("making_and_freight", "bin_process_gases")
    )
    is_making = saying.knows(making, gases) and saying.value(making) > saying.value(gases)
    step = (
        "order bins with less plastic and keep each in use longer"
        if is_making
        else "teach homes to keep bins airy and not to overfeed"
    )
    cause = making if is_making else gases
    words = "Making and transport emit" if is_making else "The bins themselves emit"
    return Advice(
        saying.say("Make no climate claim for the bins, and {step}.", step=step),
        saying.say(
            f"Over 100 years the effect may be below zero: {{{LONG_RUN}}}. {words} "
            f"{{{cause}:amount}}, the largest part on our side."
        )
        if saying.knows(cause)
        else saying.say(f"Over 100 years the effect may be below zero: {{{LONG_RUN}}}."),
        "Where the range of emissions avoided over 100 years reaches zero or below.",
    )


def _not_by_savings(contents: Contents) -> Advice | None:
    saying = contents.saying
    if not saying.knows("program_cost", "avoided_disposal_cost"):
        return None
    if saying.limits("avoided_disposal_cost")[1] >= saying.value("program_cost"):
        return None
    return Advice(
        "Do not expect the fees saved to pay for the program: weigh its other benefits.",
        saying.say(
            "Levy and gate fee saved come to {avoided_disposal_cost}; the year cost "
            "{program_cost:amount}. Bins last for years, so part of the saving is still to come."
        ),
        "Where the fees saved in the year are below its cost, even at the top of their range.",
    )


def _more_answers(contents: Contents) -> Advice | None:
    saying = contents.saying
    rounds = [
        name
        for name in contents.figures("response_share")
        if saying.knows(f"response_share[{name}]")
    ]
    if not rounds or saying.value(f"response_share[{rounds[-1]}]") >= GOOD_RESPONSE_SHARE:
        return None
    return Advice(
        "Call a few of the homes that did not reply, to see if they differ.",
        saying.say(
            f"{{response_share[{rounds[-1]}]:amount}} of the homes asked last answered. If those "
            "who stopped answer less often, the count of bins in use is too high."
        ),
        "Where fewer than 80% answered the last survey.",
    )


def _weigh(contents: Contents) -> Advice | None:
    saying = contents.saying
    names = [
        name
        for name in ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
        if saying.knows(name)
    ]
    weighed = [contents.register[name].method.startswith(OWN_WEIGHINGS) for name in names]
    if not names or all(weighed):
        return None
    return Advice(
        "Ask some homes to weigh their scraps for a week.",
        saying.say(
            "Too few homes weighed their scraps. Published figures stand in for what a reported "
            "amount weighs, and their range is wide."
        ),
        "Where the program's own weighings are too few.",
    )


def _audit(contents: Contents) -> Advice | None:
    if audit_agrees(contents.saying) is not None:
        return None
    return Advice(
        "Have waste bins opened and weighed, before and after, with and without worm bins.",
        contents.saying.say("Nothing but what homes say supports the figures yet."),
        "Where there is no audit to compare with the survey.",
    )


def _fix_rows(contents: Contents) -> Advice | None:
    if contents.quality.refusals.is_empty():
        return None
    return Advice(
        "Fix the rows of your files that were refused, and load them again.",
        contents.saying.say(
            "Some rows of the files do not count yet; the workbook's page on data quality lists "
            "them."
        ),
        "Where rows are still refused.",
    )


RULES: tuple[Callable[[Contents], Advice | None], ...] = (
    _audit_differs,
    _set_target,
    _climate,
    _keep_in_use,
    _reach_landfill,
    _more_answers,
    _weigh,
    _audit,
    _not_by_savings,
    _fix_rows,
)
