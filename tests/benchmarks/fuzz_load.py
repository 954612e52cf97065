"""Load files that were damaged by chance, whole commands at a time.

    python -m tests.benchmarks.fuzz_load [--cases 10000] [--seed 1] [--first 0] [--seconds 60]

Spreadsheets, text files, program files and Word templates of the sample programs are changed:
bytes, stretches, values within the parts of archives that are packed again. Each is met by the
command that an officer would run, in a folder that holds records already. Cases are met by the
hundred in processes forked from one that has imported everything, as is the process that reads a
spreadsheet or template, under limits of memory and of computing time a case; a case that ends
its process is known by its number, and the next process goes on after it.

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
import functools
import hashlib
import io
import json
import multiprocessing
import os
import re
import resource
import shutil
import sys
import tempfile
import time
import traceback
import zipfile
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
from typer import testing
from typer.testing import CliRunner

from planner import loading
from planner.cli import app
from planner.errors import PlannerError
from planner.intake.sheets import TEXT_FILES
from planner.paths import CONTACTS_FILE, PROGRAM_FILE, SAMPLE_PROGRAMS, STORE_FILE, TEMPLATES
from planner.report.word import check_template
from planner.store import open_store
from planner.store.connection import fetch
from planner.vetting import child, guard
from tests.benchmarks.fuzz_intake import check_fates, lines_of_text

KINDS = ("xlsx", "ods", "csv", "toml", "docx")
OF_BOOKS, OF_TEXTS = "port_marrow", "valdorra"
LARGEST = 70_000
CASES_A_PROCESS = 500
MEMORY_BYTES = 4 * 1024**3
GOOD_ENDS = (0, 2, 3)
COUNTED = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")
COSTS = "cost_id,cost_date,category,amount\nC1,2025-07-01,bins,5\n"
_SNIPPETS = (
    b"<c r='ZZZ99999999'><v>1</v></c>",
    b't = "s"', b"<![CDATA[", b"&#27;", b"\x1b[2J", b"\xef\xbf\xbe", b"\r", b"\r\n", b'"',
    b"9" * 400, b"1e400", b"[" * 400, b"a." * 200, b'"' * 7, b"<", b"\x00", b"\xff\xfe", b"inf",
    b"{{ 'a' * 9999999999 }}", b"{% for a in b %}", b"<!ENTITY a 'b'>", b"\n" * 500, b"",
)  # fmt: skip
_VALUES = (
    b"0", b"-1", b"1", b"2", b"99999999", b"A1", b"XFD1048576", b"s", b"str", b"inlineStr", b"b",
    b"e", b"d", b"1e308", b"", b" ", b"2025-02-30", b"#REF!", b"=1+1", b"float", b"string", b"date",
    b"65536", b"x" * 40_000, b"&#10;", b"\xc2\xa0", b"total", b"example",
)  # fmt: skip
testing._get_command = functools.cache(testing._get_command)
"""The command line is put together once: that takes a quarter of a load's time."""

_VALUE = re.compile(rb'(?<==")[^"<>]*(?=")|(?<=>)[^<>]+(?=<)')


def main() -> int:
    """Meet every case with its command, and print what became of them."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--cases", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--seconds", type=float, default=60.0)
    given = asked.parse_args()
    ends: collections.Counter[tuple[str, str]] = collections.Counter()
    faults: list[str] = []
    slowest, began = 0.0, time.monotonic()
    with tempfile.TemporaryDirectory() as place:
        assert in_a_process(prepare, Path(place)) == 0
        sources = sources_of()
        number = given.first
        while number < given.first + given.cases:
            several = range(number, min(number + CASES_A_PROCESS, given.first + given.cases))
            met = met_in_a_process(several, given, sources, Path(place))
            for one in met:
                ends[one["kind"], one["end"]] += 1
                slowest = max(slowest, one["seconds"])
                if one["fault"]:
                    faults.append(f"case {one['number']}, {one['kind']}: {one['fault']}")
                    print(faults[-1], flush=True)
                    _, content, _ = case(one["number"], given.seed, sources)
                    kept = f"fuzz_load_{given.seed}_{one['number']}.{one['kind']}"
                    Path(kept).write_bytes(content)
            number += len(met)
    for (kind, end), count in sorted(ends.items()):
        print(f"{kind:5} {end:32} {count:6,}")
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    spent = sum(one.ru_utime + one.ru_stime for one in used) / 60
    print(
        f"{sum(ends.values()):,} cases, {len(faults)} faults, the slowest {slowest:.1f} s of "
        f"computing, {spent:.0f} minutes of it in all, {(time.monotonic() - began) / 60:.0f} "
        "on the clock"
    )
    return int(bool(faults))


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


def met_in_a_process(numbers, given, sources, place):
    """Meet cases in one process; the last is at fault where the process did not end by itself."""
    log, stray = place / "met.jsonl", place / "stray.txt"
    log.write_text("")
    code = in_a_process(meet, numbers, given, sources, place, log, stray)
    told = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    done = [one for one in told if "end" in one]
    if code:
        last = told[-1]["number"] if told else numbers[0]
        fault = f"ended its process with {code}: {stray.read_text(errors='replace')[-900:]}"
        crash = {"number": last, "kind": KINDS[last % len(KINDS)], "end": "a crash"}
        done.append({**crash, "fault": fault, "seconds": 0.0})
    return done


def meet(numbers, given, sources, place, log, stray) -> None:
    """Meet cases one after another under the limits, and note each before and after."""
    # what a library prints of its own accord is no output of the command
    os.dup2(os.open(stray, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    with log.open("a", encoding="utf-8") as out:
        for number in numbers:
            print(f'{{"number": {number}}}', file=out, flush=True)
            print(json.dumps(met(number, given, sources, place)), file=out, flush=True)


def met(number, given, sources, place):
    """Meet one case, and tell its end, what was wrong with it and the time it took."""
    name, content, town = case(number, given.seed, sources)
    kind = KINDS[number % len(KINDS)]
    began = os.times()
    spent = int(began.user + began.system)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (spent + int(given.seconds) + 1, hard))
    end, fault = met_by_its_command(name, content, place / town, place / "case")
    ended = os.times()
    seconds = sum(ended[:4]) - sum(began[:4])
    if seconds > given.seconds:
        fault = fault or f"took {seconds:.0f} s of computing"
    return {"number": number, "kind": kind, "end": end, "fault": fault, "seconds": seconds}


_READERS = multiprocessing.get_context("forkserver")
_READERS.set_forkserver_preload(["fastexcel", "arro3.io", *(f"planner.{name}" for name in (
    "vetting.child", "vetting.workbook", "report.word.placeholders"))])  # fmt: skip


class _Reader:
    """The process with limits that reads a case, forked from one that has imported its libraries.

    It is what the planner starts anew for each file, but for its start.
    """

    def communicate(self, given: bytes, timeout: float) -> tuple[bytes, bytes]:
        here, there = _READERS.Pipe(duplex=False)
        told, telling = _READERS.Pipe(duplex=False)
        process = _READERS.Process(target=_read, args=(given, there, telling))
        process.start()
        there.close()
        telling.close()
        answers = [_all_of(pipe.fileno()) for pipe in (here, told)]
        process.join(timeout)
        self.returncode = process.exitcode
        return answers[0], answers[1]

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None:
        pass


def _all_of(descriptor: int) -> bytes:
    pieces = iter(lambda: os.read(descriptor, 1 << 20), b"")
    return b"".join(pieces)


def _read(given: bytes, answer, told) -> None:
    os.dup2(answer.fileno(), 1)
    os.dup2(told.fileno(), 2)
    answer.close()
    told.close()
    sys.stdin = io.TextIOWrapper(io.BytesIO(given))
    child.main()
    os.close(1)


guard._started = _Reader


# -- cases -------------------------------------------------------------------------------


def prepare(place: Path) -> None:
    """Make a program folder of each town, with records that the cases' rows refer to."""
    first = {OF_BOOKS: ["register.xlsx"], OF_TEXTS: ["areas", "households", "contacts", "events"]}
    for town, names in first.items():
        folder = place / town
        folder.mkdir()
        shutil.copy(SAMPLE_PROGRAMS / town / PROGRAM_FILE, folder)
        files = [SAMPLE_PROGRAMS / town / Path(name).with_suffix(".xlsx") for name in names]
        if town == OF_TEXTS:
            files = [file.with_suffix(".csv") for file in files]
        words = ["load", *map(str, files), "--program", str(folder)]
        assert CliRunner().invoke(app, words).exit_code in (0, 3)


def sources_of() -> dict[str, list[tuple[str, bytes]]]:
    """Gather sound files of each kind, each with its name."""
    books = sorted((SAMPLE_PROGRAMS / OF_BOOKS).glob("*.xlsx"))
    texts = sorted((SAMPLE_PROGRAMS / OF_TEXTS).glob("*.csv"))
    few = [text for text in texts if text.stat().st_size < LARGEST / 10]
    towns = [SAMPLE_PROGRAMS / OF_BOOKS / PROGRAM_FILE, TEMPLATES / PROGRAM_FILE]
    files = {"xlsx": books, "csv": texts, "toml": towns, "docx": sorted(TEMPLATES.glob("*.docx"))}
    read = {
        kind: [(path.name, path.read_bytes()) for path in paths if path.stat().st_size < LARGEST]
        for kind, paths in files.items()
    }
    return {
        **read,
        "ods": [(f"{text.stem}.ods", made_ods(text.stem, text.read_text())) for text in few],
    }


def case(number: int, seed: int, sources: dict[str, list[bytes]]) -> tuple[str, bytes, str]:
    """Make a case: the name and content of a file, and the town whose folder it is loaded into."""
    rng = np.random.default_rng([seed, number])
    kind = KINDS[number % len(KINDS)]
    name, content = sources[kind][rng.integers(len(sources[kind]))]
    return name, changed(content, rng), OF_TEXTS if kind in ("csv", "ods") else OF_BOOKS


def made_ods(name: str, text: str) -> bytes:
    """Make a sheet of the lines of a text file."""
    rows = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p>'
            "</table:table-cell>"
            for cell in re.split("[,;]", line)
        )
        + "</table:table-row>"
        for line in text.replace("&", "&amp;").replace("<", "&lt;").splitlines()
    )
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="{name}">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", content)
    return packed.getvalue()


def changed(content: bytes, rng: np.random.Generator) -> bytes:
    """Change a file: its bytes, or a part of the archive that it is."""
    if not content.startswith(b"PK") or rng.random() < 1 / 8:
        return hit(content, rng)
    packed = io.BytesIO()
    alter = hit if rng.random() < 1 / 4 else with_other_values
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(packed, "w") as new:
        names = [name for name in old.namelist() if name.endswith((".xml", ".rels"))]
        chosen = names[rng.integers(len(names))]
        for name in old.namelist():
            part = old.read(name)
            new.writestr(name, alter(part, rng) if name == chosen else part)
    return packed.getvalue()


def with_other_values(part: bytes, rng: np.random.Generator) -> bytes:
    """Put other values into attributes and texts of a part, which stays well formed."""
    for _ in range(int(rng.integers(1, 9))):
        found = list(_VALUE.finditer(part))
        if not found:
            break
        place = found[rng.integers(len(found))]
        other = found[rng.integers(len(found))].group()
        value = _VALUES[rng.integers(len(_VALUES))] if rng.random() < 2 / 3 else other
        part = part[: place.start()] + value + part[place.end() :]
    return part


def hit(content: bytes, rng: np.random.Generator) -> bytes:
    """Flip, cut, double or put something in, one to four times."""
    for _ in range(int(rng.integers(1, 5))):
        start, end = np.sort(rng.integers(0, len(content) + 1, 2)).tolist()
        end = min(end, start + 400)
        snippet = _SNIPPETS[rng.integers(len(_SNIPPETS))]
        noise = rng.integers(0, 256, int(rng.integers(1, 5)), dtype=np.uint8).tobytes()
        middle = (snippet, noise, b"", content[start:end] * 3)[rng.integers(4)]
        content = content[:start] + middle + content[end if rng.random() < 1 / 2 else start :]
    return content


# -- one case ----------------------------------------------------------------------------


def met_by_its_command(name: str, content: bytes, prepared: Path, folder: Path) -> tuple[str, str]:
    """Meet a case with its command; tell its end, and what was wrong with it."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(prepared, folder)
    path = folder / name
    path.write_bytes(content)
    if path.suffix == ".docx":
        return template_met(path)
    if path.suffix == ".toml":
        path = folder / "costs.csv"
        path.write_text(COSTS)
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
        return end, "" if digest(folder) == before else "nothing was taken in, and files changed"
    return end, unaccounted(folder, path, read) or leaked(folder, read, told)


def template_met(path: Path) -> tuple[str, str]:
    """Check a Word template as a report would."""
    try:
        check_template(path)
    except PlannerError as error:
        return ("a sentence", "") if str(error).strip() else ("nothing said", "no sentence")
    return "a template", ""


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


def unaccounted(folder: Path, path: Path, read: list) -> str:
    """Tell which rows have no fate, or two, or a fate that the store does not show."""
    (intake,) = read
    if path.suffix in TEXT_FILES:
        lines = lines_of_text(path.read_bytes())
        if lines != intake.sheets[0].source.cells.height:
            return f"{lines} rows in the file, {intake.sheets[0].source.cells.height} read"
    for rows in intake.sheets:
        check_fates(rows)
    with open_store(folder, read_only=True) as store:
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


def leaked(folder: Path, read: list, told: str) -> str:
    """Tell where a full name, mail address or phone number of a contact stands in the open."""
    if all(rows.table != "contacts" for intake in read for rows in intake.sheets):
        return ""
    with open_store(folder, read_only=True) as store:
        contacts = store.records("contacts").select(PERSONAL)
    details = {text for column in contacts for text in column.drop_nulls() if len(text) > 7}
    shown = [text for text in details if text in told]
    if shown:
        return f"the output shows {shown[0]}"
    with duckdb.connect(folder / STORE_FILE, read_only=True) as program:
        tables = program.execute("select table_name from duckdb_tables()").fetchall()
        for (table,) in tables:
            whole = fetch(program, f"from {table}").select(pl.col(pl.String))
            found = [text for column in whole for text in details.intersection(column)]
            if found:
                return f"{table} holds {found[0]}"
    return ""


if __name__ == "__main__":
    sys.exit(main())
