"""Cases that are open or that answers tell of, alerts, and what cases took from the store."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy
from openpyxl.utils import get_column_letter

from planner.arrays import Integers, Numbers, quotient
from planner.messages import messages_for, officer_messages, say
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.rounding import rounded
from planner.store.files import check_free, write_owned
from planner.store.opening import open_store
from planner.tables import CASE_ACTIONS, PROBLEMS, TABLES
from planner.workbooks import dress_list, file_bytes, offer, records_workbook

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from openpyxl import Workbook

    from planner.program import Program


ONE_IN_MOST = 1_000_000
"""Odds are not told more closely than this."""

PER_CENT_FROM = 0.01

FALSE_ALARM_SHARE = 0.05
"""Chance of any false alarm among all models, and among all deliveries, of one look."""

TIMES = (2.0, 3.0)
"""How many times as often as the others a lot fails, where the chance of an alert is told."""


def find_alerts(lots: pl.DataFrame) -> pl.DataFrame:
    """Test each lot against the others of its kind, corrected for looking at many.

    Returns
    -------
    DataFrame
        The rows with expected_count (at the rate of the others), chance (of so many failures
        or more, were the lot like the others), corrected (by Holm within the kind), is_alert,
        and power_2, power_3: chance of an alert where it fails twice or three times as often.

    Notes
    -----
    Given all failures of a kind, those of a lot follow the hypergeometric law where lots are
    alike: Fisher's exact test, one-sided. Each bin is watched for the same time, and a bin
    counts once its time is over, so a delivery is judged on the same bins whenever one looks.

    References
    ----------
    Fisher, R.A. (1935), The logic of inductive inference, Journal of the Royal Statistical
    Society 98, 39-82. Holm, S. (1979), A simple sequentially rejective multiple test
    procedure, Scandinavian Journal of Statistics 6, 65-70 (both from memory).
    """
    judged = [_of_kind(one) for one in lots.partition_by("lot_kind", maintain_order=True)]
    return pl.concat(judged) if judged else lots


def _of_kind(lots: pl.DataFrame) -> pl.DataFrame:
    bins, failed = (lots[name].to_numpy() for name in ("bins_count", "failed_count"))
    chance = more_than_chance(bins, failed)
    corrected = holm(chance)
    others = bins.sum() - bins
    rate = quotient(failed.sum() - failed, others)
    powers = {
        f"power_{times:.0f}": [_power(lots, place, times) for place in range(lots.height)]
        for times in TIMES
    }
    return lots.with_columns(
        expected_count=pl.Series(rate * bins),
        chance=pl.Series(chance),
        corrected=pl.Series(corrected),
        is_alert=pl.Series((corrected <= FALSE_ALARM_SHARE) & (lots.height > 1)),
        **{name: pl.Series(values, dtype=pl.Float64) for name, values in powers.items()},
    )


def more_than_chance(bins: Integers, failed: Integers) -> Numbers:
    """Chance of so many failures or more in each lot, given the failures of all, shape (lots,).

    Examples
    --------
    Fisher's tea: of eight cups four are chosen, and three of them rightly.

    >>> more_than_chance(np.array([4, 4]), np.array([3, 1])).round(4).tolist()
    [0.2429, 0.9857]
    """
    return np.asarray(scipy.stats.hypergeom.sf(failed - 1, bins.sum(), failed.sum(), bins))


def holm(chances: Numbers) -> Numbers:
    """Correct chances for how many there are, so that any false alarm is as rare as asked.

    Examples
    --------
    >>> holm(np.array([0.01, 0.04, 0.03])).round(3).tolist()
    [0.03, 0.06, 0.06]
    """
    order = np.argsort(chances, kind="stable")
    steps = chances[order] * np.arange(len(chances), 0, -1)
    corrected = np.empty(len(chances))
    corrected[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return corrected


def _power(lots: pl.DataFrame, place: int, times: float) -> float:
    """Chance that a lot is found, failing so many times as often as the others did.

    By Bonferroni's bound, which Holm's steps never miss: a little less than the real chance.
    """
    bins, failed = (lots[name].to_numpy() for name in ("bins_count", "failed_count"))
    lot_bins, others = int(bins[place]), int(bins.sum() - bins[place])
    failed_of_others = int(failed.sum() - failed[place])
    if not others or not failed_of_others:
        return 0.0
    counts = np.arange(lot_bins + 1)
    chances = scipy.stats.hypergeom.sf(
        counts - 1, lot_bins + others, failed_of_others + counts, lot_bins
    )
    found = chances <= FALSE_ALARM_SHARE / lots.height
    rate = min(1.0, times * failed_of_others / others)
    return float(scipy.stats.binom.pmf(counts[found], lot_bins, rate).sum())


KINDS = {"model": "model", "worm delivery": "delivery"}
"""Kinds of lots, and what stands for them in keys of words."""


def lot_lines(lots: pl.DataFrame) -> Iterator[str]:
    """Say for each kind which lots fail too often, by which test, and what it can find."""
    for lot_kind, kind in KINDS.items():
        mine = lots.filter(lot_kind=lot_kind)
        if mine.height < 2:
            yield say(f"alerts.too_few.{kind}")
            continue
        yield from _alerts(mine, kind)
        yield _can_find(mine, kind)
    yield say("alerts.test", share=officer_messages().share(FALSE_ALARM_SHARE))


def _alerts(mine: pl.DataFrame, kind: str) -> Iterator[str]:
    found = mine.filter("is_alert").sort("corrected")
    if found.is_empty():
        yield say(f"alerts.none.{kind}", count=mine.height)
    for row in found.iter_rows(named=True):
        yield say(
            f"alerts.alert.{kind}",
            name=row["lot_name"],
            failed=row["failed_count"],
            bins=row["bins_count"],
            expected=officer_messages().number(row["expected_count"], 1),
            chance=_odds(row["corrected"]),
        )


def _can_find(mine: pl.DataFrame, kind: str) -> str:
    """Chance that the middle lot would be found, were it to fail two or three times as often."""
    twice, thrice = (float(np.median(mine[f"power_{times:.0f}"].to_numpy())) for times in TIMES)
    share = officer_messages().share
    return say(f"alerts.can_find.{kind}", twice=share(twice), thrice=share(thrice))


def _odds(chance: float) -> str:
    """Write a chance in per cent, or as one in so many where it is small.

    Examples
    --------
    >>> _odds(0.034), _odds(0.0021), _odds(2.1e-07)
    ('3%', 'about 1 in 500', 'less than 1 in a million')
    """
    if chance >= PER_CENT_FROM:
        return officer_messages().share(chance)
    if chance * ONE_IN_MOST < 1.0:
        return say("odds.least")
    one_in = 1.0 / chance
    return say("odds.one_in", count=int(rounded(one_in, -math.floor(math.log10(one_in)))))


RECENT_DAYS = 90
"""A problem told in an answer longer ago has run its course."""

WATCHED_DAYS = 90
"""Bins are watched so long after the hand-over: failures of a model or of worms show by then."""

LOOKED_BACK_DAYS = 730
"""Lots of two years are set against each other."""


@dataclass(frozen=True)
class CaseList:
    """Open cases of a day, and models and deliveries set against each other."""

    on_date: dt.date
    listed: pl.DataFrame  # rows of the query open_cases
    lots: pl.DataFrame  # frame of `find_alerts`
    # one row: topped_up_count, topped_up_kg, replaced_count of the cases of two years, and
    # booked_amount on the ledger lines that they name
    remedies: pl.DataFrame
    file: Path  # the workbook
    is_written: bool  # False for a dry run, which writes nothing


def list_cases(
    folder: Path, on_date: dt.date, *, dry_run: bool = False, force: bool = False
) -> CaseList:
    """List the open cases of a day with advice, and test models and deliveries for failures.

    Raises
    ------
    ProgramError
        The workbook of the day is there already.
    StoreError
        The records cannot be read, or the workbook cannot be written.
    """
    program = open_program(folder / PROGRAM_FILE)
    file = folder / PRIVATE_FOLDER / f"cases_{on_date}.xlsx"
    check_free(file, "actions", forced=force or dry_run)
    since = on_date - dt.timedelta(days=LOOKED_BACK_DAYS)
    with open_store(folder, read_only=True) as store:
        listed = store.query("open_cases", on_date=on_date, recent_days=RECENT_DAYS)
        lots = store.query(
            "failures_by_lot", as_of=on_date, from_date=since, watched_days=WATCHED_DAYS
        )
        remedies = store.query("made_good", from_date=since, as_of=on_date)
        contacts = store.records("contacts")
    names = {model.model_id: model.model_name for model in program.bin_models}
    judged = find_alerts(lots).with_columns(lot_name=pl.col("lot_id").replace(names))
    is_written = not dry_run and not listed.is_empty()
    found = CaseList(on_date, listed, judged, remedies, file, is_written)
    if is_written:
        write_owned(file, file_bytes(case_workbook(listed, contacts, program)))
    return found


WIDTHS = {
    "full_name": 19,
    "phone": 15,
    "advice": 62,
    "case_id": 17,
    "problem": 15,
    "household_id": 12,
    "case_action": 16,
    "worms_kg": 12,
    "cost_id": 10,
    "replacement_handover_id": 26,
}
NO_PROBLEM, UNNAMED_PROBLEM = "none", "other"
_WIDTH = 12


def case_workbook(listed: pl.DataFrame, contacts: pl.DataFrame, program: Program) -> Workbook:
    """Make the workbook of open cases."""
    say = messages_for(program.council.country_locale).say
    words = {code: _advice(code, say) for code in PROBLEMS if code != NO_PROBLEM}
    details = contacts.join(listed.filter("may_contact"), on="household_id", how="semi")
    rows = listed.join(
        details.select("household_id", "full_name", "phone"),
        on="household_id",
        how="left",
        maintain_order="left",
    ).with_columns(
        advice=pl.col("problem").replace_strict(words, return_dtype=pl.String),
        closed_date=pl.lit(None, pl.Date),
    )
    columns = TABLES["cases"].column_names()
    first = [name for name in ("case_id", "household_id") if name in columns]
    others = [name for name in columns if name not in first]
    ordered = [*first, "full_name", "phone", *others[1:3], "advice", *others[3:], others[0]]
    book = records_workbook({"cases": rows.select(ordered)}, note=say("cases.note"))
    sheet, below = book["cases"], range(3, rows.height + 3)
    widths = {name: WIDTHS.get(name, _WIDTH) for name in ordered}
    dress_list(sheet, widths, "advice", rows.height)
    # loaded as it stands, and nothing to those who act
    sheet.column_dimensions[get_column_letter(ordered.index("handover_id") + 1)].hidden = True
    place = ordered.index("case_action") + 1
    offer(sheet, place, below, CASE_ACTIONS, say("run_sheet.choose"))
    return book


def _advice(code: str, say: Callable[..., str]) -> str:
    """Say what a problem is likely to come from and what to do; common practice, no source."""
    advice = say(f"problem.{code}.advice")
    if code == UNNAMED_PROBLEM:
        return advice
    return say("cases.likely", causes=say(f"problem.{code}.causes"), advice=advice)
