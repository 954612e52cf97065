"""Draw a survey round from the register and write who is to be asked: to load and to call from."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import ProgramError
from planner.messages import officer_messages, say
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.sampling.plan import plan_again, plan_round, since_date
from planner.store.files import refuse_there, write_owned
from planner.store.opening import open_store
from planner.tables import TABLES
from planner.workbooks import file_bytes, records_workbook

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl import Workbook

    from planner.sampling.plan import SamplePlan
    from planner.sampling.request import Kind, Round
    from planner.store.opening import Store

UNIT_WORDS = ("flat", "unit", "apartment", "apt", "no", "suite", "level")
"""Words that number a home within a building; taken out of the name of its street."""

CONTACT_COLUMNS = ("full_name", "phone", "email", "street_address", "postcode")
NOTED_COLUMNS = ("called_on", "result", "note")
"""Empty columns in which those who call write."""

_NUMBERED = r"\b\w*\d\w*\b"
_NOT_LETTERS = r"[^\p{L}]+"


def streets(contacts: pl.DataFrame) -> pl.DataFrame:
    """Name the street of each household by the letters of its address and its postcode.

    Numbers and words such as flat or unit are taken out. A street written in two ways counts
    as two, which costs a little precision and no correctness.

    Returns
    -------
    DataFrame
        household_id, street; null where no address is known.

    Examples
    --------
    >>> contacts = pl.DataFrame({
    ...     "household_id": ["A", "B"], "street_address": ["12 Mill Lane", "Unit 3, 14a MILL LANE"],
    ...     "postcode": ["0001", "0001"]})
    >>> streets(contacts)["street"].to_list()
    ['mill lane 0001', 'mill lane 0001']
    """
    units = rf"\b(?:{'|'.join(UNIT_WORDS)})\b"
    letters = (
        pl.col("street_address")
        .str.to_lowercase()
        .str.replace_all(_NUMBERED, " ")
        .str.replace_all(units, " ")
        .str.replace_all(_NOT_LETTERS, " ")
        .str.strip_chars()
    )
    street = pl.concat_str(letters, pl.col("postcode").fill_null(""), separator=" ")
    return contacts.select("household_id", street=pl.when(letters.str.len_chars() > 0).then(street))


LEAST_ASKED = 30
"""Fewest households drawn for a round whose response is expected again."""

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


@dataclass(frozen=True)
class DrawnRound:
    """A round that was drawn, and the files that say who is in it."""

    plan: SamplePlan  # who was drawn, and what the sample stands for
    samples_file: Path
    calling_file: Path
    unnamed_count: int  # households drawn of which the records hold no personal details
    kept: bool
    response_words: str = ""


def draw_round(
    folder: Path, asked: Round, *, dry_run: bool = False, force: bool = False
) -> DrawnRound:
    """Draw the households of a survey round and write the two files.

    The same round is drawn again from the same register, on any machine.

    Raises
    ------
    ProgramError
        The round has a code that cannot be used, or its files are there already.
    EstimateError
        There is nobody to draw from, or the sizes do not fit.
    StoreError
        The records cannot be read.
    """
    program = open_program(folder / PROGRAM_FILE)
    samples_file = folder / f"samples_{asked.wave_id}.xlsx"
    calling_file = folder / PRIVATE_FOLDER / f"calling_list_{asked.wave_id}.xlsx"
    if not _CODE.fullmatch(asked.wave_id):
        raise ProgramError(say("drawing.fail.code", wave=asked.wave_id))
    files = (samples_file, calling_file)
    refuse_there(files, "drawing.fail.there", ProgramError, forced=force or dry_run)
    seed_words = f"{program.method.seed}-{asked.wave_id}"
    with open_store(folder, read_only=True) as store:
        _check_new(asked.wave_id, store)
        asked, response_words = _with_response(asked, store)
        contacts = store.records("contacts")
        if asked.silent_of is None:
            plan = _plan_anew(asked, store, contacts, seed_words)
        else:
            plan = _plan_again(asked, store, seed_words)
    if not dry_run:
        write_owned(calling_file, file_bytes(calling_list(plan, contacts)))
        write_owned(samples_file, file_bytes(samples_workbook(plan)), mode=0o644)
    unnamed = plan.drawn.join(contacts, on="household_id", how="anti").height
    return DrawnRound(plan, samples_file, calling_file, unnamed, not dry_run, response_words)


def _plan_anew(asked: Round, store: Store, contacts: pl.DataFrame, seed_words: str) -> SamplePlan:
    register = store.query(
        "sampling_register",
        seed_words=seed_words,
        on_date=asked.opens_date,
        since_date=since_date(asked),
    )
    return plan_round(register, asked, streets(contacts) if asked.by_street else None, seed_words)


def _plan_again(asked: Round, store: Store, seed_words: str) -> SamplePlan:
    """Draw some of the silent of a round that is in the records, and not asked again yet."""
    waves = store.records("waves")
    first = waves.filter(pl.col("wave_id") == asked.silent_of)
    if first.is_empty():
        first_rounds = waves.filter(pl.col("follows_wave_id").is_null())["wave_id"].sort().to_list()
        named = {"wave": str(asked.silent_of), "waves": ", ".join(first_rounds)}
        raise ProgramError(say("drawing.fail.no_round", **named))
    followed = waves.filter(pl.col("follows_wave_id") == asked.silent_of)["wave_id"].to_list()
    if first["follows_wave_id"].item() is not None or followed:
        wave = str(asked.silent_of)
        if followed:
            raise ProgramError(say("drawing.fail.already_again", wave=wave, other=followed[0]))
        raise ProgramError(say("drawing.fail.is_again", wave=wave))
    if asked.opens_date <= first["opens_date"].item():
        message = say(
            "drawing.fail.opens",
            day=asked.opens_date,
            wave=str(asked.silent_of),
            opened=first["opens_date"].item(),
        )
        raise ProgramError(message)
    register = store.query("silent_register", seed_words=seed_words, wave_id=asked.silent_of)
    spoken_for = store.query("households_by_wave", before_date=asked.opens_date).filter(
        pl.col("wave_id") == asked.silent_of, ~pl.col("is_settled")
    )
    kind: Kind = "baseline" if first["wave_kind"].item() == "baseline" else "followup"
    return plan_again(
        register, replace(asked, kind=kind), int(spoken_for["households_count"].sum())
    )


def _with_response(asked: Round, store: Store) -> tuple[Round, str]:
    """Expect the response of the newest drawn round of the kind, where none is given."""
    if asked.response_share is not None:
        return asked, ""
    if asked.silent_of is not None:
        raise ProgramError(say("drawing.fail.response_silent"))
    rounds = store.query("wave_response", before_date=asked.opens_date).filter(
        pl.col("wave_kind") == asked.kind, pl.col("asked_count") >= LEAST_ASKED
    )
    newest = rounds.filter(pl.col("answers_count") > 0).sort("opens_date", "wave_id").tail(1)
    if newest.is_empty():
        raise ProgramError(say("drawing.fail.response", kind=asked.kind, least=LEAST_ASKED))
    row = newest.row(0, named=True)
    share = min(1.0, row["answers_count"] / row["asked_count"])
    words = say(
        "drawing.expected",
        answers=row["answers_count"],
        asked=row["asked_count"],
        wave=row["wave_id"],
        share=officer_messages().share(share),
    )
    return replace(asked, response_share=share), words


def _check_new(wave_id: str, store: Store) -> None:
    if wave_id not in store.records("waves")["wave_id"].to_list():
        return
    if wave_id in store.records("samples")["wave_id"].to_list():
        raise ProgramError(say("drawing.fail.drawn", wave=wave_id))
    raise ProgramError(say("drawing.fail.everyone", wave=wave_id))


def samples_workbook(plan: SamplePlan) -> Workbook:
    """Workbook with the round and its sample, ready to be loaded."""
    waves = pl.DataFrame(
        {
            "wave_id": [plan.asked.wave_id],
            "wave_kind": [plan.asked.kind],
            "opens_date": [plan.asked.opens_date],
            "closes_date": [plan.asked.closes_date],
            "follows_wave_id": [plan.asked.silent_of],
        },
        schema_overrides={"follows_wave_id": pl.String},
    )
    samples = plan.drawn.select(
        pl.lit(plan.asked.wave_id).alias("wave_id"),
        "household_id",
        "stratum",
        "cluster_id",
        "inclusion_probability",
    )
    sheets = {"waves": waves, "samples": samples}
    return records_workbook(
        {name: rows.select(TABLES[name].column_names()) for name, rows in sheets.items()}
    )


def calling_list(plan: SamplePlan, contacts: pl.DataFrame) -> Workbook:
    """Workbook to call from, a row a household in the order of its random number."""
    ordered = plan.drawn.sort("stratum", "random_number", "household_id").select(
        pl.int_range(1, pl.len() + 1).over("stratum").alias("order_in_stratum"),
        "household_id",
        "stratum",
        "cluster_id",
    )
    details = contacts.select("household_id", *CONTACT_COLUMNS)
    rows = ordered.join(details, on="household_id", how="left", maintain_order="left")
    rows = rows.with_columns(
        pl.lit(None, dtype=pl.String).alias(name) for name in NOTED_COLUMNS
    ).select(
        "order_in_stratum",
        "stratum",
        "household_id",
        *CONTACT_COLUMNS,
        *NOTED_COLUMNS,
        *(["cluster_id"] if plan.asked.by_street else []),
    )
    note = "drawing.calls_by_street" if plan.asked.by_street else "drawing.calls"
    return records_workbook({"calls": rows}, note=say(note))
