"""What is wrong on purpose in each town's files."""

from __future__ import annotations

import datetime as dt

from sample_programs.generator.mistakes import Mistake

_PORT_MARROW = (
    Mistake("households", "misspelt_area", "area_id", ("QUIL", "Tamberlin", "HAEDS")),
    Mistake("households", "unknown_code", "dwelling", ("houseboat", "caravan")),
    Mistake("households", "text_for_number", "people_count", ("3 or 4",)),
    Mistake("households", "blank_row", "household_id", (None, None)),
    Mistake("events", "unreadable_date", "event_date", ("31/02/2025",)),
    Mistake("handovers", "unreadable_date", "handover_date", ("25th of Sptember", "13/25/2024")),
    Mistake("handovers", "unknown_household", "household_id", ("PM-77770", "PM-77771")),
    Mistake("handovers", "unknown_model", "model_id", ("three_trey",)),
    Mistake("handovers", "negative_mass", "worms_kg", (-0.3,)),
    Mistake("handovers", "spoilt_row", "handover_date", ("31/11/2024", "??/03/2025")),
    Mistake("givebacks", "unknown_handover", "handover_id", ("PM-B77777",)),
    Mistake("givebacks", "unknown_code", "reason", ("did not like it",)),
    Mistake("answers", "text_for_number", "fed_kg_last_week", ("2-3", "about 1.5", "1 to 2")),
    Mistake("answers", "negative_mass", "fed_litres_last_week", (-4,)),
    Mistake("answers", "shares_not_one", "prior_residual_bin_share", (1.0, 0.97)),
    Mistake("answers", "duplicate_key", "problem", ("flies", "too_wet")),
    Mistake("answers", "spoilt_row", "fed_kg_last_week", ("1 - 1.5",)),
    Mistake("weighings", "too_large", "fed_kg", (140.0,)),
    Mistake("weighings", "text_for_number", "fed_kg", ("forgot",)),
    Mistake("audits", "food_over_residual", "food_kg", (9_999.0,)),
    Mistake("weighings", "repeated_row", "household_id", (None, None)),
    Mistake("costs", "unknown_code", "category", ("morning tea", "sundries")),
    Mistake("costs", "day_ahead", "cost_date", (dt.date(2052, 3, 14),)),
    Mistake("costs", "total_row", "amount", ("Total",)),
    Mistake("costs", "blank_row", "cost_id", (None,)),
)

_THORNQUAY = (
    Mistake("households", "misspelt_area", "area_id", ("LOFT",)),
    Mistake("handovers", "unknown_model", "model_id", ("four_tray",)),
    Mistake("handovers", "duplicate_key", "worms_kg", (0.3,)),
    Mistake("samples", "probability_above_one", "inclusion_probability", (1.4,)),
    Mistake("answers", "shares_not_one", "prior_residual_bin_share", (1.0,)),
    Mistake("costs", "unreadable_date", "cost_date", ("late May",)),
)

_VALDORRA = (
    Mistake("households", "misspelt_area", "area_id", ("VILA", "BRABA")),
    Mistake("households", "blank_key", "household_id", (None,)),
    Mistake("households", "text_for_number", "people_count", ("dos",)),
    Mistake("households", "duplicate_key", "people_count", (5, 6)),
    Mistake("households", "blank_row", "household_id", (None, None, None)),
    Mistake("contacts", "unknown_household", "household_id", ("VD-77780",)),
    Mistake("events", "unreadable_date", "event_date", ("29/2/2025",)),
    Mistake("handovers", "unreadable_date", "handover_date", ("31/4/2024", "marzo", "2025/15/3")),
    Mistake("handovers", "unknown_household", "household_id", ("VD-77770", "VD-77771")),
    Mistake("handovers", "text_for_number", "worms_kg", ("una bolsa",)),
    Mistake("handovers", "duplicate_key", "bedding_kg", (2.5,)),
    Mistake("handovers", "repeated_row", "handover_id", (None, None, None)),
    Mistake("handovers", "spoilt_row", "handover_date", ("30/2/2025",)),
    Mistake("givebacks", "blank_key", "handover_id", (None,)),
    Mistake("waves", "closes_before_it_opens", "closes_date", ("1/1/2023",)),
    Mistake("samples", "unknown_household", "household_id", ("VD-77790",)),
    Mistake("answers", "text_for_number", "fed_kg_last_week", ("2-3", "unos 1,5", "poco")),
    Mistake("answers", "negative_mass", "fed_kg_last_week", (-1.5,)),
    Mistake("answers", "shares_not_one", "prior_residual_bin_share", (1.0,)),
    Mistake("answers", "unknown_code", "problem", ("mosquitos",)),
    Mistake("weighings", "negative_mass", "fed_kg", (-0.8,)),
    Mistake("weighings", "duplicate_key", "fed_kg", (3.3,)),
    Mistake("audits", "unknown_code", "arm", ("neither",)),
    Mistake("costs", "text_for_number", "amount", ("pendiente", "ver factura")),
    Mistake("costs", "total_row", "amount", ("Total",)),
    Mistake("costs", "blank_row", "cost_id", (None, None)),
)

MISTAKES: dict[str, tuple[Mistake, ...]] = {
    "port_marrow": _PORT_MARROW,
    "thornquay": _THORNQUAY,
    "valdorra": _VALDORRA,
}
