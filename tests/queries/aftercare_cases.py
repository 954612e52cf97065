"""Cases of the queries on calls, problems, shared bins and workshops."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import DAY, Case

D = dt.date
ON = D(2025, 12, 31)

TWO_BINS = [
    {"handover_id": "1", "household_id": "H1"},
    {"handover_id": "2", "household_id": "H1", "handover_date": D(2025, 5, 1), "model_id": "tube"},
    {"handover_id": "3", "household_id": "H2"},
]
ROUNDS = [
    {"wave_id": "F", "opens_date": D(2025, 6, 1), "closes_date": D(2025, 6, 30)},
    {"wave_id": "G", "opens_date": D(2025, 12, 1), "closes_date": D(2026, 1, 15)},
]

CASES = [
    Case(
        "stage_held_bins",
        "the newest bin counts; a household is without only when all its bins came back",
        {
            "handovers": TWO_BINS,
            "givebacks": [
                {"handover_id": "1", "giveback_date": D(2025, 5, 1)},
                {"handover_id": "3", "giveback_date": D(2025, 7, 1)},
            ],
        },
        (
            "household_id",
            "first_handover_date",
            "newest_handover_date",
            "model_id",
            "all_back_date",
        ),
        [
            ("H1", DAY, D(2025, 5, 1), "tube", None),
            ("H2", DAY, DAY, "two_tray", D(2025, 7, 1)),
        ],
    ),
    Case(
        "stage_states",
        "in use at the hand-over, as answered after it, out of use when the last came back",
        {
            "waves": ROUNDS,
            "handovers": TWO_BINS[2:],
            "givebacks": [{"handover_id": "3", "giveback_date": D(2025, 7, 1)}],
            "answers": [
                {
                    "household_id": "H2",
                    "answer_date": D(2025, 6, 2),
                    "fed_kg_last_week": 1.5,
                    "problem": "flies",
                },
                {"wave_id": "G", "household_id": "H2", "answer_date": ON, "is_in_use": True},
            ],
        },
        ("household_id", "state_date", "is_in_use", "problem", "fed_kg", "ends_by_giveback"),
        [
            ("H2", DAY, True, None, None, False),
            ("H2", D(2025, 6, 2), True, "flies", 1.5, False),
            ("H2", D(2025, 7, 1), False, None, None, True),
        ],
    ),
    Case(
        "followup_register",
        "who holds a bin on the day, what was told and tried by then; later days do not count",
        {
            "households": [
                {"household_id": "H1"},
                {"household_id": "H2"},
                {"household_id": "H3", "may_contact": False},
            ],
            "handovers": [*TWO_BINS, {"handover_id": "4", "household_id": "H3"}],
            "givebacks": [{"handover_id": "3", "giveback_date": D(2025, 7, 1)}],
            "waves": ROUNDS,
            "samples": [{"wave_id": "G", "household_id": "H1"}],
            "calls": [
                {"household_id": "H1", "call_date": D(2025, 6, 1)},
                {"household_id": "H1", "call_date": D(2025, 7, 1), "call_outcome": "no_answer"},
                {"household_id": "H1", "call_date": D(2026, 1, 2), "call_outcome": "refused"},
            ],
            "cases": [
                {"case_id": "1", "household_id": "H1", "problem": "smell"},
                {"case_id": "2", "household_id": "H1", "opened_date": D(2026, 1, 3)},
                {
                    "case_id": "3",
                    "household_id": "H3",
                    "problem": "worms_died",
                    "case_action": "worms_topped_up",
                    "action_date": D(2025, 4, 1),
                    "worms_kg": 0.3,
                    "closed_date": D(2025, 4, 1),
                },
            ],
        },
        (
            "household_id",
            "may_contact",
            "handover_date",
            "age_days",
            "open_problem",
            "last_reached_date",
            "tries_count",
            "has_refused",
            "round_closes_date",
            "worms_lost_date",
            "restocked_date",
        ),
        [
            (
                *("H1", True, D(2025, 5, 1), 244, "smell", D(2025, 6, 1), 1, False),
                *(D(2026, 1, 15), None, None),
            ),
            ("H3", False, DAY, 296, None, None, 0, False, None, DAY, D(2025, 4, 1)),
        ],
        {"on_date": ON},
    ),
    Case(
        "stopping_spells",
        "from one day of use to the next known day; a bin back counts from the next round, "
        "and nothing counts after the first stop",
        {
            "households": [{"household_id": "H1"}, {"household_id": "H2"}, {"household_id": "H3"}],
            "handovers": [*TWO_BINS[1:], {"handover_id": "4", "household_id": "H3"}],
            "givebacks": [{"handover_id": "3", "giveback_date": D(2025, 7, 1)}],
            "waves": ROUNDS,
            "workshops": [{"workshop_id": "W", "workshop_date": D(2025, 6, 10)}],
            "attendances": [{"workshop_id": "W", "household_id": "H1"}],
            "answers": [
                {
                    "household_id": "H1",
                    "answer_date": D(2025, 6, 20),
                    "fed_litres_last_week": 3.0,
                    "problem": "ants",
                },
                {
                    "household_id": "H3",
                    "answer_date": D(2025, 6, 18),
                    "is_in_use": False,
                },
                {"wave_id": "G", "household_id": "H3", "answer_date": ON, "is_in_use": True},
            ],
        },
        (
            "household_id",
            "start_age_days",
            "end_age_days",
            "state_told",
            "fed_told",
            "is_taught",
            "has_stopped",
            "ends_by_giveback",
        ),
        [
            ("H1", 0, 50, "hand-over", "not told", False, False, False),
            ("H1", 50, 244, "problem told", "1 to 2 kg", True, None, False),
            ("H2", 0, 266, "hand-over", "not told", False, True, True),
            ("H3", 0, 100, "hand-over", "not told", False, True, False),
        ],
        {"on_date": ON, "kg_per_litre": 0.5},
    ),
]
