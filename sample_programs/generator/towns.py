"""What is told about an invented town before anything is drawn.

Tuples over dwellings stand in the order of ``planner.tables.DWELLINGS``:
house, townhouse, apartment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ByDwelling = tuple[float, float, float]


@dataclass(frozen=True)
class Area:
    """A reporting area; `uptake` is its registrations per dwelling relative to others."""

    area_id: str
    area_name: str
    houses_count: int
    townhouses_count: int
    apartments_count: int
    residents_count: int
    kerbside_service: str
    is_priority: bool
    uptake: float = 1.0


@dataclass(frozen=True)
class BinModel:
    """A bin model given away, with the share of hand-overs that take it."""

    model_id: str
    model_name: str
    trays_count: int
    tray_area_m2: float
    plastic_kg: float
    unit_price: float
    given_share: float
    plastic_recycled_share: float = 0.8
    service_life_years: int = 10


@dataclass(frozen=True)
class Year:
    """A reporting year: how many register and what the council set out to do."""

    label: str
    registrations_count: int
    budget: float
    landfill_levy_per_t: float
    gate_fee_per_t: float
    bins_given_target: int
    kept_out_of_landfill_t_target: float


@dataclass(frozen=True)
class Council:
    """The council's own facts, as in its program file."""

    name: str
    country_locale: str
    currency: str
    first_month: int
    first_year: int
    landfill_climate: str
    landfilled_share: float
    gas_capture: tuple[tuple[int, float], ...]
    monthly_mean_temperature_c: tuple[float, ...]
    program_seed: int
    small_cell_threshold: int = 10


@dataclass(frozen=True)
class Giving:
    """Registration and hand-over.

    `brought_share` is that of the households that missed their day to which a bin is brought on
    the last day of the records, a delivery day.
    """

    registration_month_weights: tuple[float, ...]
    uptake_by_dwelling: ByDwelling
    people_mean: ByDwelling
    no_show_share: float
    events_per_month: int
    coming_weeks: tuple[int, ...]
    counter_share: float
    second_bin_share: float
    worms_kg: tuple[float, float]
    bedding_kg: float
    copayment: float
    may_contact_share: float = 0.93
    brought_share: float = 0.0


@dataclass(frozen=True)
class Streets:
    """Neighbours: streets of registered households, and what neighbours have in common.

    `feed_correlation` is that of the feed of two neighbours; `hazard_spread` the standard
    deviation between streets of the log hazard of giving up.
    """

    households_mean: int = 12
    feed_correlation: float = 0.0
    hazard_spread: float = 0.0


@dataclass(frozen=True)
class Stopping:
    """Bins never set up, early quitters, and a late hazard that slowly declines.

    `no_contact_hazard` multiplies the hazard of those who may not be contacted; at 1 their
    use is that of the others, and surveys that leave them out lose nothing. `season_share`
    of the giving up crowds about `season_peak_day` of each year. `late_lognormal`, median
    [days] and spread of the logarithm, takes the place of the late hazard. `area_spread` is
    the standard deviation between areas of the log hazard.
    """

    never_set_up_share: float = 0.05
    early_share: float = 0.10
    early_median_days: float = 55.0
    early_spread: float = 0.6
    late_shape: float = 0.48
    late_scale_days: float = 900.0
    dwelling_hazard: ByDwelling = (0.9, 1.0, 1.25)
    feed_link: float = 0.15
    no_contact_hazard: float = 1.0
    season_share: float = 0.0
    season_peak_day: float = 0.0
    season_sharpness: float = 3.0
    late_lognormal: tuple[float, float] | None = None
    area_spread: float = 0.0


@dataclass(frozen=True)
class Feeding:
    """Weekly feed: level, run-in, season and noise; `area_spread` of log feed between areas."""

    median_kg_per_week: float
    household_spread: float = 0.42
    people_power: float = 0.45
    dwelling_factors: ByDwelling = (1.05, 1.0, 0.88)
    weekly_spread: float = 0.30
    missed_week_share: float = 0.06
    ramp_start: float = 0.25
    ramp_half_weeks: tuple[float, float] = (3.0, 8.0)
    season_swing: float = 0.10
    season_peak_day: float = 200.0
    heat_dip: float = 0.0
    heat_day: float = 20.0
    heat_sharpness: float = 3.0
    town_week_spread: float = 0.04
    area_spread: float = 0.0


@dataclass(frozen=True)
class Routes:
    """Where food scraps went before; `area_spread` of the log odds of the residual bin."""

    composter_share: ByDwelling = (0.28, 0.15, 0.04)
    concentration: float = 6.0
    feed_link: float = 0.10
    animals_factor: float = 1.0
    area_spread: float = 0.0


@dataclass(frozen=True)
class Leaking:
    """Scraps that would not have reached the landfill, or reach it after all.

    `anyway_households_share` would have begun to compost by now without the program, each a
    share of its residual-bin scraps even on `anyway_scraps`. `throwing_households_share` of
    those that keep their bin a year, and `throwing_quitters_share` of the others, throw a
    share of what they fed, even on `thrown_scraps`, in the residual bin.
    """

    anyway_households_share: float = 0.10
    anyway_scraps: tuple[float, float] = (0.3, 0.9)
    throwing_households_share: float = 0.08
    throwing_quitters_share: float = 0.40
    thrown_scraps: tuple[float, float] = (0.1, 0.7)


@dataclass(frozen=True)
class Survey:
    """Survey rounds, answers and weighed diaries; months count from the year's start.

    `drawn` says what a follow-up draws: households, whole streets, or nobody, since it asks
    everyone; a baseline draws households unless it asks everyone. Log odds of answering
    rise by `response_use_link` where the bin is in use, by `response_by_dwelling`, by
    `response_by_person` with each person, by `response_by_year_held` with each year since
    the hand-over, and by `response_told_stopped` or `response_told_in_use` after the last
    state that the household told in an earlier round. Asked what went where before it had
    its bin, a household that has it remembers `recalled_to_residual_share` of what went
    elsewhere as thrown away. Follow-ups ask what leaks where `asks_leakage`.
    `followups_count` keeps the newest rounds alone. Diaries weigh
    weeks about the answer, or weeks on any days of the year.
    """

    baseline_asked_count: int
    followup_asked_count: int
    drawn: Literal["households", "streets", "everyone"] = "households"
    baseline_month: int = 4
    followup_months: tuple[int, ...] = (4, 10)
    open_days: int = 28
    stratify_by: tuple[str, ...] = ("area_id",)
    response_share: float = 0.55
    response_spread: float = 0.20
    response_use_link: float = 0.0
    response_by_dwelling: ByDwelling = (0.0, 0.0, 0.0)
    response_by_person: float = 0.0
    response_by_year_held: float = 0.0
    response_told_stopped: float = 0.0
    response_told_in_use: float = 0.0
    followups_count: int | None = None
    litres_share: float = 0.5
    over_report: float = 1.25
    report_spread: float = 0.35
    heaped_share: float = 0.8
    heap_step_kg: float = 0.5
    heaped_fives_share: float = 0.4
    density_kg_per_l: tuple[float, float] = (0.45, 0.55)
    stopped_date_given_share: float = 0.55
    recall_spread_days: float = 20.0
    giveback_share: float = 0.30
    recalled_to_residual_share: float = 0.0
    asks_leakage: bool = True
    diaries_count: int = 60
    diaries_weighed: Literal["about the answer", "all year"] = "about the answer"
    weighing_spread: float = 0.03


@dataclass(frozen=True)
class Auditing:
    """Kerbside audits; months count from the first year's start."""

    clusters_per_arm_count: int = 10
    households_per_cluster: tuple[int, int] = (14, 28)
    before_month: int = 0
    after_month: int = 20
    trend: float = 0.96
    cluster_spread: float = 0.12


@dataclass(frozen=True)
class Prices:
    """What things cost the program, in the council's currency."""

    worms_per_kg: float
    bedding_per_kg: float
    freight_per_bin: float
    staff_per_month: float
    event_each: float
    workshop_each: float
    survey_per_household: float
    communication_per_quarter: float


@dataclass(frozen=True)
class Town:
    """Everything told about an invented town.

    A study that varies parameters replaces the parts with ``dataclasses.replace``.
    """

    folder: str
    tag: str
    council: Council
    areas: tuple[Area, ...]
    bin_models: tuple[BinModel, ...]
    years: tuple[Year, ...]
    giving: Giving
    feeding: Feeding
    survey: Survey
    prices: Prices
    stopping: Stopping = Stopping()
    routes: Routes = Routes()
    streets: Streets = Streets()
    leaking: Leaking = Leaking()
    auditing: Auditing = Auditing()
    seed: int = 1
