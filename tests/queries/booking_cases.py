"""Cases of the waiting list, of places and of who came, and of the checks on them.

Numbers of the draw: SHA-256 (FIPS 180-4) of "draw|H1" and so on, made with another
implementation of it (Python's hashlib).
"""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
FOUND = ("severity", "table_name", "record_key", "found")
DAYS = [
    {"event_id": "E1", "event_date": D(2025, 3, 10), "places_count": 1},
    {"event_id": "E2", "event_date": D(2025, 4, 10)},
    {"event_id": "E3", "event_date": D(2025, 5, 10), "event_kind": "delivery"},
]
AREAS = [{"area_id": "A"}, {"area_id": "B", "is_priority": True}]
HOMES = [
    *({"household_id": f"H{n}"} for n in range(1, 8)),
    {"household_id": "H8", "area_id": "B"},
]


def place(number, household, state, event="E1", **columns):
    return {
        "booking_id": f"K{number}",
        "household_id": household,
        "event_id": event,
        "state": state,
        **columns,
    }


OF_LISTS = [
    Case(
        "waiting_list",
        "with a place, with a bin or not registered yet is not waiting; a bin given back is gone",
        {
            "areas": AREAS,
            "households": HOMES,
            "events": DAYS,
            "drop_points": [{"drop_point_id": "P", "place_name": "Library"}],
            "registrations": [
                {"household_id": "H1", "has_priority": True, "access_need": "step_free"},
                {"household_id": "H2", "drop_point_id": "P"},
                {"household_id": "H3"},
                {"household_id": "H4"},
                {"household_id": "H5"},
                {"household_id": "H6"},
                {"household_id": "H7", "registered_date": D(2025, 2, 2)},
                {"household_id": "H8"},
            ],
            "bookings": [
                place(1, "H2", "absent"),
                place(2, "H3", "accepted"),
                place(3, "H4", "declined", "E2"),
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H5"},
                {"handover_id": "2", "household_id": "H6"},
            ],
            "givebacks": [{"handover_id": "2"}],
        },
        (
            "household_id",
            "is_priority",
            "access_need",
            "place_name",
            "absent_count",
            "latest_date",
            "draw_number",
        ),
        [
            (
                "H1",
                True,
                "step_free",
                None,
                0,
                None,
                "92596f1665ce3dd75a08fd2769b811d033120d1c1c5a4dfcc3fad5eb72beeead",
            ),
            (
                "H2",
                False,
                "none",
                "Library",
                1,
                D(2025, 3, 10),
                "c80a9060cff7f8c88cb9bcc04c56fb2b555bfe0a3212bc7d7484af324cd52197",
            ),
            (
                "H4",
                False,
                "none",
                None,
                0,
                D(2025, 4, 10),
                "31f38a465ff59247c529b78652285a770fc9bc49e3f0308c63d3062e12547bd9",
            ),
            (
                "H6",
                False,
                "none",
                None,
                0,
                None,
                "ddc6bcbe5a24cff508d65062be2cb8ce62186eb6f20966f46559f904fcd66e4b",
            ),
            (
                "H8",
                True,
                "none",
                None,
                0,
                None,
                "1e7a4da5d597a145a7419b0225c8ad2a3744885dbf731f2574f429ee5fec164c",
            ),
        ],
        {"seed_words": "draw", "on_date": D(2025, 2, 1)},
    ),
    Case(
        "turnout_by_event",
        "who told ahead is not counted, nor is a delivery or a day not past",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "came"),
                place(2, "H2", "came"),
                place(3, "H3", "absent"),
                place(4, "H4", "declined"),
                place(5, "H5", "moved"),
                place(6, "H6", "came", "E2"),
                place(7, "H7", "came", "E3"),
            ],
        },
        ("event_id", "came_count", "absent_count"),
        [("E1", 2, 1)],
        {"before_date": D(2025, 4, 10)},
    ),
    Case(
        "places_of_event",
        "places still held at the day, by slot; a model set aside stands before one wished for",
        {
            "areas": AREAS,
            "households": HOMES,
            "events": DAYS,
            "registrations": [
                {"household_id": "H1", "model_id": "round", "drop_point_id": "P"},
                {"household_id": "H2", "model_id": "round"},
            ],
            "bookings": [
                place(1, "H1", "accepted", slot="10:00", model_id="two_tray"),
                place(2, "H2", "offered", slot="9:30:00"),
                place(3, "H3", "offered"),
                place(4, "H4", "moved"),
                place(5, "H5", "accepted", "E2"),
            ],
        },
        ("booking_id", "slot", "model_id", "access_need", "drop_point_id"),
        [
            ("K3", "", None, "none", None),
            ("K2", "09:30", "round", "none", None),
            ("K1", "10:00", "two_tray", "none", "P"),
        ],
        {"event_id": "E1"},
    ),
    Case(
        "places_called_off",
        "places let go, and all of a cancelled day; not a delivery, nor days or offers of before",
        {
            "areas": AREAS,
            "households": HOMES,
            "events": [
                *DAYS,
                {"event_id": "X", "event_date": D(2025, 5, 1), "event_status": "cancelled"},
            ],
            "bookings": [
                place(1, "H1", "accepted", "X", slot="9:30:00"),
                place(2, "H2", "moved", "E2", slot="10:00"),
                place(3, "H3", "accepted", "E2", slot="10:00"),
                place(4, "H4", "absent", "X", slot="10:00"),
                place(5, "H5", "declined", slot="10:00"),
                place(6, "H6", "declined", "E3", slot="10:00"),
                place(7, "H7", "declined", "E2"),
            ],
        },
        ("booking_id", "event_id", "slot", "why"),
        [("K1", "X", "09:30", "day called off"), ("K2", "E2", "10:00", "moved")],
        {"on_date": D(2025, 4, 1)},
    ),
    Case(
        "upcoming_events",
        "places held are counted, those let go are not",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "accepted", "E2"),
                place(2, "H2", "offered", "E2"),
                place(3, "H3", "declined", "E2"),
                place(4, "H4", "accepted"),
            ],
        },
        ("event_id", "event_kind", "booked_count", "accepted_count"),
        [("E2", "pick_up", 2, 1), ("E3", "delivery", 0, 0)],
        {"from_date": D(2025, 4, 1), "before_date": D(2026, 1, 1)},
    ),
]

OF_CHECKS = [
    Case(
        "household_with_two_places",
        "two places are named once, one let go is not; nor a place whose bin came there or is back",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "accepted"),
                place(2, "H1", "offered", "E2"),
                place(3, "H2", "declined"),
                place(4, "H2", "offered", "E2"),
                place(5, "H3", "accepted", "E2"),
                place(6, "H4", "accepted", "E2"),
                place(7, "H5", "accepted", "E2"),
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H3", "handover_date": D(2025, 4, 2)},
                {"handover_id": "2", "household_id": "H4", "event_id": "E2"},
                {"handover_id": "3", "household_id": "H5", "event_id": "E1"},
            ],
            "givebacks": [{"handover_id": "3"}],
        },
        FOUND,
        [
            ("wrong", "bookings", "K2", "household H1 holds 2 places: K1 (E1), K2 (E2)"),
            (
                "wrong",
                "bookings",
                "K5",
                "household H3 has had a bin since 2025-04-02 and holds a place at E2",
            ),
        ],
    ),
    Case(
        "came_without_handover",
        "a bin of another day does not count",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "came"),
                place(2, "H2", "came"),
                place(3, "H3", "absent"),
                place(4, "H4", "came"),
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "event_id": "E1"},
                {"handover_id": "2", "household_id": "H2", "event_id": "E2"},
                # of the day, without the event
                {
                    "handover_id": "4",
                    "household_id": "H4",
                    "event_id": None,
                    "handover_date": DAYS[0]["event_date"],
                },
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "bookings",
                "K2",
                "household H2 came to E1, and no bin was given to it there",
            )
        ],
    ),
    Case(
        "came_beyond_places",
        "the last place is no place too many",
        {
            "events": [*DAYS[:1], {**DAYS[1], "places_count": 2}],
            "bookings": [
                place(1, "H1", "came"),
                place(2, "H2", "came"),
                place(3, "H3", "came", "E2"),
                place(4, "H4", "came", "E2"),
                place(5, "H5", "absent", "E2"),
            ],
        },
        FOUND,
        [("doubtful", "events", "E1", "2 households came, 1 places")],
    ),
    Case(
        "place_left_open",
        "the day itself is not past",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "accepted"),
                place(2, "H2", "came"),
                place(3, "H3", "offered", "E2"),
            ],
        },
        FOUND,
        [("doubtful", "bookings", "K1", "household H1 is accepted for 2025-03-10")],
        {"as_of": D(2025, 4, 10)},
    ),
    Case(
        "place_before_registration",
        "the day of asking itself is early enough",
        {
            "events": DAYS,
            "registrations": [
                {"household_id": "H1", "registered_date": D(2025, 2, 2)},
                {"household_id": "H2", "registered_date": D(2025, 2, 1)},
            ],
            "bookings": [place(n, f"H{n}", "offered") for n in (1, 2, 3)],
        },
        FOUND,
        [
            (
                "doubtful",
                "bookings",
                "K1",
                "offered 2025-02-01, household H1 asked on 2025-02-02",
            ),
            ("doubtful", "bookings", "K3", "household H3 is not on the waiting list"),
        ],
    ),
    Case(
        "place_before_registration",
        "a council that keeps no requests misses none",
        {"events": DAYS, "bookings": [place(1, "H1", "offered")]},
        FOUND,
        [],
    ),
]

CASES = [*OF_LISTS, *OF_CHECKS]
