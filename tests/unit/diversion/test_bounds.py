"""Rows that stand for the silent, by hand."""

import datetime as dt
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion import bounds
from planner.survey.response import KNOWN_BEFORE
from planner.survey.use_intervals import filled_if

D = dt.date
OPENS = D(2025, 4, 11)


@dataclass(frozen=True)
class Counted:
    """What forgetting reads of the counts."""

    frames: pl.DataFrame
    households: pl.DataFrame


@dataclass(frozen=True)
class Asked:
    """What filling in reads of the counts."""

    frames: pl.DataFrame
    use_intervals: pl.DataFrame


@dataclass(frozen=True)
class Numbers:
    """By what a round is drawn again."""

    draws_count: int


@dataclass(frozen=True)
class Round:
    """Households of a round."""

    asked: pl.DataFrame
    numbers: Numbers


@dataclass(frozen=True)
class Wave:
    """A round's weights."""

    weights: np.ndarray


@dataclass(frozen=True)
class Town:
    """A year measured, with its estimates."""

    estimates: object


def counted():
    """Count four households asked on day 100 of their bins: one answered, three silent.

    In a baseline round H5 answered when it was asked again; H4 was asked again in both rounds.
    """
    frames = pl.DataFrame(
        {
            "wave_id": ["F"] * 4 + ["B"] * 2,
            "wave_kind": ["followup"] * 4 + ["baseline"] * 2,
            "opens_date": [OPENS] * 6,
            "household_id": ["H1", "H2", "H3", "H4", "H5", "H4"],
            "area_id": ["N"] * 6,
            "dwelling": ["house"] * 6,
            "has_answered": [True, False, False, False, True, False],
            "is_settled": [False] * 6,
            "again_probability": [None, None, None, 0.5, 0.25, 0.25],
            "has_answered_again": [False] * 4 + [True, False],
        }
    )
    intervals = pl.DataFrame(
        {
            "household_id": ["H1", "H2", "H3", "H4"],
            "entry_date": [D(2025, 1, 1)] * 4,
            "asked_age_days": [100] * 4,
            "is_known": [True, False, False, False],
            # of H3 a later round tells that it still used its bin, H4's was out by day 60
            "last_in_use_age_days": [100, 0, 280, 0],
            "first_out_of_use_age_days": [None, None, None, 60],
            "is_exact": [False] * 4,
        }
    )
    return SimpleNamespace(frames=frames, use_intervals=intervals)


def test_all_asked_after_a_bin_count_as_heard():
    frames = bounds._all_heard(counted())
    assert frames["has_answered"].to_list() == [True] * 5 + [False]
    # of the baseline nothing is filled in, so those asked again there stand for its silent
    assert frames["again_probability"].to_list() == [None] * 4 + [0.25, 0.25]
    assert frames["has_answered_again"].to_list() == [False] * 4 + [True, False]


@pytest.mark.parametrize(
    ("extreme", "lower", "upper"),
    [
        ("all kept", [100, 100, 280, 0], [None, None, None, 60]),
        ("all stopped", [100, 0, 280, 0], [None, 100, 281, 60]),
    ],
)
def test_the_silent_are_filled_in_unless_it_is_known(extreme, lower, upper):
    filled = filled_if(counted().use_intervals, extreme)
    assert filled["last_in_use_age_days"].to_list() == lower
    assert filled["first_out_of_use_age_days"].to_list() == upper


@pytest.mark.parametrize(
    ("entry", "settled", "is_heard"),
    [(OPENS, False, True), (OPENS + dt.timedelta(days=1), False, False), (None, False, False),
     (D(2025, 1, 1), True, False)],
    ids=["held a bin that day", "took it a day later", "never took one", "settled before"],
)  # fmt: skip
def test_nothing_is_filled_in_of_a_household_that_no_answer_was_awaited_from(
    entry, settled, is_heard
):
    counts = counted()
    of_one = pl.col("household_id") == "H2"
    frames = counts.frames.with_columns(is_settled=of_one & settled)
    known = counts.use_intervals.with_columns(
        entry_date=pl.when(of_one).then(pl.lit(entry, pl.Date)).otherwise("entry_date")
    )
    found = bounds._all_heard(SimpleNamespace(frames=frames, use_intervals=known))
    assert found.filter(of_one)["has_answered"].to_list() == [is_heard]


def test_without_its_history_a_household_is_known_by_area_and_dwelling_alone():
    names = [*KNOWN_BEFORE]
    frames = pl.DataFrame({name: [f"{name} 1", f"{name} 2"] for name in names})
    households = pl.DataFrame(
        {"area_id": ["N", "S"], "dwelling": ["house"] * 2, "people": ["1", "2"],
         "cohort": ["2025-01", "2025-04"]}
    )  # fmt: skip
    found = bounds._without_history(Counted(frames, households))
    told = {name: found.frames[name].n_unique() for name in names}
    assert told == {name: 2 if name in ("area_id", "dwelling") else 1 for name in names}
    assert found.households["area_id"].to_list() == ["N", "S"]
    assert found.households["people"].to_list() == found.households["cohort"].to_list()


def test_users_answer_more_readily_in_rounds_that_ask_of_bins_in_use_alone(monkeypatch):
    asked = []

    def weigh_rounds(rounds, odds):
        asked.append((rounds[0].numbers.draws_count, odds))
        return ("weighed anew",)

    def round_of(in_use):
        rows = pl.DataFrame({"is_in_use": [in_use]}, schema={"is_in_use": pl.Boolean})
        return Round(rows, Numbers(7))

    monkeypatch.setattr(bounds, "weigh_rounds", weigh_rounds)
    waves = Wave(np.ones((5, 2))), Wave(np.ones((5, 3)))
    measured = SimpleNamespace(asked=(round_of(None), round_of(True)), waves=waves)
    before, after = bounds._at_odds(measured, 3.0)
    assert asked == [(0, 3.0)]
    assert before.weights.shape == (1, 2)
    assert after == "weighed anew"


def test_followups_are_weighed_again_and_baselines_stay(monkeypatch):
    seen = {}

    def prepare_rounds(frames, households, draws_count, method, before):
        seen.update(before=list(before), draws_count=draws_count)
        return "prepared"

    monkeypatch.setattr(bounds, "prepare_rounds", prepare_rounds)
    monkeypatch.setattr(bounds, "weigh_rounds", lambda _: ("F anew",))
    waves = [SimpleNamespace(wave_id=name, weights=SimpleNamespace(draws_count=7)) for name in "BF"]
    counts = counted()
    counts.households = None
    found = bounds._followups_weighed_again(
        SimpleNamespace(waves=waves), counts, counts.frames, None
    )
    assert found == (waves[0], "F anew")
    assert seen == {"before": ["B"], "draws_count": 7}


def test_the_first_extreme_fills_in_users_and_the_second_those_that_stopped(monkeypatch):
    filled = []

    class Heard:
        def __init__(self, counts=None):
            self.counts = counts

        @staticmethod
        def of(*_):
            return Heard()

        def leant(self, _):
            return None

        def levels(self):
            return None

        def keeping(self, counts, _):
            return Heard(counts)

        def town(self, *_):
            filled.append(self.counts.use_intervals["last_in_use_age_days"].to_list()[1])
            return (Town(SimpleNamespace(without_households=lambda: "few")),)

    monkeypatch.setattr(bounds, "FollowUpEvidence", Heard)
    monkeypatch.setattr(bounds, "routes_before", lambda *_: [None])
    monkeypatch.setattr(bounds, "_followups_weighed_again", lambda *_: ())
    rows = counted()
    counts = Asked(rows.frames, rows.use_intervals)
    program = SimpleNamespace(method=None)
    found = bounds._extremes(SimpleNamespace(waves=()), (counts, program, {}, None))
    # H2 did not answer on day 100 of its bin: in use until then, or never
    assert filled == [100, 0]
    assert [one.estimates for one in found] == ["few", "few"]
