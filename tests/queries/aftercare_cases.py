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
            "reported_state",
            "reported_feed",
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
    Case(
        "stage_lots",
        "worms of a bin are those that came last before it; before the first nothing is known",
        {
            "orders": [{"order_line_id": "1", "item_kind": "worms", "item_id": "eisenia"}],
            "deliveries": [
                {"delivery_id": "D1", "delivered_date": D(2025, 3, 1)},
                {"delivery_id": "D2", "delivered_date": D(2025, 4, 1)},
            ],
            "handovers": [
                *TWO_BINS[:2],
                {"handover_id": "9", "handover_date": D(2025, 2, 1)},
            ],
        },
        ("handover_id", "delivery_id"),
        [("1", "D1"), ("2", "D2"), ("9", None)],
    ),
    Case(
        "problems_told",
        "each problem once a household, from cases and answers, by the bin of the day",
        {
            "households": [{"household_id": "H1"}, {"household_id": "H2", "area_id": "B"}],
            "handovers": TWO_BINS,
            "cases": [
                {"case_id": "1", "household_id": "H1", "opened_date": D(2025, 4, 2)},
                {"case_id": "2", "household_id": "H1", "opened_date": D(2025, 6, 2)},
                {"case_id": "3", "household_id": "H1", "opened_date": D(2026, 4, 2)},
            ],
            "answers": [
                {"household_id": "H2", "answer_date": D(2025, 7, 2), "problem": "ants"},
                {"wave_id": "G", "household_id": "H1", "problem": "none"},
            ],
        },
        ("grouping", "part", "problems_count", "households_count"),
        [
            ("area", "A", 1, 1),
            ("area", "B", 1, 1),
            ("delivery", "not known", 2, 2),
            ("model", "two_tray", 2, 2),
            ("problem", "ants", 1, 1),
            ("problem", "smell", 1, 1),
            ("season", "2025 quarter 2", 1, 1),
            ("season", "2025 quarter 3", 1, 1),
        ],
        {"from_date": D(2025, 1, 1), "before_date": D(2026, 1, 1)},
    ),
    Case(
        "failures_by_lot",
        "bins watched to the end of their time; ants are no failure, an answer does not count",
        {
            "handovers": [
                {"handover_id": "1", "household_id": "H1"},
                {"handover_id": "2", "household_id": "H2"},
                {"handover_id": "3", "household_id": "H3", "model_id": "tube"},
                {"handover_id": "4", "household_id": "H4", "handover_date": D(2025, 12, 1)},
            ],
            "orders": [{"order_line_id": "1", "item_kind": "worms", "item_id": "eisenia"}],
            "deliveries": [{"delivery_id": "D1"}],
            "givebacks": [
                {"handover_id": "3", "giveback_date": D(2025, 6, 8), "reason": "worms_died"},
            ],
            "cases": [
                {"case_id": "1", "household_id": "H1", "opened_date": D(2025, 4, 1)},
                {
                    **{"case_id": "2", "household_id": "H2", "problem": "ants"},
                    "opened_date": D(2025, 4, 1),
                },
                {
                    **{"case_id": "3", "household_id": "H2", "problem": "worms_died"},
                    "opened_date": D(2025, 6, 9),
                },
            ],
            "answers": [
                {
                    **{"household_id": "H2", "problem": "worms_died"},
                    "answer_date": D(2025, 4, 1),
                },
            ],
        },
        ("lot_kind", "lot_id", "bins_count", "failed_count"),
        [("model", "tube", 1, 1), ("model", "two_tray", 2, 1), ("worm delivery", "D1", 3, 1)],
        {"as_of": ON, "from_date": D(2025, 1, 1), "watched_days": 90},
    ),
    Case(
        "open_cases",
        "cases not closed by the day, and problems of answers that no case has taken up",
        {
            "households": [{"household_id": f"H{n}"} for n in range(1, 6)],
            "handovers": [{"handover_id": str(n), "household_id": f"H{n}"} for n in range(1, 6)],
            "givebacks": [{"handover_id": "5", "giveback_date": D(2025, 12, 20)}],
            "cases": [
                {"case_id": "1", "household_id": "H1", "opened_date": D(2025, 11, 1)},
                {
                    **{"case_id": "2", "household_id": "H2", "opened_date": D(2025, 11, 1)},
                    "closed_date": D(2025, 11, 9),
                },
            ],
            "answers": [
                {
                    **{"household_id": f"H{n}", "problem": "flies", "is_in_use": True},
                    "answer_date": D(2025, 12, 1),
                }
                for n in range(2, 6)
            ],
        },
        ("case_id", "household_id", "handover_id", "problem", "is_from_answer", "may_contact"),
        [
            ("1", "H1", None, "smell", False, True),
            ("F-H3", "H3", "3", "flies", True, True),
            ("F-H4", "H4", "4", "flies", True, True),
        ],
        {"on_date": ON, "recent_days": 90},
    ),
    Case(
        "made_good",
        "worms and bins that cases took, and the ledger lines that they name",
        {
            "costs": [{"cost_id": "L1", "amount": 40.0}, {"cost_id": "L2", "amount": 9.0}],
            "handovers": TWO_BINS,
            "cases": [
                {
                    **{"case_id": "1", "case_action": "worms_topped_up", "worms_kg": 0.25},
                    **{"action_date": D(2025, 4, 1), "cost_id": "L1"},
                },
                {
                    **{"case_id": "2", "case_action": "bin_replaced"},
                    **{"action_date": D(2025, 5, 1), "replacement_handover_id": "2"},
                },
                {"case_id": "3", "action_date": D(2026, 5, 1), "worms_kg": 0.25},
            ],
        },
        ("topped_up_count", "topped_up_kg", "replaced_count", "booked_amount"),
        [(1, 0.25, 1, 40.0)],
        {"from_date": D(2025, 1, 1), "as_of": ON},
    ),
    Case(
        "site_weeks",
        "bin-weeks of the part of the year in use, and weighed weeks with the bins in use then",
        {
            "sites": [{"site_id": "S1"}, {"site_id": "S2", "site_kind": "cafe"}],
            "site_bins": [
                {"site_id": "S1", "given_date": D(2025, 1, 1), "stopped_date": D(2025, 1, 29)},
                {"site_id": "S1", "given_date": D(2025, 12, 18), "bins_count": 3},
            ],
            "site_weighings": [
                {"site_id": "S1", "week_start_date": D(2025, 1, 8), "fed_kg": 5.0},
                {"site_id": "S1", "week_start_date": D(2025, 12, 20), "fed_kg": 9.0},
                {"site_id": "S1", "week_start_date": D(2025, 6, 1), "fed_kg": 7.0},
            ],
        },
        (
            *("site_id", "bins_count", "bins_in_use_count", "bin_weeks"),
            *("weighed_weeks_count", "weighed_bin_weeks", "weighed_kg"),
        ),
        # two bins for four weeks, three for two; the week of June had none in use
        [("S1", 5, 3, 14.0, 2, 5.0, 14.0), ("S2", 0, 0, 0.0, 0, 0.0, 0.0)],
        {"from_date": D(2025, 1, 1), "before_date": D(2026, 1, 1)},
    ),
    Case(
        "site_bins_kept",
        "stopped, kept by its end or by a weighed week, not known, and too young to say",
        {
            "sites": [{"site_id": f"S{n}"} for n in range(1, 6)],
            "site_bins": [
                {"site_id": "S1", "stopped_date": D(2025, 6, 1)},
                {"site_id": "S2", "stopped_date": D(2025, 12, 1)},
                {"site_id": "S3"},
                {"site_id": "S4"},
                {"site_id": "S5", "given_date": D(2025, 11, 1)},
            ],
            "site_weighings": [
                {"site_id": "S3", "week_start_date": D(2025, 10, 1)},
                {"site_id": "S4", "week_start_date": D(2025, 5, 1)},
            ],
        },
        ("site_id", "is_in_use"),
        [("S1", False), ("S2", True), ("S3", True), ("S4", None)],
        {"as_of": ON, "age_days": 182},
    ),
    Case(
        "call_without_consent",
        "calls to households that had not agreed to be contacted",
        {
            "households": [{"household_id": "H1"}, {"household_id": "H2", "may_contact": False}],
            "calls": [{"household_id": "H1"}, {"household_id": "H2"}],
        },
        ("severity", "table_name", "record_key", "found"),
        [("wrong", "calls", "H2 | 2025-03-10", "household H2 has may_contact = no")],
    ),
    Case(
        "replaced_bin_not_back",
        "a bin was replaced and is not known to be out of use",
        {
            "handovers": TWO_BINS,
            "givebacks": [{"handover_id": "3"}],
            "cases": [
                {
                    **{"case_id": "1", "case_action": "bin_replaced", "handover_id": "1"},
                    **{"action_date": D(2025, 5, 1), "replacement_handover_id": "2"},
                },
                {
                    **{"case_id": "2", "case_action": "bin_replaced", "handover_id": "3"},
                    "action_date": D(2025, 5, 1),
                },
            ],
        },
        ("severity", "table_name", "record_key", "found"),
        [("doubtful", "cases", "1", "bin 1 was replaced and is not among givebacks")],
    ),
    Case(
        "promised_by_cases",
        "bins and worms promised, not yet given, not closed by the day; the middle top-up",
        {
            "handovers": TWO_BINS,
            "cases": [
                {"case_id": "1", "case_action": "bin_replaced"},
                {
                    **{"case_id": "2", "case_action": "bin_replaced"},
                    **{"action_date": D(2025, 5, 1), "replacement_handover_id": "2"},
                },
                {"case_id": "3", "case_action": "bin_replaced", "closed_date": ON},
                {"case_id": "4", "case_action": "advised"},
                {"case_id": "5", "case_action": "bin_replaced", "opened_date": D(2026, 1, 1)},
                {"case_id": "6", "case_action": "worms_topped_up"},
                {"case_id": "7", "case_action": "worms_topped_up"},
                {"case_id": "8", "case_action": "worms_topped_up", "closed_date": ON},
                *(
                    {
                        **{"case_id": f"9{kilos}", "case_action": "worms_topped_up"},
                        **{"action_date": D(2025, 5, 1), "worms_kg": kilos},
                    }
                    for kilos in (0.1, 0.3, 0.5)
                ),
            ],
        },
        ("bins_count", "top_ups_count", "usual_top_up_kg"),
        [(1, 2, 0.3)],
        {"as_of": ON},
    ),
]
