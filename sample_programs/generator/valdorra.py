"""Valdorra, an invented group of villages with a small program and untidy files."""

from sample_programs.generator.towns import (
    Area,
    Auditing,
    BinModel,
    Council,
    Feeding,
    Giving,
    Prices,
    Routes,
    Stopping,
    Survey,
    Town,
    Year,
)

_SERVICE = "residual_only"

VALDORRA = Town(
    folder="valdorra",
    tag="VD",
    seed=20240101,
    council=Council(
        name="Mancomunidad de Valdorra (inventada)",
        country_locale="es_ES",
        currency="EUR",
        first_month=1,
        first_year=2024,
        landfill_climate="boreal_temperate_dry",
        landfilled_share=0.85,
        gas_capture=((0, 0.0), (6, 0.35), (12, 0.6)),
        monthly_mean_temperature_c=(
            5.2, 6.4, 9.3, 11.6, 15.9, 20.8, 24.4, 24.1, 19.6, 14.1, 8.8, 5.7,
        ),
        program_seed=20260101,
    ),
    areas=(
        Area("VILLA", "Valdorra la Villa", 1_480, 410, 360, 5_200, _SERVICE, False),
        Area("LUME", "Castrolume", 690, 80, 20, 1_700, _SERVICE, True, 1.2),
        Area("BRAVA", "Fontebravía", 520, 60, 10, 1_250, _SERVICE, False, 1.1),
        Area("SECO", "Molinarseco", 62, 0, 0, 120, _SERVICE, False, 1.1),
    ),
    bin_models=(BinModel("caja_dos", "Caja de dos bandejas", 2, 0.18, 5.5, 49.0, 1.0),),
    years=(
        Year("2024", 190, 27_000.0, 40.0, 45.0, 160, 3.0),
        Year("2025", 190, 27_000.0, 40.0, 47.5, 160, 8.0),
    ),
    giving=Giving(
        registration_month_weights=(12, 14, 14, 12, 11, 9, 6, 3, 8, 6, 3, 2),
        uptake_by_dwelling=(1.0, 0.8, 0.5),
        people_mean=(2.4, 2.2, 2.0),
        no_show_share=0.10,
        events_per_month=1,
        coming_weeks=(17, 19, 39),
        counter_share=0.20,
        second_bin_share=0.006,
        worms_kg=(0.30, 0.45),
        bedding_kg=1.5,
        copayment=0.0,
    ),
    stopping=Stopping(never_set_up_share=0.07, early_share=0.10, late_shape=0.42),
    feeding=Feeding(
        median_kg_per_week=1.40,
        season_swing=0.14,
        season_peak_day=165.0,
        heat_dip=0.22,
        heat_day=212.0,
        heat_sharpness=6.0,
    ),
    routes=Routes(composter_share=(0.24, 0.12, 0.04), animals_factor=2.2),
    survey=Survey(
        baseline_asked_count=150,
        followup_asked_count=300,
        followup_months=(10,),
        stratify_by=("area_id",),
        response_share=0.60,
        response_use_link=0.5,
        litres_share=0.40,
        over_report=1.25,
        diaries_count=40,
        asks_leakage=False,
    ),
    auditing=Auditing(
        clusters_per_arm_count=6, households_per_cluster=(10, 16), before_month=1, after_month=20
    ),
    prices=Prices(
        worms_per_kg=38.0,
        bedding_per_kg=1.9,
        freight_per_bin=6.0,
        staff_per_month=820.0,
        event_each=110.0,
        workshop_each=150.0,
        survey_per_household=3.0,
        communication_per_quarter=240.0,
    ),
)  # fmt: skip
"""About 320 bins over two years; a follow-up that users are likelier to answer."""
