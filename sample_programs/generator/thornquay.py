"""Thornquay, an invented harbour city where most households live in apartments."""

from sample_programs.generator.towns import (
    Area,
    Auditing,
    BinModel,
    Council,
    Feeding,
    Giving,
    Prices,
    Stopping,
    Survey,
    Town,
    Year,
)

_RESIDUAL, _GARDEN, _FOOD = "residual_only", "garden_organics", "food_and_garden_organics"

THORNQUAY = Town(
    folder="thornquay",
    tag="TQ",
    seed=20240401,
    council=Council(
        name="Thornquay City Council (invented)",
        country_locale="en_GB",
        currency="GBP",
        first_month=4,
        first_year=2024,
        landfill_climate="boreal_temperate_wet",
        landfilled_share=0.45,
        gas_capture=((0, 0.0), (5, 0.5), (10, 0.75), (15, 0.825), (21, 0.9)),
        monthly_mean_temperature_c=(
            4.6, 4.8, 6.6, 8.9, 11.9, 14.7, 16.7, 16.5, 14.2, 10.9, 7.3, 5.1,
        ),
        program_seed=20260401,
    ),
    areas=(
        Area("LOFTS", "Harbour Lofts", 150, 620, 9_800, 18_900, _RESIDUAL, True, 1.1),
        Area("PENNY", "Pennywharf", 310, 1_240, 7_300, 17_200, _RESIDUAL, False),
        Area("SALT", "Saltgarth", 2_100, 3_050, 4_400, 22_300, _FOOD, False, 1.1),
        Area("KILN", "Kilnside", 1_450, 3_900, 5_200, 24_800, _FOOD, True, 0.9),
        Area("BRACK", "Brackenmoor", 5_300, 2_150, 1_600, 22_100, _FOOD, False),
        Area("LANT", "Lanternfield", 3_700, 2_800, 2_950, 21_900, _GARDEN, False, 1.2),
        Area("UPPER", "Upper Thorn", 4_600, 1_700, 700, 17_400, _GARDEN, False, 1.2),
        Area("GULL", "Gullstead Holm", 60, 25, 0, 180, _RESIDUAL, False, 1.1),
    ),
    bin_models=(
        BinModel("balcony_box", "Balcony worm box", 2, 0.12, 4.2, 41.0, 0.6, 1.0),
        BinModel("three_tray", "Three-tray tower", 3, 0.16, 7.4, 58.0, 0.4, 1.0),
    ),
    years=(
        Year("2024-25", 1_720, 205_000.0, 103.7, 38.0, 1_500, 10.0),
        Year("2025-26", 1_760, 210_000.0, 126.15, 40.0, 1_500, 26.0),
    ),
    giving=Giving(
        registration_month_weights=(12, 13, 13, 12, 10, 10, 8, 7, 5, 5, 3, 2),
        uptake_by_dwelling=(0.95, 0.9, 1.0),
        people_mean=(2.7, 2.4, 1.9),
        no_show_share=0.11,
        events_per_month=4,
        coming_weeks=(9, 10, 13, 14, 17, 18, 22, 23),
        counter_share=0.07,
        second_bin_share=0.003,
        worms_kg=(0.25, 0.35),
        bedding_kg=1.0,
        copayment=5.0,
    ),
    stopping=Stopping(never_set_up_share=0.06, early_share=0.10, late_shape=0.44),
    feeding=Feeding(
        median_kg_per_week=1.15, household_spread=0.45, season_swing=0.16, season_peak_day=205.0
    ),
    survey=Survey(
        baseline_asked_count=600,
        followup_asked_count=700,
        stratify_by=("area_id", "dwelling"),
        response_share=0.58,
        litres_share=0.82,
        over_report=1.22,
        diaries_count=80,
    ),
    auditing=Auditing(clusters_per_arm_count=16, before_month=0, after_month=18),
    prices=Prices(
        worms_per_kg=34.0,
        bedding_per_kg=2.1,
        freight_per_bin=4.2,
        staff_per_month=5_600.0,
        event_each=280.0,
        workshop_each=350.0,
        survey_per_household=2.9,
        communication_per_quarter=1_900.0,
    ),
)  # fmt: skip
"""About 3,000 bins over two years; mixed kerbside services; clean records."""
