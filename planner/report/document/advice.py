"""What we recommend for next year: each by a rule on the results, which the report states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from planner.messages import paper, said
from planner.program.giveaway import next_label
from planner.report.document import Statement
from planner.report.document.contents import Contents
from planner.report.document.saying import (
    NET,
    OTHER_NET,
    Saying,
    audit_agrees,
    compared,
    joined,
    side_of_zero,
)
from planner.report.wording import labelled, listing
from planner.survey.response import GOOD_RESPONSE_SHARE

IF_TWICE = "if_users_odds[bins_in_use|2]"
HALF = 0.5
PLANNED_T, PLANNED_BINS = "next_plan_kept_out_t", "next_plan_bins"
TARGET = "kept_out_of_landfill_t_target"
AS_LIKELY = 0.11
"""Of a 95% interval: so far from its middle a normal estimate is reached two times in three."""

LONG_RUN = "emissions_avoided_100_years_t_co2e"


@dataclass(frozen=True)
class Advice:
    """Something recommended."""

    short: Statement | str  # one sentence for the brief
    reason: Statement  # the results behind it
    rule: str  # when it is recommended


def advice(contents: Contents) -> tuple[Advice, ...]:
    """Recommend what the results call for, the most pressing first."""
    found = (rule(contents) for rule in RULES)
    return tuple(one for one in found if one is not None)


def _advise(contents: Contents, key: str, **words: str) -> Advice:
    """Recommend what stands under a key, with its reason and its rule."""
    return Advice(key, contents.saying.say(f"{key}.why", **words), f"{key}.when")


def _where(key: str, holds: Callable[[Contents], bool]) -> Callable[[Contents], Advice | None]:
    """Recommend what stands under a key where a condition holds."""
    return lambda contents: _advise(contents, key) if holds(contents) else None


def _keep_in_use(contents: Contents) -> Advice | None:
    saying = contents.saying
    early, later = (f"retention_by_age[{age}]" for age in (3, 12))
    if not saying.knows(early, later):
        return None
    lost_early, lost = 1.0 - saying.value(early), 1.0 - saying.value(later)
    when = "early" if lost_early >= HALF * lost else "later"
    why = saying.say(f"advice.stop_{when}.why", early=early, later=later)
    return Advice(f"advice.call_{when}", why, "advice.keep_in_use.when")


def _reach_landfill(contents: Contents) -> Advice | None:
    saying = contents.saying
    if not saying.knows("landfill_share") or saying.limits("landfill_share")[1] >= HALF:
        return None
    above = _areas_above(contents)
    names = listing(above, 3)
    where = [saying.say("advice.reach_landfill.where", areas=names)] if above else []
    advised = _advise(contents, "advice.reach_landfill")
    return replace(advised, reason=joined(advised.reason, *where))


def _areas_above(contents: Contents) -> list[str]:
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
        target = _advise(contents, "advice.set_target", year=coming)
        key = "advice.keep_target" if _is_within_reach(saying) else "advice.set_target"
        return replace(target, short=saying.say(key, year=coming))
    carried_on = f"kept_out_of_landfill_t_by_year[{coming}]"
    if not saying.knows(carried_on):
        return None
    plan = _advise(contents, "advice.plan_first", carried_on=carried_on, year=coming)
    return replace(plan, short=saying.say("advice.plan_first", year=coming))


def _is_within_reach(saying: Saying) -> bool:
    """Whether the plan may as well reach the year's target as miss it."""
    if not saying.knows(TARGET):
        return False
    low, high = saying.limits(PLANNED_T)
    return abs(saying.value(PLANNED_T) - saying.value(TARGET)) <= AS_LIKELY * (high - low)


def _cheaper_way(contents: Contents) -> Advice | None:
    """Advise to weigh the bins against what the council says costs less by the tonne."""
    saying = contents.saying
    if not saying.knows(NET):
        return None
    ids = {name: f"{OTHER_NET}[{name}]" for name in contents.figures(OTHER_NET)}
    names = [name for name, one in ids.items() if compared(saying, NET, one) == "below"]
    if not names:
        return None
    others = listing([labelled(name, f"{{{ids[name]}}}") for name in names])
    why = saying.say(paper().text("advice.cheaper.why").replace("{others}", others))
    return Advice(said("advice.cheaper", names=listing(names)), why, "advice.cheaper.when")


def _climate(contents: Contents) -> Advice | None:
    """Advise against a claim where the net may be below zero, and name the larger cause."""
    saying = contents.saying
    if saying.limits(LONG_RUN)[0] > 0.0:
        return None
    making, gases = "making_and_freight_100_years_t_co2e", "bin_process_gases_100_years_t_co2e"
    is_making = saying.knows(making, gases) and saying.value(making) > saying.value(gases)
    cause, side = (making, "making") if is_making else (gases, "gases")
    effect = said(f"advice.climate.effect_{side_of_zero(saying, LONG_RUN)}")
    key = f"advice.climate.{side}.why" if saying.knows(cause) else "advice.climate.why"
    why = saying.say(key, cause=cause, effect=effect)
    return Advice(f"advice.climate.{side}", why, "advice.climate.when")


def _costs_more_than_it_saves(contents: Contents) -> bool:
    saying = contents.saying
    if not saying.knows("program_cost", "avoided_disposal_cost"):
        return False
    return saying.limits("avoided_disposal_cost")[1] < saying.value("program_cost")


def _more_answers(contents: Contents) -> Advice | None:
    """Advise to call some of the silent, unless that was done: a round is followed up once."""
    saying, waves = contents.saying, contents.quality.waves
    rounds = contents.known("response_share")
    if not rounds or saying.value(f"response_share[{rounds[-1]}]") >= GOOD_RESPONSE_SHARE:
        return None
    if waves.filter(waves["wave_id"] == rounds[-1], waves["again_count"] > 0).height:
        return None
    why = [saying.say("advice.more_answers.why", asked=f"response_share[{rounds[-1]}]")]
    if saying.knows(IF_TWICE, "bins_in_use"):
        why.append(saying.say("advice.more_answers.twice", twice=IF_TWICE))
    return Advice("advice.more_answers", joined(*why), "advice.more_answers.when")


def _rests_on_weighings_of_others(contents: Contents) -> bool:
    names = ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
    inputs = [contents.register[name].inputs for name in names if contents.saying.knows(name)]
    # own weighings need no published factor
    return any(item.kind == "factor" for found in inputs for item in found)


RULES: tuple[Callable[[Contents], Advice | None], ...] = (
    _where("advice.audit_differs", lambda one: audit_agrees(one.saying) is False),
    _set_target,
    _cheaper_way,
    _climate,
    _keep_in_use,
    _reach_landfill,
    _more_answers,
    _where("advice.weigh", _rests_on_weighings_of_others),
    _where("advice.audit", lambda one: audit_agrees(one.saying) is None),
    _where("advice.not_by_savings", _costs_more_than_it_saves),
    _where("advice.fix_rows", lambda one: not one.quality.refusals.is_empty()),
)
