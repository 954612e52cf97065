"""Cases of queries/check: each names the rows that contradict each other, and no others."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
FOUND = ("severity", "table_name", "record_key", "found")
YEARS = {
    "from_dates": [D(2024, 7, 1), D(2025, 7, 1)],
    "before_dates": [D(2025, 7, 1), D(2026, 7, 1)],
}
LABELLED = {"labels": ["2024-25", "2025-26"], **YEARS}
AS_OF = {"as_of": D(2026, 7, 1)}

FOLLOWUP = [{"wave_id": "F", "opens_date": D(2026, 3, 1), "closes_date": D(2026, 3, 31)}]
ROUNDS = [
    *FOLLOWUP,
    {
        "wave_id": "B",
        "wave_kind": "baseline",
        "opens_date": D(2025, 1, 1),
        "closes_date": D(2025, 1, 31),
    },
]


def registered(*household_ids, **columns):
    return [{"household_id": household_id, **columns} for household_id in household_ids]


def answered(household_id, day, **columns):
    return {"household_id": household_id, "answer_date": day, **columns}


def given(handover_id, household_id, day, **columns):
    return {
        "handover_id": handover_id,
        "household_id": household_id,
        "handover_date": day,
        **columns,
    }


def shares(residual, compost):
    return {
        "prior_residual_bin_share": residual,
        "prior_garden_compost_share": compost,
        "prior_kerbside_organics_share": 0.0,
        "prior_animals_share": 0.0,
        "prior_other_share": 0.0,
    }


OF_BINS = [
    Case(
        "in_use_after_giveback",
        "in use the day after the last bin came back is named; on the day, or with a new bin, not",
        {
            "waves": FOLLOWUP,
            "households": registered("H1", "H2", "H3"),
            "handovers": [
                given("1", "H1", D(2025, 8, 1)),
                given("2", "H2", D(2025, 8, 1)),
                given("3", "H3", D(2025, 8, 1)),
                given("4", "H3", D(2025, 9, 1)),
            ],
            "givebacks": [
                {"handover_id": n, "giveback_date": D(2026, 3, day)}
                for n, day in (("1", 1), ("2", 2), ("3", 1))
            ],
            "answers": [answered(f"H{n}", D(2026, 3, 2), is_in_use=True) for n in (1, 2, 3)],
        },
        FOUND,
        [
            (
                "doubtful",
                "answers",
                "F | H1",
                "answered 2026-03-02 that a bin is in use, the last came back 2026-03-01",
            )
        ],
    ),
    Case(
        "handover_before_registration",
        "a bin given the day before registering is named, one on the day is not",
        {
            "households": registered("H1", "H2", registered_date=D(2025, 3, 10)),
            "handovers": [given("1", "H1", D(2025, 3, 9)), given("2", "H2", D(2025, 3, 10))],
        },
        FOUND,
        [
            (
                "wrong",
                "handovers",
                "1",
                "given 2025-03-09, household H1 registered 2025-03-10",
            )
        ],
    ),
    Case(
        "two_bins_at_one_household",
        "the second bin is named unless the first came back by then",
        {
            "households": registered("H1", "H2", "H3"),
            "handovers": [
                given("1", "H1", D(2025, 3, 1)),
                given("2", "H1", D(2025, 5, 1)),
                given("3", "H2", D(2025, 3, 1)),
                given("4", "H2", D(2025, 5, 1)),
                given("5", "H3", D(2025, 3, 1)),
                given("6", "H3", D(2025, 5, 1)),
            ],
            "givebacks": [
                {"handover_id": "3", "giveback_date": D(2025, 5, 1)},
                {"handover_id": "5", "giveback_date": D(2025, 5, 2)},
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "handovers",
                "2",
                "household H1 took bin 1 on 2025-03-01 and this one on 2025-05-01",
            ),
            (
                "doubtful",
                "handovers",
                "6",
                "household H3 took bin 5 on 2025-03-01 and this one on 2025-05-01",
            ),
        ],
    ),
    Case(
        "giveback_before_handover",
        "back the day before it was given is named, back on the day is not",
        {
            "handovers": [given("1", "H1", D(2025, 3, 10)), given("2", "H1", D(2025, 3, 10))],
            "givebacks": [
                {"handover_id": "1", "giveback_date": D(2025, 3, 9)},
                {"handover_id": "2", "giveback_date": D(2025, 3, 10)},
            ],
        },
        FOUND,
        [("wrong", "givebacks", "1", "came back 2025-03-09, given 2025-03-10")],
    ),
    Case(
        "weighing_before_bin",
        "a week before the first of two bins, and a household without one",
        {
            "handovers": [given("1", "H1", D(2025, 3, 10)), given("2", "H1", D(2025, 6, 1))],
            "weighings": [
                {"household_id": "H1", "week_start_date": D(2025, 3, 9)},
                {"household_id": "H1", "week_start_date": D(2025, 3, 10)},
                {"household_id": "H2", "week_start_date": D(2025, 3, 12)},
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "weighings",
                "H1 | 2025-03-09",
                "weighed from 2025-03-09, first bin given 2025-03-10",
            ),
            (
                "wrong",
                "weighings",
                "H2 | 2025-03-12",
                "weighed from 2025-03-12, has no hand-over",
            ),
        ],
    ),
    Case(
        "implausible_worms",
        "the limits themselves are believed; grams written as kilograms are not",
        {
            "handovers": [
                given("1", "H1", D(2025, 3, 10), worms_kg=0.1),
                given("2", "H1", D(2025, 3, 10), worms_kg=1.0),
                given("3", "H1", D(2025, 3, 10), worms_kg=2.5),
                given("4", "H1", D(2025, 3, 10), worms_kg=0.0),
            ],
        },
        FOUND,
        [
            ("doubtful", "handovers", "3", "given with 2.5 kg of worms"),
            ("doubtful", "handovers", "4", "given with 0 kg of worms"),
        ],
        {"least_worms_kg": 0.1, "most_worms_kg": 1.0},
    ),
    Case(
        "serial_given_twice",
        "a bin that came back and was given again may keep its serial number",
        {
            "handovers": [
                given("1", "H1", D(2025, 3, 1), serial="S1"),
                given("2", "H2", D(2025, 3, 1), serial="S1"),
                given("3", "H1", D(2025, 3, 1), serial="S2"),
                given("4", "H2", D(2025, 9, 1), serial="S2"),
                given("5", "H3", D(2025, 9, 1)),
                given("6", "H4", D(2025, 9, 1)),
            ],
            "givebacks": [{"handover_id": "3", "is_reissued": True}],
        },
        FOUND,
        [
            ("wrong", "handovers", "1", "its serial number stands on 2 bins, 2 among them"),
            ("wrong", "handovers", "2", "its serial number stands on 2 bins, 1 among them"),
        ],
    ),
    Case(
        "event_over_places",
        "three bins for two places are named, two bins for two places are not",
        {
            "events": [
                {"event_id": "E1", "event_date": D(2025, 3, 10), "places_count": 2},
                {"event_id": "E2", "event_date": D(2025, 3, 11), "places_count": 2},
            ],
            "handovers": [
                *[given(n, "H1", D(2025, 3, 10), event_id="E1") for n in "123"],
                *[given(n, "H1", D(2025, 3, 11), event_id="E2") for n in "45"],
                given("6", "H1", D(2025, 3, 11)),
            ],
        },
        FOUND,
        [("doubtful", "events", "E1", "3 bins given, 2 places")],
    ),
    Case(
        "handover_at_cancelled_event",
        "two bins at a cancelled day are named, one at a planned day is not",
        {
            "events": [
                {"event_id": "E1", "event_date": D(2025, 3, 10), "event_status": "cancelled"},
                {"event_id": "E2", "event_date": D(2025, 3, 11), "event_status": "planned"},
            ],
            "handovers": [
                *[given(n, "H1", D(2025, 3, 10), event_id="E1") for n in "12"],
                given("3", "H1", D(2025, 3, 11), event_id="E2"),
            ],
        },
        FOUND,
        [("doubtful", "events", "E1", "2 bins given at a cancelled day")],
    ),
    Case(
        "handover_off_event_day",
        "a bin given the day after the hand-over day is named",
        {
            "events": [{"event_id": "E1", "event_date": D(2025, 3, 10), "places_count": 9}],
            "handovers": [
                given("1", "H1", D(2025, 3, 10), event_id="E1"),
                given("2", "H1", D(2025, 3, 11), event_id="E1"),
                given("3", "H1", D(2025, 3, 12)),
            ],
        },
        FOUND,
        [("note", "handovers", "2", "given 2025-03-11, hand-over day E1 held 2025-03-10")],
    ),
    Case(
        "area_with_more_bins_than_households",
        "bins that came back do not count; as many bins as households are believed",
        {
            "areas": [
                {"area_id": "A", "houses_count": 1, "apartments_count": 1},
                {"area_id": "B", "houses_count": 1},
            ],
            "households": [*registered("H1", "H2"), *registered("H3", area_id="B")],
            "handovers": [
                given("1", "H1", D(2025, 3, 1)),
                given("2", "H1", D(2025, 4, 1)),
                given("3", "H2", D(2025, 5, 1)),
                given("4", "H3", D(2025, 3, 1)),
                given("5", "H3", D(2025, 5, 1)),
            ],
            "givebacks": [{"handover_id": "4"}],
        },
        FOUND,
        [("wrong", "areas", "A", "3 bins out, 2 households")],
    ),
]

OF_ANSWERS = [
    Case(
        "answer_without_bin",
        "a follow-up answer needs a bin, a baseline answer does not",
        {
            "waves": ROUNDS,
            "handovers": [given("1", "H1", D(2025, 3, 10))],
            "answers": [
                answered("H1", D(2026, 3, 2)),
                answered("H2", D(2026, 3, 2)),
                answered("H3", D(2025, 1, 2), wave_id="B"),
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "answers",
                "F | H2",
                "answered a follow-up round on 2026-03-02, has no hand-over",
            )
        ],
    ),
    Case(
        "answer_not_counted",
        "a baseline that asked all asked those known by its end; a sample, those drawn",
        {
            "waves": [*ROUNDS, {**FOLLOWUP[0], "wave_id": "S"}],
            "samples": [{"wave_id": "S", "household_id": "H1", "inclusion_probability": 0.5}],
            "households": [
                *registered("H1", registered_date=D(2025, 1, 31)),
                *registered("H2", "H3", registered_date=D(2025, 2, 2)),
            ],
            "handovers": [given("1", "H1", D(2025, 3, 1)), given("2", "H2", D(2026, 4, 1))],
            "answers": [
                *(answered(house, D(2025, 1, 20), wave_id="B") for house in ("H1", "H2")),
                answered("H3", D(2025, 2, 1), wave_id="B"),
                *(answered(house, D(2026, 3, 2)) for house in ("H1", "H2", "H3")),
                *(answered(house, D(2026, 3, 3), wave_id="S") for house in ("H1", "H2")),
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "answers",
                "B | H3",
                "answered 2025-02-01 and registered later still, when the round was over, so the "
                "answer counts for nothing",
            ),
            (
                "wrong",
                "answers",
                "F | H2",
                "answered 2026-03-02, first bin given 2026-04-01 when the round was over, so the "
                "answer counts for nothing",
            ),
            (
                "wrong",
                "answers",
                "S | H2",
                "answered 2026-03-03, not drawn for this round, so the answer counts for nothing",
            ),
        ],
    ),
    Case(
        "answer_before_registration",
        "an answer of the day of registration is not before it",
        {
            "waves": ROUNDS,
            "households": registered("H1", "H2", registered_date=D(2025, 1, 20)),
            "answers": [
                answered("H1", D(2025, 1, 19), wave_id="B"),
                answered("H2", D(2025, 1, 20), wave_id="B"),
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "answers",
                "B | H1",
                "answered 2025-01-19, registered 2025-01-20, "
                "and counts as known from its answer on",
            )
        ],
    ),
    Case(
        "answer_outside_round",
        "the first and the last day of a round are in it",
        {
            "waves": FOLLOWUP,
            "answers": [
                answered("H1", D(2026, 2, 28)),
                answered("H2", D(2026, 3, 1)),
                answered("H3", D(2026, 3, 31)),
                answered("H4", D(2026, 4, 1)),
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "answers",
                f"F | {household}",
                f"answered {day}, round open 2026-03-01 to 2026-03-31",
            )
            for household, day in (("H1", "2026-02-28"), ("H4", "2026-04-01"))
        ],
    ),
    Case(
        "answer_before_handover",
        "the first bin counts, and only follow-up rounds",
        {
            "waves": ROUNDS,
            "handovers": [
                given("1", "H1", D(2026, 3, 3)),
                given("2", "H1", D(2026, 5, 1)),
                given("3", "H2", D(2026, 3, 2)),
                given("4", "H2", D(2026, 5, 1)),
                given("5", "H3", D(2026, 5, 1)),
            ],
            "answers": [
                answered("H1", D(2026, 3, 2)),
                answered("H2", D(2026, 3, 2)),
                answered("H3", D(2025, 1, 2), wave_id="B"),
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "answers",
                "F | H1",
                "answered 2026-03-02, first bin given 2026-03-03",
            )
        ],
    ),
    Case(
        "stopped_out_of_order",
        "before the first bin or after the answer; the days themselves are believed",
        {
            "handovers": [given("1", h, D(2025, 3, 10)) for h in ("H1",)]
            + [given("2", "H2", D(2025, 3, 10)), given("3", "H3", D(2025, 3, 10))],
            "answers": [
                answered("H1", D(2026, 3, 2), stopped_date=D(2025, 3, 9)),
                answered("H2", D(2026, 3, 2), stopped_date=D(2026, 3, 3)),
                answered("H3", D(2026, 3, 2), stopped_date=D(2025, 3, 10)),
                answered("H4", D(2026, 3, 2), stopped_date=D(2026, 3, 2)),
            ],
        },
        FOUND,
        [
            (
                "wrong",
                "answers",
                "F | H1",
                "stopped 2025-03-09, first bin given 2025-03-10",
            ),
            ("wrong", "answers", "F | H2", "stopped 2026-03-03, answered 2026-03-02"),
        ],
    ),
    Case(
        "implausible_feed",
        "reported and weighed amounts above the limits, in their own units",
        {
            "answers": [
                answered("H1", D(2026, 3, 2), fed_kg_last_week=15.0),
                answered("H2", D(2026, 3, 2), fed_kg_last_week=15.5),
                answered("H3", D(2026, 3, 2), fed_litres_last_week=31.0),
            ],
            "weighings": [{"household_id": "H1", "fed_kg": 16.0}],
        },
        FOUND,
        [
            ("doubtful", "answers", "F | H2", "fed 15.5 kg in the week"),
            ("doubtful", "answers", "F | H3", "fed 31 litres in the week"),
            ("doubtful", "weighings", "H1 | 2025-03-10", "fed 16 kg in the week"),
        ],
        {"most_feed_kg": 15.0, "most_feed_litres": 30.0},
    ),
    Case(
        "fed_while_out_of_use",
        "nothing fed is no contradiction, and a bin in use may be fed",
        {
            "answers": [
                answered("H1", D(2026, 3, 2), is_in_use=False, fed_kg_last_week=1.5),
                answered(
                    "H2",
                    D(2026, 3, 2),
                    is_in_use=False,
                    fed_kg_last_week=0.0,
                    fed_litres_last_week=2.0,
                ),
                answered("H3", D(2026, 3, 2), is_in_use=False, fed_kg_last_week=0.0),
                answered("H4", D(2026, 3, 2), is_in_use=True, fed_kg_last_week=1.5),
            ],
        },
        FOUND,
        [
            ("doubtful", "answers", "F | H1", "is_in_use is no, fed 1.5 kg"),
            ("doubtful", "answers", "F | H2", "is_in_use is no, fed 2 litres"),
        ],
    ),
    Case(
        "baseline_after_handover",
        "the day after the first bin is named, the day itself and a follow-up are not",
        {
            "waves": ROUNDS,
            "handovers": [
                given("1", "H1", D(2025, 1, 9)),
                given("2", "H1", D(2025, 1, 8)),
                given("3", "H2", D(2025, 1, 9)),
                given("4", "H3", D(2025, 1, 8)),
            ],
            "answers": [
                answered("H1", D(2025, 1, 9), wave_id="B", **shares(0.6, 0.4)),
                answered("H2", D(2025, 1, 9), wave_id="B", **shares(0.6, 0.4)),
                answered("H3", D(2025, 1, 9), wave_id="B"),
                answered("H3", D(2026, 3, 2), **shares(0.6, 0.4)),
                answered("H4", D(2025, 1, 9), wave_id="B", **shares(0.6, 0.4)),
            ],
        },
        FOUND,
        [("note", "answers", "B | H1", "answered 2025-01-09, first bin given 2025-01-08")],
    ),
    Case(
        "weighed_week_not_paired",
        "each weighed week that no answer on feed is near, with the reason",
        {
            "waves": FOLLOWUP,
            "handovers": [given(f"{n}", f"H{n}", D(2025, 9, 1)) for n in (1, 2, 3, 4, 6)],
            "givebacks": [{"handover_id": "4", "giveback_date": D(2026, 3, 2)}],
            "answers": [
                answered("H1", D(2026, 3, 2), is_in_use=True, fed_kg_last_week=1.0),
                answered("H2", D(2026, 3, 2), is_in_use=True),
                answered("H4", D(2026, 3, 2), is_in_use=True, fed_litres_last_week=2.0),
                answered("H5", D(2026, 3, 2), is_in_use=True, fed_kg_last_week=1.0),
                answered("H6", D(2026, 3, 2), is_in_use=False),
            ],
            "weighings": [
                {"household_id": household_id, "week_start_date": day}
                for household_id, day in (
                    ("H1", D(2026, 2, 1)),
                    ("H1", D(2026, 1, 16)),
                    ("H1", D(2026, 1, 15)),
                    ("H2", D(2026, 3, 1)),
                    ("H3", D(2026, 3, 1)),
                    ("H4", D(2026, 3, 1)),
                    ("H4", D(2026, 3, 2)),
                    ("H5", D(2026, 1, 1)),
                    ("H6", D(2026, 3, 3)),
                )
            ],
        },
        FOUND,
        [
            (
                "note",
                "weighings",
                "H1 | 2026-01-15",
                "nearest answer on feed 46 days off, more than 45: counts for level and season",
            ),
            (
                "note",
                "weighings",
                "H2 | 2026-03-01",
                "no answer says what a bin was fed: counts for level and season",
            ),
            (
                "note",
                "weighings",
                "H3 | 2026-03-01",
                "the household answered no follow-up: counts for level and season",
            ),
            (
                "note",
                "weighings",
                "H4 | 2026-03-02",
                "all bins had come back by then, so the week is left out",
            ),
            (
                "note",
                "weighings",
                "H6 | 2026-03-03",
                "the household had told by then that it had stopped, so the week is left out",
            ),
        ],
        {"diary_window_days": 45},
    ),
    Case(
        "prior_main_route_only",
        "two of three answers name a route alone; one gives its shares beside it",
        {
            "answers": [
                answered("H1", D(2026, 3, 2), **shares(1.0, 0.0), prior_main_route="residual_bin"),
                answered(
                    "H2", D(2026, 3, 2), **shares(0.0, 1.0), prior_main_route="garden_compost"
                ),
                answered("H3", D(2026, 3, 2), **shares(0.6, 0.4), prior_main_route="residual_bin"),
                answered("H1", D(2026, 3, 2), wave_id="G", **shares(1.0, 0.0)),
            ],
        },
        FOUND,
        [
            (
                "note",
                "answers",
                "F",
                "2 of 3 answers name one route, which counts as all of a household's scraps",
            )
        ],
    ),
    Case(
        "prior_shares_identical",
        "five households with one set of shares; one other household ends it",
        {
            "answers": [
                *[answered(f"H{n}", D(2026, 3, 2), **shares(0.6, 0.4)) for n in range(5)],
                *[
                    answered(f"H{n}", D(2026, 3, 2), wave_id="G", **shares(0.6, 0.4))
                    for n in range(5)
                ],
                answered("H9", D(2026, 3, 2), wave_id="G", **shares(0.5, 0.5)),
                *[
                    answered(f"H{n}", D(2026, 3, 2), wave_id="K", **shares(0.6, 0.4))
                    for n in range(4)
                ],
                *[
                    answered(
                        f"H{n}",
                        D(2026, 3, 2),
                        wave_id="L",
                        **shares(1.0, 0.0),
                        prior_main_route="residual_bin",
                    )
                    for n in range(6)
                ],
                answered("H9", D(2026, 3, 2)),
            ],
        },
        FOUND,
        [("doubtful", "answers", "F", "all 5 households gave the same five shares")],
        {"least_same_answers": 5},
    ),
    Case(
        "month_without_answers",
        "only months between the first and the last answer of the same round",
        {
            "answers": [
                answered("H1", D(2026, 1, 31)),
                answered("H2", D(2026, 3, 1)),
                answered("H1", D(2026, 5, 1), wave_id="G"),
                answered("H2", D(2026, 6, 1), wave_id="G"),
            ],
        },
        FOUND,
        [("note", "answers", "F | 2026-02", "round F has no answer in 2026-02")],
    ),
]

OF_ROUNDS = [
    Case(
        "inclusion_probability_unusable",
        "1 is usable, 0 is not",
        {
            "samples": [
                {"wave_id": "F", "household_id": "H1", "inclusion_probability": 0.0},
                {"wave_id": "F", "household_id": "H2", "inclusion_probability": 1.0},
            ]
        },
        FOUND,
        [("wrong", "samples", "F | H1", "inclusion_probability 0")],
    ),
    Case(
        "sampled_but_not_registered",
        "a household drawn and not registered",
        {
            "households": registered("H1"),
            "samples": [{"wave_id": "F", "household_id": h} for h in ("H1", "H2")],
        },
        FOUND,
        [("wrong", "samples", "F | H2", "household H2 is not registered")],
    ),
    Case(
        "sampled_without_consent",
        "a household drawn that may not be contacted",
        {
            "households": [
                {"household_id": "H1"},
                {"household_id": "H2", "may_contact": False},
                {"household_id": "H3", "may_contact": False},
            ],
            "samples": [{"wave_id": "F", "household_id": h} for h in ("H1", "H2")],
        },
        FOUND,
        [("wrong", "samples", "F | H2", "household H2 has may_contact = no")],
    ),
    Case(
        "low_response",
        "2 of 10 is low, 3 of 10 is not, a round still open is not judged",
        {
            "waves": [{"wave_id": w, "closes_date": D(2026, 3, 31)} for w in ("low", "enough")]
            + [{"wave_id": "open", "closes_date": D(2026, 7, 1)}],
            "samples": [
                {"wave_id": w, "household_id": f"H{n}"}
                for w in ("low", "enough", "open")
                for n in range(10)
            ],
            "answers": [
                *[answered(f"H{n}", D(2026, 3, 2), wave_id="low") for n in range(2)],
                *[answered(f"H{n}", D(2026, 3, 2), wave_id="enough") for n in range(3)],
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "waves",
                "low",
                "20 per cent of 10 households asked have answered",
            )
        ],
        {**AS_OF, "least_response_share": 0.3},
    ),
    Case(
        "few_answers",
        "a closed round with two answers where three are asked, and one without any",
        {
            "waves": [
                {"wave_id": w, "closes_date": D(2026, 3, 31)} for w in ("few", "none", "three")
            ]
            + [{"wave_id": "open", "closes_date": D(2026, 7, 1)}],
            "answers": [
                *[answered(f"H{n}", D(2026, 3, 2), wave_id="few") for n in range(2)],
                *[answered(f"H{n}", D(2026, 3, 2), wave_id="three") for n in range(3)],
            ],
        },
        FOUND,
        [
            ("doubtful", "waves", "few", "2 answers"),
            ("doubtful", "waves", "none", "0 answers"),
        ],
        {**AS_OF, "least_answers": 3},
    ),
    Case(
        "stratum_with_one_answer",
        "one answer is a note, none is doubtful, two are enough",
        {
            "waves": [{"wave_id": "F", "closes_date": D(2026, 3, 31)}],
            "samples": [
                {"wave_id": "F", "household_id": f"{s}{n}", "stratum": s}
                for s in "abc"
                for n in range(3)
            ],
            "answers": [answered(h, D(2026, 3, 2)) for h in ("a0", "c0", "c1")],
        },
        FOUND,
        [
            (
                "note",
                "samples",
                "F | a",
                "1 of 3 households asked in stratum a have answered",
            ),
            (
                "doubtful",
                "samples",
                "F | b",
                "0 of 3 households asked in stratum b have answered",
            ),
        ],
        AS_OF,
    ),
    Case(
        "audit_incomplete",
        "the arm and period that is missing where there are audits",
        {
            "audits": [
                {"audit_id": "1", "arm": "given", "period": "before"},
                {"audit_id": "2", "arm": "given", "period": "after"},
                {"audit_id": "3", "arm": "comparison", "period": "after"},
            ]
        },
        FOUND,
        [
            (
                "doubtful",
                "audits",
                "comparison | before",
                "no audit of comparison households before the giveaway",
            )
        ],
    ),
    Case(
        "audit_incomplete",
        "a program without audits lacks none",
        {},
        FOUND,
        [],
    ),
    Case(
        "round_asks_wrong_silent",
        "a round asks again of one of its own kind that was asked before, and not of itself",
        {
            "waves": [
                {"wave_id": "F1", "wave_kind": "followup", "opens_date": D(2026, 3, 1)},
                {"wave_id": "B1", "wave_kind": "baseline", "opens_date": D(2026, 2, 1)},
                *[
                    {
                        "wave_id": wave_id,
                        "wave_kind": "followup",
                        "opens_date": day,
                        "closes_date": D(2026, 5, 1),
                        "follows_wave_id": follows,
                    }
                    for wave_id, day, follows in (
                        ("G1 good", D(2026, 4, 1), "F1"),
                        ("G2 early", D(2026, 3, 1), "F1"),
                        ("G3 kind", D(2026, 4, 1), "B1"),
                        ("G4 chain", D(2026, 4, 2), "G1 good"),
                        ("G5 own", D(2026, 4, 1), "G5 own"),
                    )
                ],
            ]
        },
        ("severity", "record_key", "found"),
        [
            (
                "wrong",
                "G2 early",
                "opened 2026-03-01, asks the silent of F1 again, which opened 2026-03-01",
            ),
            ("wrong", "G3 kind", "is a followup, asks the silent of B1 again, a baseline"),
            ("wrong", "G4 chain", "asks the silent of G1 good again, which does the same of F1"),
            ("wrong", "G5 own", "asks its own silent again"),
        ],
    ),
]

OF_YEARS = [
    Case(
        "date_outside_reporting_years",
        "the first day of the first year is in it, the day after the last is not",
        {
            "handovers": [
                given("1", "H1", D(2024, 6, 30)),
                given("2", "H1", D(2024, 7, 1)),
                given("3", "H1", D(2025, 7, 1)),
            ],
            "answers": [answered("H1", D(2026, 7, 1))],
            "costs": [
                {"cost_id": "c", "cost_date": D(2035, 1, 1)},
                {"cost_id": "d", "cost_date": D(2026, 6, 30)},
            ],
        },
        FOUND,
        [
            ("doubtful", "answers", "F | H1", "dated 2026-07-01"),
            ("doubtful", "costs", "c", "dated 2035-01-01"),
            ("doubtful", "handovers", "1", "dated 2024-06-30"),
        ],
        YEARS,
    ),
    Case(
        "month_without_handovers",
        "only months between the first and the last hand-over",
        {
            "handovers": [
                given("1", "H1", D(2025, 12, 31)),
                given("2", "H1", D(2026, 2, 1)),
                given("3", "H1", D(2026, 2, 28)),
            ]
        },
        FOUND,
        [("note", "handovers", "2026-01", "no bin given in 2026-01")],
    ),
    Case(
        "month_without_handovers",
        "no hand-over at all leaves no month out",
        {},
        FOUND,
        [],
    ),
    Case(
        "year_without_followup",
        "a year with bins out needs a follow-up round, unless it is not over",
        {
            "waves": [
                {"wave_id": "F", "opens_date": D(2025, 7, 1)},
                {"wave_id": "B", "wave_kind": "baseline", "opens_date": D(2024, 9, 1)},
            ],
            "handovers": [given("1", "H1", D(2025, 6, 30)), given("2", "H2", D(2025, 3, 1))],
        },
        FOUND,
        [
            (
                "doubtful",
                "waves",
                "2024-25",
                "2 bins given by the end of 2024-25, no follow-up round opened in it",
            )
        ],
        {**LABELLED, **AS_OF},
    ),
    Case(
        "year_without_costs",
        "a year with bins given and no ledger line; receipts are lines too",
        {
            "handovers": [
                given("1", "H1", D(2024, 7, 1)),
                given("2", "H2", D(2025, 7, 1)),
                given("3", "H2", D(2025, 8, 1)),
            ],
            "costs": [
                {
                    "cost_id": "c",
                    "cost_date": D(2025, 6, 30),
                    "category": "copayments_received",
                    "amount": -5.0,
                }
            ],
        },
        FOUND,
        [("wrong", "costs", "2025-26", "2 bins given in 2025-26, no cost")],
        LABELLED,
    ),
    Case(
        "year_without_cost_of_bins",
        "a year with other costs alone; a year without any is another check's",
        {
            "handovers": [given("1", "H1", D(2024, 7, 1)), given("2", "H2", D(2025, 7, 1))],
            "costs": [{"cost_id": "c", "cost_date": D(2025, 6, 30), "category": "staff"}],
        },
        FOUND,
        [
            (
                "note",
                "costs",
                "2024-25",
                "bins given in 2024-25, no ledger line of category bins",
            )
        ],
        LABELLED,
    ),
]

CASES = [*OF_BINS, *OF_ANSWERS, *OF_ROUNDS, *OF_YEARS]
