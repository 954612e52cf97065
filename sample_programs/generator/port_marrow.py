"""Port Marrow, an invented coastal council with hot wet summers."""

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

_SERVICE = "garden_organics"

PORT_MARROW = Town(
    folder="port_marrow",
    tag="PM",
    seed=20230701,
    council=Council(
        name="Port Marrow Shire Council (invented)",
        country_locale="en_AU",
        currency="AUD",
        first_month=7,
        first_year=2023,
        landfill_climate="tropical_wet",
        landfilled_share=1.0,
        gas_capture=((0, 0.0), (3, 0.4), (8, 0.7), (15, 0.8)),
        monthly_mean_temperature_c=(
            28.4, 28.1, 27.0, 24.9, 22.1, 19.8, 18.9, 20.0, 22.6, 25.1, 27.0, 28.1,
        ),
        program_seed=20260630,
    ),
    areas=(
        Area("HEADS", "Marrow Heads", 2350, 210, 160, 6600, _SERVICE, False, 1.2),
        Area("QUILL", "Quillbrook", 3120, 420, 90, 9500, _SERVICE, False),
        Area("TAMBER", "Tamberline", 2780, 160, 40, 8100, _SERVICE, False, 1.3),
        Area("OLDF", "Oldferry Flats", 1890, 530, 620, 6900, _SERVICE, True, 0.9),
        Area("SUNDREL", "Sundrel Park", 3480, 300, 70, 10600, _SERVICE, True, 0.8),
        Area("JASPER", "Jasperreach", 1460, 60, 20, 4000, _SERVICE, False, 1.1),
        Area("SPIT", "Cuttle Spit", 120, 0, 0, 260, "residual_only", False, 0.55),
    ),
    bin_models=(
        BinModel("two_tray", "Two-tray stacked bin", 2, 0.16, 6.1, 68.0, 0.75),
        BinModel("ground_tube", "In-ground worm tube", 1, 0.12, 2.4, 39.0, 0.25),
    ),
    years=(
        Year("2023-24", 420, 78_000.0, 105.0, 92.0, 350, 7.0),
        Year("2024-25", 410, 78_000.0, 115.0, 96.0, 370, 20.0),
        Year("2025-26", 440, 80_000.0, 125.0, 99.0, 380, 32.0),
    ),
    giving=Giving(
        registration_month_weights=(14, 14, 13, 12, 9, 6, 6, 8, 7, 5, 4, 2),
        uptake_by_dwelling=(1.0, 0.7, 0.35),
        people_mean=(2.7, 2.2, 1.8),
        no_show_share=0.08,
        events_per_month=2,
        coming_weeks=(3, 4, 5),
        counter_share=0.12,
        second_bin_share=0.006,
        worms_kg=(0.25, 0.40),
        bedding_kg=1.3,
        copayment=20.0,
        brought_share=0.25,
    ),
    stopping=Stopping(never_set_up_share=0.05, early_share=0.11, late_shape=0.50),
    feeding=Feeding(
        median_kg_per_week=1.45,
        season_swing=0.05,
        season_peak_day=215.0,
        heat_dip=0.40,
        heat_day=25.0,
        heat_sharpness=3.0,
    ),
    survey=Survey(
        baseline_asked_count=300,
        followup_asked_count=380,
        stratify_by=("area_id",),
        response_share=0.52,
        litres_share=0.45,
        over_report=1.28,
        diaries_count=45,
    ),
    auditing=Auditing(clusters_per_arm_count=10, before_month=0, after_month=22),
    prices=Prices(
        worms_per_kg=62.0,
        bedding_per_kg=3.2,
        freight_per_bin=7.5,
        staff_per_month=2_900.0,
        event_each=240.0,
        workshop_each=310.0,
        survey_per_household=4.2,
        communication_per_quarter=850.0,
    ),
)  # fmt: skip
"""About 1,100 bins over three years, mostly to houses; middling records."""
