"""Cases at the edges of queries/: the day itself, one of two alike, what is let go the same day."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import DAY, Case
from tests.queries.retention_cases import AGES, AUTUMN, AUTUMN_AGE, BOTH, ROUNDS, bins, homes, told
from tests.queries.sampling_cases import WORDS

D = dt.date
NEXT_DAY, EVE = DAY + dt.timedelta(days=1), DAY - dt.timedelta(days=1)
FOLLOWUP = {"wave_id": "F", "opens_date": DAY, "closes_date": NEXT_DAY}
WORMS = {"order_line_id": "1", "item_kind": "worms", "item_id": "eisenia"}
HOME = [{"household_id": "H1"}]
OF_DAY = {"from_date": D(2025, 1, 1), "before_date": D(2026, 1, 1)}


def place(number, household, state, event="E1"):
    return {
        "booking_id": f"K{number}", "household_id": household, "event_id": event, "state": state,
    }  # fmt: skip


CASES = [
    Case(
        "changed_households",
        "a record of the first day after the earlier report is of the days between",
        {
            "households": HOME,
            "handovers": [{"handover_id": "1", "household_id": "H1", "handover_date": DAY}],
        },
        ("table_name", "households_count"),
        [("the days between the two", 1)],
        {
            "load_ids": ["L0001"],
            "before_date": DAY,
            "until_date": NEXT_DAY,
            "tables": ["handovers"],
        },
    ),
    Case(
        "changed_households",
        "with late records of a table those of the first day after the earlier report count",
        {
            "households": [{"household_id": "H1"}, {"household_id": "H2"}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": EVE},
                {"handover_id": "2", "household_id": "H2", "handover_date": DAY},
            ],
        },
        ("table_name", "households_count"),
        [("handovers", 2), ("the days between the two", 1)],
        {
            "load_ids": ["L9999"],
            "before_date": DAY,
            "until_date": NEXT_DAY,
            "tables": ["handovers"],
        },
    ),
    Case(
        "upcoming_events",
        "a place is held while it is offered or accepted, and no longer once its household came",
        {
            "events": [{"event_id": "E1"}],
            "bookings": [
                place(1, "H1", "offered"),
                place(2, "H2", "accepted"),
                place(3, "H3", "came"),
                place(4, "H4", "declined"),
                place(5, "H5", "absent"),
            ],
        },
        ("event_id", "booked_count", "accepted_count"),
        [("E1", 2, 1)],
        {"from_date": DAY, "before_date": NEXT_DAY},
    ),
    Case(
        "waiting_list",
        "who registered on the day waits; of two places let go the later one is remembered",
        {
            "areas": [{"area_id": "A"}],
            "households": [{"household_id": "H1"}, {"household_id": "H2"}, {"household_id": "H3"}],
            "events": [
                {"event_id": "E1", "event_date": D(2025, 3, 1)},
                {"event_id": "E2", "event_date": D(2025, 4, 1)},
            ],
            "registrations": [
                {"household_id": "H1", "registered_date": DAY},
                {"household_id": "H2"},
                {"household_id": "H3", "registered_date": NEXT_DAY},
            ],
            "bookings": [place(1, "H2", "declined", "E2"), place(2, "H2", "absent")],
        },
        ("household_id", "latest_date", "absent_count"),
        [("H1", None, 0), ("H2", D(2025, 4, 1), 1)],
        {"seed_words": "draw", "on_date": DAY},
    ),
    Case(
        "stopping_spells",
        "a call counts once it reached somebody, two kilos are two or more, and of a bin back as "
        "a round opened that round is not the next",
        {
            "households": [{"household_id": "H1"}, {"household_id": "H2"}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1"},
                {"handover_id": "2", "household_id": "H2"},
            ],
            "givebacks": [{"handover_id": "2", "giveback_date": D(2025, 6, 1)}],
            "waves": [
                {"wave_id": "F", "opens_date": D(2025, 6, 1), "closes_date": D(2025, 6, 9)},
                {"wave_id": "G", "opens_date": D(2025, 9, 1), "closes_date": D(2025, 9, 9)},
            ],
            "answers": [
                {"household_id": "H1", "answer_date": D(2025, 6, 2), "fed_kg_last_week": 2.0},
                {
                    "wave_id": "G",
                    "household_id": "H1",
                    "answer_date": D(2025, 9, 2),
                    "fed_kg_last_week": 1.0,
                },
            ],
            "calls": [
                {"household_id": "H1", "call_date": D(2025, 6, 1), "call_outcome": "no_answer"},
                {"household_id": "H1", "call_date": D(2025, 9, 2)},
            ],
        },
        ("household_id", "start_age_days", "end_age_days", "reported_feed", "is_reached"),
        [
            ("H1", 0, 84, "not told", False),
            ("H1", 84, 176, "2 kg or more", False),
            ("H1", 176, 297, "1 to 2 kg", True),
            ("H2", 0, 175, "not told", False),
        ],
        {"on_date": D(2026, 1, 1), "kg_per_litre": 0.5},
    ),
    Case(
        "households_by_group",
        "a household is served from its first bin on, whenever its second came",
        {
            "areas": [{"area_id": "A", "houses_count": 9}],
            "households": HOME,
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": EVE},
                {"handover_id": "2", "household_id": "H1", "handover_date": NEXT_DAY},
            ],
        },
        ("dwelling", "served_count"),
        [("apartment", 0), ("house", 1), ("townhouse", 0)],
        {"from_date": D(2025, 1, 1), "before_date": DAY},
    ),
    Case(
        "turnout_by_event",
        "days on which bins are brought tell nothing of who comes, nor do places that moved",
        {
            "events": [
                {"event_id": "E1"},
                {"event_id": "E2", "event_kind": "delivery"},
                {"event_id": "E3"},
            ],
            "bookings": [
                place(1, "H1", "came"),
                place(2, "H2", "absent"),
                place(3, "H3", "moved"),
                place(4, "H4", "came", "E2"),
                place(5, "H5", "moved", "E3"),
            ],
        },
        ("event_id", "came_count", "absent_count"),
        [("E1", 1, 1)],
        {"before_date": NEXT_DAY},
    ),
    Case(
        "event_take_up",
        "a bin of a held day that was handed over after the report is not of it",
        {
            "households": HOME,
            "events": [{"event_id": "E1"}],
            "handovers": [
                {"handover_id": "1", "event_id": "E1"},
                {"handover_id": "2", "event_id": "E1", "handover_date": NEXT_DAY},
            ],
        },
        ("event_id", "bins_given"),
        [("E1", 1)],
        {"before_date": NEXT_DAY},
    ),
    Case(
        "stock_reconciled",
        "what came beyond one order is not taken off what another still has to bring",
        {
            "suppliers": [{"supplier_id": "S"}],
            "orders": [{"order_line_id": "1"}, {"order_line_id": "2"}],
            "deliveries": [{"delivery_id": "D1", "received_quantity": 13.0}],
        },
        ("stock_item", "ordered_quantity", "outstanding_quantity", "over_quantity"),
        [("two_tray", 20.0, 10.0, 3.0)],
        {"as_of": DAY},
    ),
    Case(
        "promised_by_cases",
        "one large top-up leaves the usual one as it is",
        {
            "cases": [
                {
                    "case_id": f"{n}",
                    "case_action": "worms_topped_up",
                    "action_date": DAY,
                    "worms_kg": kilos,
                }
                for n, kilos in enumerate((0.2, 0.2, 2.0))
            ]
        },
        ("bins_count", "top_ups_count", "usual_top_up_kg"),
        [(0, 0, 0.2)],
        {"as_of": DAY},
    ),
    Case(
        "use_intervals",
        "in use and out of use told the same day are a day apart; a bin back as the round opens "
        "is known to the day",
        {
            "waves": ROUNDS,
            "households": homes(2),
            "handovers": bins(2),
            "givebacks": [{"handover_id": "G2", "giveback_date": AUTUMN}],
            "answers": [
                {**told("H1", "S", is_in_use=True), "answer_date": AUTUMN},
                told("H1", "A", is_in_use=False),
            ],
        },
        AGES,
        [("H1", AUTUMN_AGE, AUTUMN_AGE + 1, False), ("H2", AUTUMN_AGE, AUTUMN_AGE, True)],
        BOTH,
    ),
    Case(
        "stage_answers",
        "of two answers that say as much the first round's counts, whatever the rounds are called",
        {
            "waves": [
                {"wave_id": "F", "wave_kind": "followup"},
                {"wave_id": "A", "wave_kind": "followup", "follows_wave_id": "F"},
            ],
            "answers": [
                {"wave_id": "F", "household_id": "H1", "is_in_use": True},
                {"wave_id": "A", "household_id": "H1", "is_in_use": False},
            ],
        },
        ("wave_id", "reported_in_wave_id", "is_in_use"),
        [("F", "F", True)],
    ),
    Case(
        "stage_states",
        "on the day of its hand-over a bin is in use whatever was answered, unless it came back",
        {
            "waves": [FOLLOWUP],
            "handovers": [
                {"handover_id": "1", "household_id": "H1"},
                {"handover_id": "2", "household_id": "H2"},
            ],
            "givebacks": [{"handover_id": "2", "giveback_date": DAY}],
            "answers": [{"household_id": "H1", "is_in_use": False}],
        },
        ("household_id", "state_date", "is_in_use", "ends_by_giveback"),
        [("H1", DAY, True, False), ("H2", DAY, False, True)],
    ),
    Case(
        "stage_lots",
        "worms that came on the day went into its bins, and a delivery that brought none did not",
        {
            "handovers": [{"handover_id": "1", "handover_date": DAY}],
            "orders": [WORMS],
            "deliveries": [
                {"delivery_id": "D1", "delivered_date": EVE},
                {"delivery_id": "D2", "delivered_date": DAY},
            ],
        },
        ("handover_id", "delivery_id"),
        [("1", "D2")],
    ),
    Case(
        "stage_lots",
        "a delivery of which nothing came is none that a bin was filled from",
        {
            "handovers": [{"handover_id": "1", "handover_date": DAY}],
            "orders": [WORMS],
            "deliveries": [
                {"delivery_id": "D1", "delivered_date": EVE},
                {"delivery_id": "D2", "delivered_date": DAY, "received_quantity": 0.0},
            ],
        },
        ("handover_id", "delivery_id"),
        [("1", "D1")],
    ),
    Case(
        "three_way_match",
        "what came and what was charged on the day itself counts",
        {
            "suppliers": [{"supplier_id": "S"}],
            "orders": [{"order_line_id": "1", "order_date": DAY}],
            "deliveries": [{"delivery_id": "D1", "delivered_date": DAY}],
            "invoices": [{"invoice_line_id": "I1", "order_line_id": "1", "invoice_date": DAY}],
        },
        ("line_id", "received_quantity", "invoiced_quantity"),
        [("1", 10.0, 10.0)],
        {"as_of": DAY},
    ),
    Case(
        "site_weeks",
        "a bin given on the day on which a week begins was fed in it, one stopped that day was not",
        {
            "sites": [{"site_id": "S1"}],
            "site_bins": [
                {"site_id": "S1", "given_date": DAY, "bins_count": 2},
                {
                    "site_id": "S1",
                    "given_date": D(2025, 1, 6),
                    "stopped_date": DAY,
                    "bins_count": 5,
                    "model_id": "tube",
                },
            ],
            "site_weighings": [{"site_id": "S1", "week_start_date": DAY, "fed_kg": 6.0}],
        },
        ("site_id", "weighed_bin_weeks", "weighed_kg"),
        [("S1", 2.0, 6.0)],
        OF_DAY,
    ),
    Case(
        "sampling_register",
        "a household that needed no answer, its bin being back, was not asked by that round",
        {
            "waves": [FOLLOWUP],
            "households": [{"household_id": "H1"}, {"household_id": "H2"}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "household_id": "H2", "handover_date": D(2025, 1, 9)},
            ],
            "givebacks": [{"handover_id": "2", "giveback_date": D(2025, 2, 9)}],
        },
        ("household_id", "is_asked_with_all_lately"),
        [("H1", True), ("H2", False)],
        {**WORDS, "on_date": NEXT_DAY},
    ),
    Case(
        "households_by_wave",
        "an answer of the day on which a round opens was not told before it",
        {
            "waves": [
                {"wave_id": "E", "opens_date": D(2025, 2, 1), "closes_date": D(2025, 2, 9)},
                FOLLOWUP,
            ],
            "households": [{"household_id": "H1"}, {"household_id": "H2"}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "household_id": "H2", "handover_date": D(2025, 1, 9)},
            ],
            "answers": [
                {"wave_id": "E", "household_id": "H1", "is_in_use": False, "answer_date": DAY},
                {"wave_id": "E", "household_id": "H2", "is_in_use": False, "answer_date": EVE},
            ],
        },
        ("wave_id", "is_settled", "households_count"),
        [("E", False, 2), ("F", False, 1), ("F", True, 1)],
        {"before_date": D(2026, 1, 1)},
    ),
    Case(
        "failures_by_lot",
        "a bin is watched whole on the last of its days",
        {
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": DAY},
                {"handover_id": "2", "household_id": "H2", "handover_date": NEXT_DAY},
            ]
        },
        ("lot_kind", "lot_id", "bins_count"),
        [("model", "two_tray", 1)],
        {"as_of": DAY + dt.timedelta(days=30), "from_date": DAY, "watched_days": 30},
    ),
    Case(
        "problems_told",
        "two problems of a household are one household, and are put to the newest of its bins",
        {
            "households": HOME,
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "household_id": "H1", "model_id": "tube"},
            ],
            "cases": [
                {"case_id": "1", "household_id": "H1", "problem": "smell"},
                {"case_id": "2", "household_id": "H1", "problem": "flies"},
            ],
        },
        ("grouping", "part", "problems_count", "households_count"),
        [
            ("area", "A", 2, 1),
            ("delivery", "not known", 2, 1),
            ("model", "tube", 2, 1),
            ("problem", "flies", 1, 1),
            ("problem", "smell", 1, 1),
            ("season", "2025 quarter 1", 2, 1),
        ],
        OF_DAY,
    ),
]
