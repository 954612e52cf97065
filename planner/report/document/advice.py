"""What we recommend for next year: each by a rule on the results, which the report states."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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


@dataclass(frozen=True)
class Advice:
    """Something recommended.

    Parameters
    ----------
    short
        One sentence for the summary.
    reason
        The results behind it.
    rule
        When it is recommended.
    """

    short: str
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
        "Where zero lies outside the 95% interval of audit less survey.",
    )


def _keep_in_use(contents: Contents) -> Advice | None:
    saying = contents.saying
    early, later = (f"retention_by_age[{age}]" for age in (EARLY_MONTHS, YEAR_MONTHS))
    if not saying.knows(early, later):
        return None
    lost_early, lost = 1.0 - saying.value(early), 1.0 - saying.value(later)
    when = "in the first three months" if lost_early >= HALF * lost else "after the third month"
    return Advice(
        "Call each new home within three months of the hand-over, and help it to go on."
        if lost_early >= HALF * lost
        else "Call homes again six months after the hand-over, and help them to go on.",
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
            "Only {landfill_share} of the scraps fed would have been landfilled; the rest went "
            "elsewhere before.{where}",
            where=where,
        ),
        "Where the whole interval of the landfilled share lies below one half.",
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
    result = contents.result("kept_out_of_landfill_t")
    if result is None or contents.is_running:
        return None
    short = {
        "met": "Set a higher target for tonnes, as the one for this year was met.",
        "close to": "Keep the target for tonnes as it is, since this year came close to it.",
        "missed": "Build the next target on tonnes that were measured, not on bins given.",
    }
    return Advice(
        short[result],
        contents.saying.say(
            "The target was {kept_out_of_landfill_t_target:amount}, the result is "
            "{kept_out_of_landfill_t}."
        ),
        "By whether the target for tonnes was met, close or missed.",
    )


def _not_by_savings(contents: Contents) -> Advice | None:
    saying = contents.saying
    if not saying.knows("program_cost", "avoided_disposal_cost"):
        return None
    if saying.limits("avoided_disposal_cost")[1] >= saying.value("program_cost"):
        return None
    return Advice(
        "Judge the program by more than fees saved, which do not cover its cost.",
        saying.say(
            "Levy and gate fees not paid come to {avoided_disposal_cost}, the cost of the year to "
            "{program_cost:amount}. Bins last for years, so part of the saving is still to come."
        ),
        "Where the whole interval of fees not paid in the year lies below the year's cost.",
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
            f"In round {rounds[-1]} {{response_share[{rounds[-1]}]:amount}} of those asked "
            "answered. If those who stopped answer less often, bins in use come out too high."
        ),
        "Where fewer than 80% answered the last round (US Office of Management and Budget, "
        "Standards and Guidelines for Statistical Surveys, 2006, guideline 3.2.9; from memory).",
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
            "Without enough weighed diaries, published ranges stand in for what a reported "
            "amount weighs, and they are wide."
        ),
        "Where a calibration does not rest on the program's own weighings.",
    )


def _audit(contents: Contents) -> Advice | None:
    if audit_agrees(contents.saying) is not None:
        return None
    return Advice(
        "Have waste bins opened and weighed, before and after, with and without worm bins.",
        contents.saying.say("No kerbside audit stands beside what households report."),
        "Where no audit can be compared with the survey.",
    )


def _mend_rows(contents: Contents) -> Advice | None:
    if contents.quality.refusals.is_empty():
        return None
    return Advice(
        "Mend the rows that were refused, and load them again.",
        contents.saying.say(
            "Some rows of the files are not taken in yet; the workbook's page of data quality "
            "lists them."
        ),
        "Where refused rows are open.",
    )


RULES: tuple[Callable[[Contents], Advice | None], ...] = (
    _audit_differs,
    _keep_in_use,
    _reach_landfill,
    _set_target,
    _more_answers,
    _weigh,
    _audit,
    _not_by_savings,
    _mend_rows,
)
