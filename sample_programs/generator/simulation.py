"""A town lived through: who took a bin, how long it was used, what it was fed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import PRIOR_SHARES
from sample_programs.generator.calendar import Calendar, open_calendar
from sample_programs.generator.giving import give_bins, plan_events
from sample_programs.generator.leaks import ANYWAY, THROWN, draw_leaks
from sample_programs.generator.population import draw_households
from sample_programs.generator.streams import stream
from sample_programs.generator.use import (
    crowd_into_season,
    draw_fed_kg,
    draw_use_days,
    in_use_days,
    settled_kg_per_week,
)

if TYPE_CHECKING:
    from sample_programs.generator.towns import Town

_SECOND_BIN_FACTOR = 0.6


@dataclass(frozen=True)
class Simulation:
    """What truly happened; nobody in the town knows all of it.

    Attributes
    ----------
    households
        One row a registered household, with its true prior shares and leaks.
    events
        One row a hand-over day.
    bins
        One row a bin given, with `household_index`, `handover_day`, `stopped_day`
        [days, fractional], `use_days`, and of the scraps it is fed `landfill_share`, which
        would have gone to a landfill before, and `kept_out_share`, that less both leaks.
    fed_kg, used_days
        Feed [kg] and days in use, of shape (bins, pieces of the calendar).
    """

    town: Town
    seed: int
    calendar: Calendar
    households: pl.DataFrame
    events: pl.DataFrame
    bins: pl.DataFrame
    fed_kg: np.ndarray
    used_days: np.ndarray

    def bin_months(self) -> pl.DataFrame:
        """Lay out bins by month: `month_start`, `used_days`, `fed_kg`, `kept_out_kg`."""
        starts = self.calendar.month_edges[np.unique(self.calendar.piece_month)]
        return self._long(self.calendar.piece_month, starts, "month_start")

    def bin_weeks(self) -> pl.DataFrame:
        """Lay out bins by week: `week_start`, `used_days`, `fed_kg`, `kept_out_kg`."""
        starts = 7 * np.unique(self.calendar.piece_week)
        return self._long(self.calendar.piece_week, starts, "week_start")

    def fed_between(
        self, household: np.ndarray, first_day: np.ndarray, last_day: np.ndarray
    ) -> np.ndarray:
        """Feed of households' bins from `first_day` to before `last_day` [kg].

        Parameters
        ----------
        household
            Places in `households`, of shape (n,).
        first_day, last_day
            Day numbers, of shape (n,).
        """
        bins_of = self.bins["household_index"].to_numpy()
        fed = np.zeros((self.households.height, self.fed_kg.shape[1]))
        np.add.at(fed, bins_of, self.fed_kg)
        begins, ends = self.calendar.piece_edges[:-1], self.calendar.piece_edges[1:]
        overlap = np.minimum(last_day[:, None], ends) - np.maximum(first_day[:, None], begins)
        share = np.maximum(overlap, 0) / self.calendar.piece_days
        return np.sum(fed[household] * share, axis=1)

    def household_stopped_day(self) -> np.ndarray:
        """Day on which a household's last bin went out of use; -1 where it had none."""
        stopped = np.full(self.households.height, -1.0)
        np.maximum.at(
            stopped, self.bins["household_index"].to_numpy(), self.bins["stopped_day"].to_numpy()
        )
        return stopped

    def household_handover_day(self) -> np.ndarray:
        """Day on which a household took its first bin; a day beyond all where none."""
        given = np.full(self.households.height, np.iinfo(np.int64).max)
        np.minimum.at(
            given, self.bins["household_index"].to_numpy(), self.bins["handover_day"].to_numpy()
        )
        return given

    def _long(self, piece_group: np.ndarray, starts: np.ndarray, name: str) -> pl.DataFrame:
        cuts = np.flatnonzero(np.diff(piece_group, prepend=-1))
        used = np.add.reduceat(self.used_days, cuts, axis=1)
        fed = np.add.reduceat(self.fed_kg, cuts, axis=1)
        bins_count, groups_count = used.shape
        long = self.bins.select("handover_id", "household_id", "kept_out_share")
        return (
            long.select(pl.all().repeat_by(groups_count).explode())
            .with_columns(
                self.calendar.dates(np.tile(starts, bins_count)).alias(name),
                used_days=pl.Series(used.ravel()),
                fed_kg=pl.Series(fed.ravel()),
            )
            .filter(pl.col("used_days") > 0)
            .with_columns(kept_out_kg=pl.col("fed_kg") * pl.col("kept_out_share"))
            .drop("kept_out_share")
        )


def simulate(town: Town, seed: int) -> Simulation:
    """Simulate a town; the same town and seed give the same simulation.

    Parameters
    ----------
    town
        Its parameters.
    seed
        Fixes every draw.
    """
    council = town.council
    calendar = open_calendar(council.first_year, council.first_month, len(town.years))
    households = draw_households(town, calendar, seed)
    events = plan_events(town, calendar, seed)
    bins = give_bins(town, calendar, households, events, seed)
    owner = bins["household_index"].to_numpy()
    of_bin = households[owner]
    dwelling, score = of_bin["dwelling_index"].to_numpy(), of_bin["feed_score"].to_numpy()
    place = of_bin["area_index"].to_numpy()
    own_hazard = of_bin["street_hazard"].to_numpy() * np.where(
        of_bin["may_contact"].to_numpy(), 1.0, town.stopping.no_contact_hazard
    )
    own_hazard = own_hazard * _of_areas(town, seed, "use", town.stopping.area_spread)[place]
    use_days = draw_use_days(town.stopping, dwelling, score, own_hazard, stream(seed, "stopping"))
    handover_day = bins["handover_day"].to_numpy()
    if town.stopping.season_share > 0.0:
        first_day = calendar.origin.timetuple().tm_yday
        use_days = crowd_into_season(town.stopping, first_day, handover_day, use_days)
    settled = settled_kg_per_week(
        town.feeding, dwelling, of_bin["people_count"].to_numpy(), score
    ) * np.where(bins["is_second"].to_numpy(), _SECOND_BIN_FACTOR, 1.0)
    settled = settled * _of_areas(town, seed, "feed", town.feeding.area_spread)[place]
    households = households.with_columns(
        **draw_leaks(town.leaking, households.height, owner, use_days, seed)
    )
    of_bin = households[owner]
    landfilled = council.landfilled_share
    share = of_bin[PRIOR_SHARES[0]] * landfilled
    bins = bins.with_columns(
        area_id=of_bin["area_id"],
        use_days=pl.Series(use_days),
        stopped_day=pl.Series(handover_day + use_days),
        landfill_share=share,
        kept_out_share=share * (1.0 - of_bin[ANYWAY]) - of_bin[THROWN] * landfilled,
    )
    used = in_use_days(calendar, handover_day, handover_day + use_days)
    fed = draw_fed_kg(town.feeding, calendar, settled, handover_day, used, stream(seed, "feed"))
    return Simulation(town, seed, calendar, households, events, bins, fed, used)


def _of_areas(town: Town, seed: int, subject: str, spread: float) -> np.ndarray:
    """Factors on hazard or feed by which areas differ, of shape (areas,)."""
    rng = stream(seed, f"areas {subject}")
    return np.exp(spread * rng.standard_normal(len(town.areas)))
