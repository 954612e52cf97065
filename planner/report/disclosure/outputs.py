"""Outputs other than issues that may leave the office, each remembered as it is written.

A plan, an order or a page of progress is no issue: it has no number that readers know and may be
written again. Yet somebody may hold it, so later outputs are held against it as against issues.
It is remembered by the loads behind it, the time and the tables that it covers, and the counts
that it shows, in a folder of its own beside the issues, which backups carry. Where an officer says
that it never left the office, the folder stays and holds that too, with the day and the reason.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from planner.errors import ReportError
from planner.figures import FigureRegister
from planner.messages import say
from planner.paths import FIGURES_FILE, ISSUED_FOLDER
from planner.report.issues import frozen_folder
from planner.store.files import disk_faults, fault_of, write_whole
from planner.store.issued import OUTPUT_FOLDERS, protect_issue

OUTPUT_FILE, NEVER_LEFT_FILE = "output.json", "never_left.json"


@dataclass(frozen=True)
class Output:
    """One output that may have left the office."""

    number: int  # counts the outputs of a program from 1
    # what it is, as "plan", and the year that it is of
    kind: str
    reporting_year: str
    written_on: str  # day on which it was written
    before_date: str  # first day after the time that it covers
    loads: tuple[str, ...]  # ids of the loads behind it
    tables: tuple[str, ...]  # record tables that it rests on

    @property
    def place(self) -> str:
        """Its folder, from the program folder on."""
        return f"{ISSUED_FOLDER}/output-{self.number:04d}"

    @property
    def words(self) -> str:
        """Name it in a sentence."""
        kind = say(f"disclosure.kind.{self.kind.replace(' ', '_')}")
        numbered = f"{self.number}"
        return say("disclosure.since.output", kind=kind, year=self.reporting_year, number=numbered)


def read_outputs(folder: Path) -> tuple[Output, ...]:
    """Read what is remembered of the outputs that may have left the office, the first first.

    Raises
    ------
    ReportError
        A file is not what was written.
    """
    there = [place for place in _places(folder) if not (place / NEVER_LEFT_FILE).exists()]
    return tuple(_read(place / OUTPUT_FILE) for place in there)


def _places(folder: Path) -> list[Path]:
    return sorted(
        path.parent for path in folder.glob(f"{ISSUED_FOLDER}/{OUTPUT_FOLDERS}/{OUTPUT_FILE}")
    )


def note_never_left(folder: Path, number: int, reason: str, day: dt.date) -> str:
    """Note that an output never left the office: later ones are not held against it any more.

    The `reason` is how the officer knows. Returns what to tell the officer.

    Raises
    ------
    ReportError
        No output of that number may have left, no reason is given, or the folder cannot be written.
    """
    known = {one.number: one for one in read_outputs(folder)}
    if not reason.strip():
        raise ReportError(say("disclosure.no_reason"))
    if number not in known:
        listed = ", ".join(f"{one}" for one in known) or say("disclosure.none")
        raise ReportError(say("disclosure.no_output", number=f"{number}", known=listed))
    place = folder / known[number].place
    note = {"noted_on": f"{day}", "reason": reason.strip()}
    with disk_faults(place, "file.unwritten", ReportError, by_file=True):
        write_whole(place / NEVER_LEFT_FILE, f"{json.dumps(note, ensure_ascii=False)}\n".encode())
        protect_issue(place)
    told = {"output": known[number].words, "reason": note["reason"], "place": known[number].place}
    return say("disclosure.noted", **told)


def remember(folder: Path, new: Output, register: FigureRegister | None) -> None:
    """Remember an output before it is written; one that tells the same is remembered already.

    It gets a number of its own. The `register` has figures of which it shows counts of records.
    """
    known = read_outputs(folder)
    counts = _counts(register).to_json() if register is not None else ""
    same = {"number": 0, "written_on": ""}
    for one in known:
        shown = folder / one.place / FIGURES_FILE
        text = shown.read_text(encoding="utf-8") if shown.exists() else ""
        if replace(one, **same) == replace(new, **same) and text == counts:  # type: ignore[arg-type]
            return
    numbers = [int(path.name.rpartition("-")[2]) for path in _places(folder)]
    made = replace(new, number=1 + max(numbers, default=0))
    with frozen_folder(folder / made.place) as draft:
        (draft / OUTPUT_FILE).write_text(json.dumps(asdict(made), indent=1) + "\n", "utf-8")
        if counts:
            (draft / FIGURES_FILE).write_text(counts, encoding="utf-8", newline="")


def _counts(register: FigureRegister) -> FigureRegister:
    """Keep the counts of a register, and which it hides, without what they rest on."""
    made = replace(register, _figures={})
    for figure in register:
        if figure.low is None:
            made.add(replace(figure, inputs=()))
    return made


def _read(path: Path) -> Output:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        lists = {name: tuple(map(str, told[name])) for name in ("loads", "tables")}
        return Output(**{**told, **lists})
    except (ValueError, TypeError, KeyError) as error:
        raise fault_of(
            path, "outputs.not_noted", ReportError, what=say("issued.put_back")
        ) from error
