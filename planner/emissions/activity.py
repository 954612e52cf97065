"""What a program did, by month: the masses and counts that its emissions follow from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.arrays import Integers, Numbers

BASES = ("in_year", "to_date", "100_years")
"""Three bases, which must not be added up: each counts some of the same methane."""


@dataclass(frozen=True)
class Supplies:
    """What was given out, by reporting year; the last is the one that is reported.

    Counts and masses of the records, so without draws.
    """

    # shape (models, years): bins handed over, and of them those that no other household had before;
    # a bin that came back and went out again was made once
    bins_given: Numbers
    bins_made: Numbers
    # of a bin of each model, shape (models,)
    plastic_kg: Numbers
    plastic_recycled_share: Numbers
    service_life_years: Integers
    # given in each year, shape (years,) [kg]
    bedding_kg: Numbers
    worms_kg: Numbers

    @property
    def in_service(self) -> Numbers:
        """Making that falls to each year, in bins, shape (models, years).

        A bin is charged in equal parts to the year in which it is made and those after it,
        as many as its model lasts, as a council's ledger depreciates its other assets.
        """
        years = np.arange(self.bins_made.shape[1])
        age = years[:, np.newaxis] - years[np.newaxis, :]
        lasts = self.service_life_years[:, np.newaxis, np.newaxis]
        alive = (age >= 0) & (age < lasts)
        return np.asarray(np.einsum("kyc,kc->ky", alive / lasts, self.bins_made))

    @property
    def moved_kg(self) -> Numbers:
        """Mass of bins, bedding and worms given out, shape (years,) [kg]."""
        return np.asarray(self.plastic_kg @ self.bins_given + self.bedding_kg + self.worms_kg)

    def plastic_on_kg(self, bins_by_year: Numbers, basis: str) -> tuple[float, float]:
        """Part bins' plastic, new and recycled, on a basis; bins of shape (models, years) [kg]."""
        plastic_kg = _over(bins_by_year, basis) * self.plastic_kg
        recycled_kg = float(plastic_kg @ self.plastic_recycled_share)
        return float(plastic_kg.sum()) - recycled_kg, recycled_kg

    def charged(self, basis: str) -> dict[str, float]:
        """Sum what is charged on a basis [kg, trips]: of all years to date, or else of the last.

        Plastic is charged in the year in which a bin is made for the program, as greenhouse
        gas accounts charge capital goods in the year of their acquisition. Bins, bedding and
        worms are moved together, and each bin given is a trip of a household.

        References
        ----------
        GHG Protocol (2011), Corporate Value Chain (Scope 3) Standard, category 2, capital
        goods: accounted for in the year of acquisition, not depreciated (from memory).
        """
        new_kg, recycled_kg = self.plastic_on_kg(self.bins_made, basis)
        by_year = {
            "bedding_kg": self.bedding_kg,
            "worms_kg": self.worms_kg,
            "moved_kg": self.moved_kg,
            "trips_count": self.bins_given.sum(axis=0),
        }
        return {
            "new_plastic_kg": new_kg,
            "recycled_plastic_kg": recycled_kg,
            **{name: float(_over(each, basis)) for name, each in by_year.items()},
        }


def _over(by_year: Numbers, basis: str) -> Numbers:
    return np.asarray(by_year.sum(axis=-1) if basis == "to_date" else by_year[..., -1])


@dataclass(frozen=True)
class Activity:
    """Scraps by month and draw, and what was given out.

    Raises
    ------
    ValueError
        The shapes do not agree, or `year_months` does not end with the months.
    """

    # scraps kept out of landfill, net of both leaks, and fed to bins from the program's first month
    # to the last of the reporting year, shape (1 + draws, months) [kg]
    kept_out_kg: Numbers
    fed_kg: Numbers
    # scraps fed that were burnt or treated with the residual waste, collected at the kerb or
    # composted at home before, same shape [kg]
    treated_kg: Numbers
    kerbside_kg: Numbers
    garden_compost_kg: Numbers
    # scraps that would have been kept out had every bin stayed in use, less those that were,
    # same shape [kg]
    dropped_out_kg: Numbers
    collected_kg: Numbers  # scraps fed that a collection took before, same shape [kg]
    supplies: Supplies  # what was given out
    year_months: slice  # columns of the reporting year; its stop is the last column

    def __post_init__(self) -> None:
        shape = self.kept_out_kg.shape
        series = (self.fed_kg, self.treated_kg, self.kerbside_kg, self.garden_compost_kg)
        if any(one.shape != shape for one in (*series, self.dropped_out_kg, self.collected_kg)):
            shapes = [one.shape for one in series]
            message = (
                f"found kept_out_kg {shape}, others {shapes}, expected the same draws and months"
            )
            raise ValueError(message)
        start, stop, step = self.year_months.indices(shape[1])
        if stop != shape[1] or step != 1 or start >= stop:
            message = (
                f"year_months: found {self.year_months}, expected the last of {shape[1]} months"
            )
            raise ValueError(message)

    @property
    def year_start(self) -> int:
        """First column of the reporting year."""
        return self.year_months.indices(self.kept_out_kg.shape[1])[0]

    def picked(self, rows: Integers) -> Activity:
        """Take other draws of everything that has draws, all alike."""
        return Activity(
            self.kept_out_kg[rows],
            self.fed_kg[rows],
            self.treated_kg[rows],
            self.kerbside_kg[rows],
            self.garden_compost_kg[rows],
            self.dropped_out_kg[rows],
            self.collected_kg[rows],
            self.supplies,
            self.year_months,
        )
