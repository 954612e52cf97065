"""Cases of queries/summary that set out the survey rounds and their answers."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import DAY, Case

D = dt.date
BEFORE = D(2025, 7, 1)
UNTIL = {"before_date": BEFORE}
EARLIER, LATER = D(2025, 3, 9), D(2025, 3, 11)
SHARES = (
    "prior_residual_bin_share",
    "prior_garden_compost_share",
    "prior_kerbside_organics_share",
    "prior_animals_share",
    "prior_other_share",
)
PRIOR = dict(zip(SHARES, (0.6, 0.2, 0.1, 0.1, 0.0), strict=True))
BASELINE = {"wave_id": "B", "wave_kind": "baseline"}
FOLLOWUP = {"wave_id": "F"}
QUARTER = "2025-01"
NEW = ("not told", "not asked before")


def homes(*names):
    return [{"household_id": name} for name in names]


CASES = [
    Case(
        "followup_answers",
        "a bin is used from the hand-over to the answer, or to the day on which it stopped",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": f"G{n}", "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in (1, 2, 3)
            ],
            "answers": [
                {"household_id": "H1", "is_in_use": True, "thrown_away_share": 0.1},
                {"household_id": "H2", "is_in_use": False, "stopped_date": D(2025, 1, 29)},
                {"household_id": "H3", "is_in_use": False, "would_have_composted_share": 0.5},
            ],
        },
        (
            "household_id",
            "used_days",
            "used_at_most_days",
            "thrown_away_share",
            "would_have_composted_share",
        ),
        [("H1", 60, 60, 0.1, None), ("H2", 20, 20, None, None), ("H3", 0, 60, None, 0.5)],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "without a day a bin stopped between what its household told in two rounds",
        {
            "waves": [
                FOLLOWUP,
                {"wave_id": "L", "opens_date": D(2025, 5, 9), "closes_date": D(2025, 5, 9)},
                {"wave_id": "M", "opens_date": D(2025, 6, 8), "closes_date": D(2025, 6, 8)},
            ],
            "households": homes("H1", "H2"),
            "handovers": [
                {"handover_id": f"G{n}", "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in (1, 2)
            ],
            "answers": [
                {"household_id": name, "wave_id": wave, "is_in_use": used, "answer_date": day}
                for wave, day, states in (
                    ("F", DAY, (True, False)),
                    ("L", D(2025, 5, 9), (False, True)),
                    ("M", D(2025, 6, 8), (False, False)),
                )
                for name, used in zip(("H1", "H2"), states, strict=True)
            ],
        },
        ("wave_id", "household_id", "used_days", "used_at_most_days"),
        # H2 began again after F and had stopped for good by M
        [
            ("F", "H1", 60, 60),
            ("F", "H2", 0, 60),
            ("L", "H1", 60, 120),
            ("L", "H2", 120, 120),
            ("M", "H1", 60, 120),
            ("M", "H2", 120, 150),
        ],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "a bin that came back by the day of the answer is not in use, one day later it was",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": f"G{n}", "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in (1, 2, 3, 4)
            ],
            "givebacks": [
                {"handover_id": "G1", "giveback_date": EARLIER},
                {"handover_id": "G2", "giveback_date": DAY},
                {"handover_id": "G3", "giveback_date": LATER},
            ],
            "answers": [{"household_id": f"H{n}", "is_in_use": True} for n in (1, 2, 3, 4)],
        },
        ("household_id", "is_in_use", "age_days"),
        [("H1", False, 60), ("H2", False, 60), ("H3", True, 60), ("H4", True, 60)],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "age counts from the first bin; one of two that came back leaves the other in use",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2"),
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "handover_date": EARLIER},
                {"handover_id": "3", "handover_date": LATER},
                {"handover_id": "4", "household_id": "H2", "handover_date": EARLIER},
            ],
            "givebacks": [{"handover_id": "1", "giveback_date": EARLIER}],
            "answers": [
                {"household_id": "H1", "is_in_use": True, "fed_kg_last_week": 1.5},
                {"household_id": "H2", "is_in_use": True, "fed_litres_last_week": 4.0},
            ],
        },
        ("household_id", "age_days", "is_in_use", "fed_kg_last_week", "fed_litres_last_week"),
        [("H1", 60, True, 1.5, None), ("H2", 1, True, None, 4.0)],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "a bin known to be back needs no answer, and what is said against it does not count",
        {
            "waves": [{**FOLLOWUP, "closes_date": LATER}],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": f"{n}", "household_id": f"H{n}", "handover_date": D(2025, 2, 28)}
                for n in (1, 2, 3)
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": EARLIER},
                {"handover_id": "2", "giveback_date": DAY},
                {"handover_id": "3", "giveback_date": LATER},
            ],
            "answers": [{"household_id": "H2", "is_in_use": True, "fed_kg_last_week": 2.0}],
        },
        ("household_id", "answer_date", "age_days", "is_in_use", "fed_kg_last_week"),
        [("H1", DAY, 10, False, None), ("H2", DAY, 10, False, None)],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "an answer of a household that was not drawn is left out",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2"),
            "handovers": [
                {"handover_id": "1", "handover_date": EARLIER},
                {"handover_id": "2", "household_id": "H2", "handover_date": EARLIER},
            ],
            "samples": [{"wave_id": "F", "household_id": "H1"}],
            "answers": [{"household_id": f"H{n}", "is_in_use": True} for n in (1, 2)],
        },
        ("household_id", "is_in_use"),
        [("H1", True)],
        UNTIL,
    ),
    Case(
        "followup_answers",
        "a baseline, a later round, an empty answer and one before any bin are left out",
        {
            "waves": [
                BASELINE,
                FOLLOWUP,
                {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE},
                {"wave_id": "M", "opens_date": D(2025, 6, 30), "closes_date": BEFORE},
            ],
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "household_id": "H2", "handover_date": LATER},
                {"handover_id": "4", "household_id": "H4", "handover_date": DAY},
            ],
            "answers": [
                {"wave_id": "B", "household_id": "H1", "is_in_use": True},
                {"wave_id": "F", "household_id": "H1"},
                {"wave_id": "F", "household_id": "H2", "is_in_use": True},
                {"wave_id": "F", "household_id": "H3", "is_in_use": True},
                {"wave_id": "F", "household_id": "H4", "is_in_use": False},
                {"wave_id": "L", "household_id": "H1", "is_in_use": True, "answer_date": BEFORE},
                {
                    "wave_id": "M",
                    "household_id": "H1",
                    "is_in_use": True,
                    "answer_date": D(2025, 6, 30),
                },
            ],
        },
        ("wave_id", "household_id", "age_days", "is_in_use"),
        # H4 told in F that it had stopped and is silent in M: out of use when M opened
        [("F", "H4", 0, False), ("M", "H1", 172, True), ("M", "H4", 112, False)],
        UNTIL,
    ),
    Case(
        "prior_shares",
        "baseline answers alone, with the dwelling and the collection of the area",
        {
            "areas": [{"area_id": "A", "kerbside_service": "garden_organics"}],
            "waves": [
                BASELINE,
                FOLLOWUP,
                {**BASELINE, "wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE},
            ],
            "households": homes("H1", "H2"),
            "answers": [
                {"wave_id": "B", "household_id": "H1", **PRIOR},
                {"wave_id": "B", "household_id": "H2"},
                {"wave_id": "F", "household_id": "H2", **PRIOR},
                {"wave_id": "L", "household_id": "H2", **PRIOR},
            ],
        },
        ("wave_id", "household_id", "area_id", "dwelling", "kerbside_service", *SHARES),
        [("B", "H1", "A", "house", "garden_organics", 0.6, 0.2, 0.1, 0.1, 0.0)],
        UNTIL,
    ),
    Case(
        "prior_shares",
        "an answer is recall from the day after the household's first bin",
        {
            "areas": [{"area_id": "A"}],
            "waves": [{**BASELINE, "closes_date": LATER}],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": EARLIER},
                {"handover_id": "2", "household_id": "H2", "handover_date": DAY},
            ],
            "samples": [{"wave_id": "B", "household_id": f"H{n}"} for n in (1, 2, 3)],
            "answers": [{"wave_id": "B", "household_id": f"H{n}", **PRIOR} for n in (1, 2, 3)],
        },
        ("household_id", "is_recalled"),
        [("H1", True), ("H2", False), ("H3", False)],
        UNTIL,
    ),
    Case(
        "stage_who_was_asked",
        "a baseline without a sample asked no holder of a bin, but for one that answered",
        {
            "waves": [{**BASELINE, "closes_date": LATER}],
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": EARLIER},
                {"handover_id": "2", "household_id": "H2", "handover_date": EARLIER},
                {"handover_id": "3", "household_id": "H3", "handover_date": DAY},
            ],
            "answers": [{"wave_id": "B", "household_id": "H2", **PRIOR}],
        },
        ("wave_id", "household_id", "first_handover_date"),
        [("B", "H2", EARLIER), ("B", "H3", DAY), ("B", "H4", None)],
        {},
    ),
    Case(
        "diary_weeks",
        "every week with a bin, calibrating where an answer on feed is as near as the window",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": f"{n}", "household_id": f"H{n}", "handover_date": D(2025, 2, 28)}
                for n in (1, 2, 3)
            ],
            "givebacks": [{"handover_id": "3", "giveback_date": D(2025, 4, 1)}],
            "answers": [
                {"household_id": "H1", "is_in_use": True, "fed_kg_last_week": 3.0},
                {"household_id": "H2", "is_in_use": True},
            ],
            "weighings": [
                {"household_id": "H1", "week_start_date": D(2025, 2, 27)},
                {"household_id": "H1", "week_start_date": D(2025, 2, 28), "fed_kg": 1.0},
                {"household_id": "H1", "week_start_date": D(2025, 3, 20), "fed_kg": 2.0},
                {"household_id": "H1", "week_start_date": D(2025, 3, 21), "fed_kg": 3.0},
                {"household_id": "H1", "week_start_date": BEFORE},
                {"household_id": "H2", "week_start_date": DAY, "fed_kg": 4.0},
                {"household_id": "H3", "week_start_date": D(2025, 3, 31), "fed_kg": 5.0},
                {"household_id": "H3", "week_start_date": D(2025, 4, 1)},
                {"household_id": "H4", "week_start_date": DAY},
            ],
        },
        ("household_id", "week_start_date", "dwelling", "age_days", "fed_kg", "is_calibrating"),
        [
            ("H1", D(2025, 2, 28), "house", 0, 1.0, True),
            ("H1", D(2025, 3, 20), "house", 20, 2.0, True),
            ("H1", D(2025, 3, 21), "house", 21, 3.0, False),
            ("H2", DAY, "house", 10, 4.0, False),
            ("H3", D(2025, 3, 31), "house", 31, 5.0, False),
        ],
        {**UNTIL, "window_days": 10},
    ),
    Case(
        "diary_weeks",
        "weeks after the household had told that it had stopped are left out until it is in use",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1"),
            "handovers": [{"handover_id": "1", "handover_date": D(2025, 1, 1)}],
            "answers": [
                {"household_id": "H1", "is_in_use": False, "answer_date": D(2025, 3, 1)},
                {
                    "wave_id": "G",
                    "household_id": "H1",
                    "is_in_use": True,
                    "answer_date": D(2025, 3, 20),
                },
            ],
            "weighings": [
                {"household_id": "H1", "week_start_date": day, "fed_kg": 1.0}
                for day in (D(2025, 2, 22), D(2025, 3, 1), D(2025, 3, 19), D(2025, 3, 20))
            ],
        },
        ("week_start_date",),
        [(D(2025, 2, 22),), (D(2025, 3, 20),)],
        {**UNTIL, "window_days": 10},
    ),
    Case(
        "diary_pairs",
        "weeks as far off as the window count, before and after, and are averaged",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2"),
            "handovers": [{"handover_id": "1", "handover_date": EARLIER}],
            "answers": [{"household_id": "H1", "is_in_use": True, "fed_kg_last_week": 3.0}],
            "weighings": [
                {"household_id": "H1", "week_start_date": D(2025, 2, 27), "fed_kg": 9.0},
                {"household_id": "H1", "week_start_date": D(2025, 2, 28), "fed_kg": 1.0},
                {"household_id": "H1", "week_start_date": D(2025, 3, 20), "fed_kg": 2.0},
                {"household_id": "H1", "week_start_date": D(2025, 3, 21), "fed_kg": 9.0},
                {"household_id": "H2", "week_start_date": DAY, "fed_kg": 9.0},
            ],
        },
        (
            "wave_id",
            "household_id",
            "fed_kg_last_week",
            "fed_litres_last_week",
            "weighed_kg_per_week",
            "weeks_count",
        ),
        [("F", "H1", 3.0, None, 1.5, 2)],
        {**UNTIL, "window_days": 10},
    ),
    Case(
        "diary_pairs",
        "no pair without a report or a diary, out of use, in a baseline or after the year",
        {
            "waves": [
                FOLLOWUP,
                BASELINE,
                {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE},
            ],
            "households": homes("H1", "H2", "H3", "H4", "H5 no diary"),
            "handovers": [
                {"handover_id": name, "household_id": name, "handover_date": EARLIER}
                for name in ("H1", "H2", "H3", "H4", "H5 no diary")
            ],
            "answers": [
                {"household_id": "H1", "is_in_use": True},
                {"household_id": "H2", "is_in_use": False, "fed_kg_last_week": 1.0},
                {"household_id": "H3", "is_in_use": True, "fed_litres_last_week": 5.0},
                {"household_id": "H5 no diary", "is_in_use": True, "fed_kg_last_week": 1.0},
                {"wave_id": "B", "household_id": "H4", "fed_kg_last_week": 1.0},
                {"wave_id": "L", "household_id": "H3", "fed_kg_last_week": 1.0},
            ],
            "weighings": [{"household_id": f"H{n}"} for n in (1, 2, 3, 4)],
        },
        ("wave_id", "household_id", "fed_litres_last_week", "weighed_kg_per_week"),
        [("F", "H3", 5.0, 2.0)],
        {**UNTIL, "window_days": 10},
    ),
    Case(
        "stage_who_was_asked",
        "those drawn with their cluster, or else all; bins by the last day, back by the first",
        {
            "waves": [
                {**FOLLOWUP, "closes_date": LATER},
                {"wave_id": "N", "opens_date": DAY, "closes_date": DAY},
            ],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 2, 1)},
                {"handover_id": "2", "handover_date": EARLIER},
                {"handover_id": "3", "household_id": "H2", "handover_date": LATER},
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": DAY},
                {"handover_id": "2", "giveback_date": DAY},
            ],
            "samples": [
                {"wave_id": "F", "household_id": "H1"},
                {"wave_id": "F", "household_id": "H2", "cluster_id": "Elm Street"},
                {"wave_id": "F", "household_id": "H3"},
            ],
        },
        (
            "wave_id",
            "household_id",
            "stratum",
            "unit_id",
            "inclusion_probability",
            "first_handover_date",
            "is_given_back",
        ),
        [
            # back by the first day: drawn or not, it stands for itself
            ("F", "H1", "A house", "H1", 1.0, D(2025, 2, 1), True),
            ("F", "H2", "all", "Elm Street", 0.5, LATER, False),
            ("F", "H3", "all", "H3", 0.5, None, False),
            ("N", "H1", "A house", "H1", 1.0, D(2025, 2, 1), True),
        ],
        {},
    ),
    Case(
        "wave_frames",
        "a baseline without samples asks all registered by its last day, one stratum a group",
        {
            "waves": [{**BASELINE, "closes_date": LATER}],
            "households": [
                {"household_id": "H1", "registered_date": LATER},
                {"household_id": "H2", "registered_date": D(2025, 3, 12)},
                {"household_id": "H3", "area_id": "B", "dwelling": "apartment"},
            ],
            "answers": [
                {"wave_id": "B", "household_id": "H1", **PRIOR},
                {"wave_id": "B", "household_id": "H3", "is_in_use": False},
            ],
        },
        (
            "wave_id",
            "wave_kind",
            "household_id",
            "stratum",
            "inclusion_probability",
            "has_answered",
        ),
        [
            ("B", "baseline", "H1", "A house", 1.0, True),
            ("B", "baseline", "H3", "B apartment", 1.0, False),
        ],
        UNTIL,
    ),
    Case(
        "wave_frames",
        "a follow-up without samples asks whoever held a first bin when it opened, once",
        {
            "waves": [FOLLOWUP],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": "1", "handover_date": DAY},
                {"handover_id": "2", "handover_date": LATER},
                {"handover_id": "3", "handover_date": EARLIER},
                {"handover_id": "4", "household_id": "H2", "handover_date": LATER},
                {"handover_id": "5", "household_id": "H3", "handover_date": DAY},
            ],
            "answers": [{"household_id": "H1", **PRIOR}],
        },
        ("wave_id", "household_id", "has_answered"),
        [("F", "H1", False), ("F", "H3", False)],
        UNTIL,
    ),
    Case(
        "wave_frames",
        "what was known before a round: size, quarter of the first bin, state told, answers given",
        {
            "waves": [
                FOLLOWUP,
                {"wave_id": "M", "opens_date": LATER, "closes_date": LATER},
            ],
            "households": [
                {"household_id": "H1", "people_count": 2, "channel": "online"},
                {"household_id": "H2", "people_count": 7},
                {"household_id": "H3", "people_count": 1},
            ],
            "handovers": [
                {"handover_id": n, "household_id": f"H{n}", "handover_date": EARLIER}
                for n in ("1", "2", "3")
            ],
            "answers": [
                {"wave_id": "F", "household_id": "H1", "is_in_use": False},
                {"wave_id": "F", "household_id": "H2", "is_in_use": True},
            ],
        },
        (
            "wave_id",
            "household_id",
            "people",
            "channel",
            "cohort",
            "last_state",
            "answered_before",
            "is_settled",
            "has_answered",
        ),
        [
            ("F", "H1", "2", "online", QUARTER, *NEW, False, True),
            ("F", "H2", "4 or more", "unknown", QUARTER, *NEW, False, True),
            ("F", "H3", "1", "unknown", QUARTER, *NEW, False, False),
            ("M", "H1", "2", "online", QUARTER, "out of use", "always", True, False),
            ("M", "H2", "4 or more", "unknown", QUARTER, "in use", "always", False, False),
            ("M", "H3", "1", "unknown", QUARTER, "not told", "never", False, False),
        ],
        UNTIL,
    ),
    Case(
        "wave_frames",
        "a round with samples asks those drawn alone, whether or not they answered",
        {
            "waves": [FOLLOWUP, {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE}],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": n, "household_id": f"H{n}", "handover_date": EARLIER}
                for n in ("1", "2", "3")
            ],
            "samples": [
                {"wave_id": "F", "household_id": "H1", "inclusion_probability": 0.25},
                {"wave_id": "F", "household_id": "H2", "stratum": "flats"},
                {"wave_id": "L", "household_id": "H1"},
            ],
            "answers": [{"household_id": "H2", "fed_kg_last_week": 2.0}],
        },
        (
            "wave_id",
            "opens_date",
            "household_id",
            "area_id",
            "dwelling",
            "stratum",
            "inclusion_probability",
            "has_answered",
        ),
        [
            ("F", DAY, "H1", "A", "house", "all", 0.25, False),
            ("F", DAY, "H2", "A", "house", "flats", 0.5, True),
        ],
        UNTIL,
    ),
    Case(
        "wave_response",
        "a census has no number asked, a round nobody answered no answers; some are asked again",
        {
            "waves": [
                BASELINE,
                FOLLOWUP,
                {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE},
                {**FOLLOWUP, "wave_id": "FS", "follows_wave_id": "F"},
            ],
            "samples": [
                {"wave_id": "F", "household_id": "H1"},
                {"wave_id": "F", "household_id": "H2"},
                {"wave_id": "FS", "household_id": "H2"},
            ],
            "answers": [{"wave_id": "B", "household_id": f"H{n}"} for n in (1, 2, 3)],
        },
        ("wave_id", "wave_kind", "opens_date", "asked_count", "answers_count", "again_count"),
        [("B", "baseline", DAY, None, 3, 0), ("F", "followup", DAY, 2, 0, 1)],
        UNTIL,
    ),
    Case(
        "households_by_wave",
        "a baseline speaks for all registered by its end, a followup for holders, back or not",
        {
            "waves": [
                {**BASELINE, "opens_date": EARLIER, "closes_date": DAY},
                {**FOLLOWUP, "opens_date": DAY, "closes_date": LATER},
                {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE},
            ],
            "households": [
                {"household_id": "H1", "registered_date": D(2025, 1, 1)},
                {"household_id": "H2", "registered_date": DAY},
                {"household_id": "H3", "registered_date": D(2025, 1, 1), "dwelling": "apartment"},
                {"household_id": "H4", "registered_date": LATER},
                {"household_id": "H5", "registered_date": D(2025, 1, 1)},
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 1, 9)},
                {"handover_id": "2", "household_id": "H3", "handover_date": D(2025, 1, 9)},
                {"handover_id": "3", "household_id": "H3", "handover_date": D(2025, 2, 9)},
                {"handover_id": "4", "household_id": "H4", "handover_date": LATER},
                {"handover_id": "5", "household_id": "H5", "handover_date": D(2025, 1, 9)},
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": DAY},
                {"handover_id": "2", "giveback_date": EARLIER},
                {"handover_id": "5", "giveback_date": LATER},
            ],
        },
        ("wave_id", "dwelling", "is_given_back", "households_count"),
        [
            ("B", "apartment", False, 1),
            ("B", "house", False, 3),
            ("F", "apartment", False, 1),
            ("F", "house", False, 2),
            ("F", "house", True, 1),
        ],
        UNTIL,
    ),
    Case(
        "households_by_wave",
        "a household that told before a round that it had stopped is settled, one back in use not",
        {
            "waves": [
                {**FOLLOWUP, "wave_id": "E", "opens_date": EARLIER, "closes_date": EARLIER},
                {**FOLLOWUP, "opens_date": DAY, "closes_date": LATER},
            ],
            "households": homes("H1", "H2", "H3"),
            "handovers": [
                {"handover_id": n, "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in ("1", "2", "3")
            ],
            "answers": [
                {"wave_id": "E", "household_id": "H1", "is_in_use": False, "answer_date": EARLIER},
                {"wave_id": "E", "household_id": "H2", "is_in_use": True, "answer_date": EARLIER},
                {"wave_id": "F", "household_id": "H3", "is_in_use": False, "answer_date": LATER},
            ],
        },
        ("wave_id", "is_settled", "households_count"),
        [("E", False, 3), ("F", False, 2), ("F", True, 1)],
        UNTIL,
    ),
    Case(
        "wave_frames",
        "of the silent some are drawn to be asked again, and their answers are to that",
        {
            "waves": [
                {**FOLLOWUP, "opens_date": EARLIER, "closes_date": EARLIER},
                {
                    **FOLLOWUP,
                    "wave_id": "S",
                    "opens_date": DAY,
                    "closes_date": LATER,
                    "follows_wave_id": "F",
                },
            ],
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": n, "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in ("1", "2", "3", "4")
            ],
            "samples": [
                *[{"wave_id": "F", "household_id": f"H{n}"} for n in (1, 2, 3, 4)],
                *[
                    {"wave_id": "S", "household_id": name, "inclusion_probability": 0.75}
                    for name in ("H2", "H3")
                ],
            ],
            "answers": [
                {"household_id": "H1", "is_in_use": True, "answer_date": EARLIER},
                {"wave_id": "S", "household_id": "H2", "is_in_use": False, "answer_date": LATER},
            ],
        },
        (
            "wave_id",
            "household_id",
            "has_answered",
            "again_probability",
            "has_answered_again",
            "is_in_use",
        ),
        [
            ("F", "H1", True, None, False, True),
            ("F", "H2", True, 0.75, True, False),
            ("F", "H3", False, 0.75, False, None),
            ("F", "H4", False, None, False, None),
        ],
        UNTIL,
    ),
]
