"""Load files that were damaged by chance, whole commands at a time.

    python -m tests.benchmarks.fuzz_load [--cases 10000] [--seed 1] [--seconds 60] [--kept FILE]
        [--fresh N] [--write]

Spreadsheets, text files, program files and Word templates of the sample programs are changed:
bytes, stretches, values, and what a format is made of (tests/benchmarks/fuzz_parts.py); others are
made by hand (tests/benchmarks/outsider.py) or lay a known table out by chance. Each is met by the
command that an officer would run, in a folder that holds records already. Cases are met by the
hundred in processes forked from one that has imported everything, as is the process that reads a
spreadsheet or template, under limits of memory, of computing time and of the clock a case; a case
that ends its process is known by its number, and the next process goes on after it. What became of
each is kept in a file; begun again, the study does the cases that are missing there. `--fresh N`
meets N of them in a new process each as well: they must end the same and leave the same records.
`--write` puts the sums into README.md.

Prints what became of each kind; ends with 1 where a case ended in anything but a sentence, took
longer or more memory than it may, lost or changed a record when it said that nothing was, left
personal details in the open, or left a row unaccounted for. Such a case's bytes are kept beside
the study's report. The rule of accounting: rows of the file, counted by another reader = rows
down to the headings + the example + new + corrected + unchanged + repeated + refused + skipped
(blank, totals, notes); and the table holds as many rows of the load as were new or corrected.
"""

from __future__ import annotations

import argparse
import collections
import contextlib
import datetime as dt
import functools
import hashlib
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import traceback
import zipfile
from pathlib import Path

import docx
import numpy as np
import polars as pl
from typer import testing
from typer.testing import CliRunner

from planner import loading
from planner.cli import app
from planner.errors import PlannerError
from planner.intake.sheets import TEXT_FILES
from planner.paths import CONTACTS_FILE, PROGRAM_FILE, SAMPLE_PROGRAMS, STORE_FILE
from planner.report.document import Document, Paragraph, Section, Statement
from planner.report.document.building import PAPER_KEYS
from planner.report.word.placeholders import check_template
from planner.report.word.writing import write_word
from planner.store import connection
from planner.store.connection import fetch
from planner.store.opening import Store, open_store
from planner.vetting import guard
from tests.benchmarks import warm_reader
from tests.benchmarks.fuzz_cases import (
    KINDS,
    OF_BOOKS,
    OF_TEXTS,
    WITH_CONTACTS,
    Sources,
    case,
    cut,
    few_lines,
    sources_of,
)  # fmt: skip
from tests.benchmarks.fuzz_intake import check_fates, lines_of_text
from tests.benchmarks.outsider import HEADINGS, Trick
from tests.benchmarks.results_page import write_table
from tests.killing import state

guard._started = warm_reader.Reader
CASES_A_PROCESS = 500
MEMORY_BYTES = 4 * 1024**3
CLOCK_SECONDS = 900
"""Time on the clock after which a case that computes nothing ends its process."""

CODE = ("intake", "vetting", "store", "tables", "program", "loading.py")
"""What of the planner a load is made of."""

GOOD_ENDS = (0, 2, 3)
COUNTED = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")
COSTS = "cost_id,cost_date,category,amount\nC1,2025-07-01,bins,5\n"
DOCUMENT = Document(
    "The year", "All of it", "A council", "2025-26", "1", "en-GB", dt.datetime(2026, 7, 1),
    "1 July 2026",
    tuple(Section(key, key, (Paragraph((Statement((key,)),)),)) for key in PAPER_KEYS),
)  # fmt: skip
testing._get_command = functools.cache(testing._get_command)
"""The command line is put together once: that takes a quarter of a load's time."""

_settings = connection.settings
connection.settings = lambda path, **asked: {
    **_settings(path, **asked),
    "allow_unsigned_extensions": True,
}
"""DuckDB checks the signature of its extension, 22 MB, at each load: not a thousand times here."""


def main() -> int:
    """Meet every case with its command, and print what became of them."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--cases", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir(), "fuzz_load.jsonl"))
    asked.add_argument("--fresh", type=int, default=0)
    asked.add_argument("--write", action="store_true")
    given = asked.parse_args()
    given.code = digest_of_code()
    with tempfile.TemporaryDirectory() as place:
        assert in_a_process(prepare, Path(place)) == 0
        sources = sources_of()
        if given.fresh:
            return in_a_process(compare, given, sources, Path(place))
        # by chance, so that what is met of a study that was stopped is a sample of all
        order = np.random.default_rng(given.seed).permutation(given.cases).tolist()
        while missing := missing_of(order, given.kept):
            stray = Path(place) / "stray.txt"
            code = in_a_process(meet, missing[:CASES_A_PROCESS], given, sources, Path(place), stray)
            if code:
                note_crash(given.kept, code, stray.read_text(errors="replace")[-900:])
    return told(kept(given.kept), given, sources)


def kept(path: Path) -> dict[int, dict]:
    """Read what became of the cases that were met."""
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    return {one["number"]: one for one in map(json.loads, lines) if "end" in one}


def missing_of(order: list[int], path: Path) -> list[int]:
    """List the cases that nobody has met yet, in the order in which they are met."""
    done = kept(path)
    return [number for number in order if number not in done]


def note_crash(path: Path, code: int, words: str) -> None:
    """Note the case that was begun last as one that ended its process."""
    last = json.loads(path.read_text("utf-8").splitlines()[-1])["number"]
    fault = f"ended its process with {code}: {words}"
    crash = {"number": last, "kind": KINDS[last % len(KINDS)], "way": "damaged", "end": "a crash"}
    crash["fault"] = fault
    with path.open("a", encoding="utf-8") as out:
        print(json.dumps({**crash, "seconds": 0.0}), file=out)


def told(cases: dict[int, dict], given: argparse.Namespace, sources: Sources) -> int:
    """Print what became of the cases; keep the bytes of those at fault beside the study's file."""
    ends = collections.Counter((one["kind"], one["end"]) for one in cases.values())
    faults = [one for one in cases.values() if one["fault"]]
    for one in faults:
        name, trick, _ = case(one["number"], given.seed, sources)
        print(f"case {one['number']}, {one['kind']}, {name}: {one['fault']}")
        file = f"fuzz_load_{given.seed}_{one['number']}.{one['kind']}"
        (given.kept.parent / file).write_bytes(trick.content)
    for (kind, end), count in sorted(ends.items()):
        print(f"{kind:5} {end:32} {count:6,}")
    seconds = [one["seconds"] for one in cases.values()]
    now = sum(one.get("code") == given.code for one in cases.values())
    print(
        f"{len(cases):,} cases, {now:,} of them on the code as it is, {len(faults)} faults; the "
        f"slowest {max(seconds):.1f} s of computing, {sum(seconds) / 60:.0f} minutes of it in all"
    )
    if given.write:
        write_table("fuzz", table(cases))
    return int(bool(faults))


WAYS = ("by hand", "damaged", "restructured", "laid out")


def table(cases: dict[int, dict]) -> str:
    """Write the sums of each kind as a table."""
    lines = [f"| {dt.date.today():%-d %B %Y} | {' | '.join(WAYS)} | refused | taken in | faults |"]
    lines.append("| --- " * (len(WAYS) + 4) + "|")
    for kind in KINDS:
        of_kind = [one for one in cases.values() if one["kind"] == kind]
        ways = collections.Counter(one["way"] for one in of_kind)
        refused = sum(one["end"] in ("exit code 2", "a sentence") for one in of_kind)
        faults = sum(bool(one["fault"]) for one in of_kind)
        cells = [*(ways[way] for way in WAYS), refused, len(of_kind) - refused - faults, faults]
        lines.append(f"| {kind} | {' | '.join(f'{cell:,}' for cell in cells)} |")
    return "\n".join(lines)


# -- processes ---------------------------------------------------------------------------


def in_a_process(work, *arguments) -> int:
    """Do some work in a fork, so that neither polars nor DuckDB starts threads in this one."""
    forked = os.fork()
    if forked == 0:
        code = 1
        try:
            work(*arguments)
            code = 0
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stderr.flush()
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(forked, 0)[1])


def meet(numbers, given, sources, place, stray) -> None:
    """Meet cases one after another under the limits, and note each before and after."""
    warm_reader.start()
    # what a library prints of its own accord is no output of the command
    os.dup2(os.open(stray, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    with given.kept.open("a", encoding="utf-8") as out:
        for number in numbers:
            print(f'{{"number": {number}}}', file=out, flush=True)
            print(json.dumps(met(number, given, sources, place)), file=out, flush=True)


def met(number, given, sources, place):
    """Meet one case, and tell its end, what was wrong with it and the time it took."""
    made, trick, town = case(number, given.seed, sources)
    kind = KINDS[number % len(KINDS)]
    signal.alarm(CLOCK_SECONDS)
    began = os.times()
    spent = int(began.user + began.system)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (spent + int(given.seconds) + 1, hard))
    end, fault = met_by_its_command(trick, place / town, place / "case")
    ended = os.times()
    seconds = sum(ended[:4]) - sum(began[:4])
    if seconds > given.seconds:
        fault = fault or f"took {seconds:.0f} s of computing"
    way = made if made in ("laid out", "restructured") else "damaged" * ("damaged" in made)
    about = {"number": number, "kind": kind, "way": way or "by hand", "code": given.code}
    return {**about, "end": end, "fault": fault, "seconds": round(seconds, 3)}


def digest_of_code() -> str:
    """Digest of the code that a load is made of."""
    whole = hashlib.sha256()
    for place in CODE:
        at = Path(loading.__file__).parent / place
        for path in sorted(at.rglob("*.py")) if at.is_dir() else [at]:
            whole.update(path.read_bytes())
    return whole.hexdigest()[:12]


def compare(given, sources, place: Path) -> None:
    """Meet some cases here and in new processes, and hold the two ends against each other."""
    warm_reader.start()
    numbers = [number for number in range(given.cases) if KINDS[number % len(KINDS)] != "docx"]
    rng = np.random.default_rng(given.seed)
    seconds, words = [0.0, 0.0], [str(Path(sys.executable).with_name("planner"))]
    for number in rng.choice(numbers, given.fresh, replace=False).tolist():
        _, trick, town = case(number, given.seed, sources)
        ends = []
        for turn in (0, 1):
            path = laid_down(trick, place / town, place / "case")
            began = sum(os.times()[:4])
            asked = ["load", str(path), "--program", str(path.parent)]
            if turn:
                ended = subprocess.run([*words, *asked], capture_output=True, check=False)
                told = (ended.stdout + ended.stderr).decode()
                code = ended.returncode
            else:
                result = CliRunner().invoke(app, asked)
                told, code = result.output, result.exit_code
            seconds[turn] += sum(os.times()[:4]) - began
            ends.append((code, sorted(told.split()), state(path.parent)))
        assert ends[0] == ends[1], f"case {number}: {ends}"
    print(
        f"{given.fresh} cases ended here as in a new process, with {seconds[0] / given.fresh:.2f} "
        f"and {seconds[1] / given.fresh:.2f} s of computing each"
    )


def prepare(place: Path) -> None:
    """Make the folders that cases are loaded into, with records that their rows refer to."""
    warm_reader.start()
    base = SAMPLE_PROGRAMS / OF_TEXTS
    for name, first in {
        OF_BOOKS: [SAMPLE_PROGRAMS / OF_BOOKS / "register.xlsx"],
        OF_TEXTS: [base / f"{table}.csv" for table in ("areas", "households", "events")],
        WITH_CONTACTS: [base / f"{table}.csv" for table in ("areas", "households", "contacts")],
    }.items():
        folder = place / name
        folder.mkdir()
        for file in first:
            small = cut(file.read_bytes()) if file.suffix == ".xlsx" else few_lines(file)
            (place / file.name).write_bytes(small)
        shutil.copy(first[0].parent / PROGRAM_FILE, folder)
        words = [str(place / file.name) for file in first]
        result = CliRunner().invoke(app, ["load", *words, "--program", str(folder)])
        assert result.exit_code in (0, 3), result.output


# -- one case ----------------------------------------------------------------------------


def met_by_its_command(trick: Trick, prepared: Path, folder: Path) -> tuple[str, str]:
    """Meet a case with its command; tell its end, and what was wrong with it."""
    path = laid_down(trick, prepared, folder)
    if path.suffix == ".docx":
        return template_met(path)
    before = digest(folder)
    with intakes_kept() as read:
        words = ["load", str(path), "--program", str(folder)]
        result = CliRunner().invoke(app, words)
    told = result.output
    end = f"exit code {result.exit_code}"
    if result.exit_code not in GOOD_ENDS or "Traceback" in told:
        return end, f"{end}: {result.exception!r}"
    if any(sign < " " and sign not in "\n\t" for sign in told):
        return end, "a control character in the output"
    if result.exit_code == 2:
        if digest(folder) != before:
            return end, "nothing was taken in, and files changed"
        return end, "" if told.strip() else "nothing said"
    with open_store(folder, read_only=True) as store:
        fault = unaccounted(store, path, read) or untrue(store, trick.rows)
        return end, fault or leaked(store, read, told)


def laid_down(trick: Trick, prepared: Path, folder: Path) -> Path:
    """Lay a case down in a copy of a prepared folder; return the file to load or to fill."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(prepared, folder)
    path = folder / trick.name
    path.write_bytes(trick.content)
    if path.suffix == ".toml":
        path.replace(folder / PROGRAM_FILE)
        path = folder / "costs.csv"
        path.write_text(COSTS)
    return path


def untrue(store: Store, rows: tuple[tuple, ...] | None) -> str:
    """Tell a cost that was taken in and that nobody sees in the file."""
    if rows is None:
        return ""
    costs = store.records("costs").select(pl.col(HEADINGS))
    taken = {(one, str(day), kind, float(cost)) for one, day, kind, cost in costs.iter_rows()}
    return "" if taken <= set(rows) else f"took in {sorted(taken - set(rows))}"


def template_met(path: Path) -> tuple[str, str]:
    """Check a Word template and fill it, as a report would."""
    out = path.with_suffix(".filled.docx")
    try:
        check_template(path)
        write_word(out, DOCUMENT, (), path)
    except PlannerError as error:
        return ("a sentence", "") if str(error).strip() else ("nothing said", "no sentence")
    with zipfile.ZipFile(out) as filled:
        inner = b"".join(map(filled.read, filled.namelist()))
    if b"root:x:" in inner:
        return "a document", "holds a file of the machine"
    docx.Document(str(out))
    return "a document", ""


@contextlib.contextmanager
def intakes_kept():
    """Keep what intake read while a command runs."""
    kept = []
    as_it_is = loading.read_files

    def read_files(*given):
        kept[:] = as_it_is(*given)
        return tuple(kept)

    loading.read_files = read_files
    try:
        yield kept
    finally:
        loading.read_files = as_it_is


def digest(folder: Path) -> list[str]:
    """Digests of the two files of a store."""
    files = [folder / STORE_FILE, folder / CONTACTS_FILE]
    return [hashlib.sha256(file.read_bytes()).hexdigest() for file in files if file.exists()]


def unaccounted(store: Store, path: Path, read: list) -> str:
    """Tell which rows have no fate, or two, or a fate that the store does not show."""
    (intake,) = read
    if path.suffix in TEXT_FILES:
        lines = lines_of_text(path.read_bytes())
        if lines != intake.sheets[0].source.cells.height:
            return f"{lines} rows in the file, {intake.sheets[0].source.cells.height} read"
    for rows in intake.sheets:
        check_fates(rows)
    load_id = store.load_ids()[-1]
    if store.query("loads_of_content", sha256=intake.sha256).is_empty():
        return "no load of it"
    counts = fetch(store.program, "from load_counts where load_id = $one", {"one": load_id})
    fates = counts.select(pl.sum_horizontal(f"{name}_count" for name in COUNTED))
    if counts["rows_read"].to_list() != fates.to_series().to_list():
        return f"rows without a fate: {counts.to_dicts()}"
    for table, one in counts.group_by("table_name"):
        written = int(one["new_count"].sum() + one["corrected_count"].sum())
        connection = store.contacts if table[0] == "contacts" else store.program
        query = f"select count(*) from {table[0]} where load_id = ?"  # noqa: S608
        held = connection.execute(query, [load_id]).fetchone()[0] if connection else 0
        if held != written:
            return f"{table[0]}: {written} said to be written, {held} are there"
    return ""


PERSONAL = ("full_name", "street_address", "email", "phone")


def leaked(store: Store, read: list, told: str) -> str:
    """Tell where a full name, mail address or phone number of a contact stands in the open."""
    if all(rows.table != "contacts" for intake in read for rows in intake.sheets):
        return ""
    contacts = store.records("contacts").select(PERSONAL)
    details = {text for column in contacts for text in column.drop_nulls() if len(text) > 7}
    shown = [text for text in details if text in told]
    if shown:
        return f"the output shows {shown[0]}"
    tables = store.program.execute("select table_name from duckdb_tables()").fetchall()
    for (table,) in tables:
        whole = fetch(store.program, f"from {table}").select(pl.col(pl.String))
        found = [text for column in whole for text in details.intersection(column)]
        if found:
            return f"{table} holds {found[0]}"
    return ""


if __name__ == "__main__":
    sys.exit(main())
