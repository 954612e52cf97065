"""Cases of the waiting list, of places and of who came, and of the checks on them."""

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
        "two places held are named once; one let go before is not",
        {
            "events": DAYS,
            "bookings": [
                place(1, "H1", "accepted"),
                place(2, "H1", "offered", "E2"),
                place(3, "H2", "declined"),
                place(4, "H2", "offered", "E2"),
            ],
        },
        FOUND,
        [("wrong", "bookings", "K2", "household H1 holds 2 places: K1 at E1, K2 at E2")],
    ),
    Case(
        "came_without_handover",
        "a bin of another day does not count",
        {
            "events": DAYS,
            "bookings": [place(1, "H1", "came"), place(2, "H2", "came"), place(3, "H3", "absent")],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "event_id": "E1"},
                {"handover_id": "2", "household_id": "H2", "event_id": "E2"},
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
]

CASES = [*OF_LISTS, *OF_CHECKS]
