"""The committed folders against their truth, and against the generator."""

import csv
import datetime as dt
import re
import tomllib
from collections import Counter
from pathlib import Path

import dataframely as dy
import polars as pl
import pytest
from openpyxl import load_workbook

from planner.program import read_program
from planner.tables import PRIOR_SHARES, TABLES, codes, references
from sample_programs.generator import TOWNS
from sample_programs.generator.calendar import open_calendar
from sample_programs.generator.folders import write_town, written_as
from sample_programs.generator.mistakes import key_columns
from sample_programs.generator.spreadsheets import WORKBOOKS

pytestmark = pytest.mark.thorough

SAMPLES = Path(__file__).parents[3] / "sample_programs"
MAY_LIE_AHEAD = ("events", "waves", "offers", "orders")
SHIPPED_SHAPE = re.compile(r"\d{1,2}/\d{1,2}/\d{4}")

LANDFILLED = "would_have_been_landfilled_t"


def read_sheets(folder: Path) -> dict[str, list[dict[str, object]]]:
    """Read a town's tables from its workbooks, cells as they stand."""
    sheets = {}
    for name, tables in WORKBOOKS.items():
        workbook = load_workbook(folder / name, read_only=True)
        for table in tables:
            lines = list(workbook[table].iter_rows(values_only=True))
            headings = list(TABLES[table].columns())
            start = next(n for n, line in enumerate(lines) if list(line) == headings)
            sheets[table] = [dict(zip(headings, line, strict=True)) for line in lines[start + 1 :]]
        workbook.close()
    return sheets


def read_csvs(folder: Path) -> dict[str, list[dict[str, object]]]:
    """Read a town's tables from its CSV files, text turned to values where it can be."""
    sheets = {}
    for table in (name for name in TABLES if (folder / f"{name}.csv").exists()):
        with (folder / f"{table}.csv").open(encoding="utf-8-sig", newline="") as lines:
            rows = list(csv.DictReader(lines, delimiter=";"))
        sheets[table] = [{k: from_spanish(table, k, v) for k, v in row.items()} for row in rows]
    return sheets


def from_spanish(table: str, column: str, text: str) -> object:
    declared = TABLES[table].columns()[column]
    if text == "":
        return None
    if isinstance(declared, dy.Bool):
        return {"sí": True, "no": False}.get(text, text)
    try:
        if isinstance(declared, dy.Date) and SHIPPED_SHAPE.fullmatch(text):
            day, month, year = map(int, text.split("/"))
            return dt.datetime(year, month, day)
        if isinstance(declared, dy.Int64 | dy.Float64):
            return float(text.replace(",", "."))
    except ValueError:
        return text
    return text


def cell_is_wrong(table: str, column: str, value: object) -> bool:
    declared = TABLES[table].columns()[column]
    if value is None:
        return not declared.nullable
    if isinstance(declared, dy.Enum):
        return value not in codes(table, column)
    if isinstance(declared, dy.Date):
        return not isinstance(value, dt.datetime) or value.year < 2000
    if isinstance(declared, dy.Bool):
        return not isinstance(value, bool)
    if isinstance(declared, dy.Int64 | dy.Float64):
        return isinstance(value, str | bool) or not in_range(declared, value)
    return False


def in_range(declared: dy.Float64, value: float) -> bool:
    above = declared.min is None or value >= declared.min
    below = declared.max is None or value <= declared.max
    more = declared.min_exclusive is None or value > declared.min_exclusive
    return above and below and more


def lies_ahead(table: str, row: dict[str, object], last_day: dt.datetime) -> str | None:
    if table in MAY_LIE_AHEAD:
        return None
    days = (name for name, value in row.items() if isinstance(value, dt.datetime))
    return next((name for name in days if row[name] > last_day), None)


def rule_is_broken(table: str, row: dict[str, object]) -> str | None:
    if table == "answers":
        shares = [row[name] for name in PRIOR_SHARES if row[name] is not None]
        if shares and (len(shares) < 5 or abs(sum(shares) - 1) > 0.011):
            return PRIOR_SHARES[0]
    if table == "waves" and row["closes_date"] < row["opens_date"]:
        return "closes_date"
    if table == "audits" and row["food_kg"] > row["residual_kg"]:
        return "food_kg"
    return None


def wrong_column(table, row, seen, parents, models, last_day) -> str | None:
    """Name the first column for which a row must be refused on the sample's last day."""
    wrong = [name for name, value in row.items() if cell_is_wrong(table, name, value)]
    for name, parent in references(table).items():
        if row[name] is not None and row[name] not in parents[parent]:
            wrong.append(name)
    if wrong:
        return wrong[0]
    if table == "handovers" and row["model_id"] not in models:
        return "model_id"
    if tuple(row[name] for name in key_columns(table)) in seen:
        return "key"
    return lies_ahead(table, row, last_day) or rule_is_broken(table, row)


@pytest.fixture(scope="module", params=list(TOWNS))
def town(request):
    return TOWNS[request.param]


@pytest.fixture(scope="module")
def truth(town):
    return tomllib.loads((SAMPLES / town.folder / "truth.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def sheets(town):
    read = read_csvs if written_as(town) == "csv" else read_sheets
    return read(SAMPLES / town.folder)


def is_passed_over(row: dict[str, object], earlier: set[tuple[object, ...]]) -> bool:
    """Say whether a row is blank, adds up the others, or repeats one in full."""
    cells = tuple(row.values())
    return set(cells) == {None} or cells[0] == "Total" or cells in earlier


@pytest.fixture(scope="module")
def judged(town, sheets):
    """Count good keys, refused columns and rows passed over, by a reader of the tests' own."""
    program = read_program(SAMPLES / town.folder / "program.toml")
    models = {model.model_id for model in program.bin_models}
    calendar = open_calendar(town.council.first_year, town.council.first_month, len(town.years))
    last_day = dt.datetime.combine(calendar.date(calendar.end_day - 1), dt.time())
    parents, good, refused, passed_over = {}, {}, {}, Counter()
    for table, rows in sheets.items():
        seen, earlier, columns = set(), set(), Counter()
        for row in rows:
            if is_passed_over(row, earlier):
                passed_over[table] += 1
                continue
            earlier.add(tuple(row.values()))
            column = wrong_column(table, row, seen, parents, models, last_day)
            if column:
                columns[column] += 1
            else:
                seen.add(tuple(row[name] for name in key_columns(table)))
        parents[table] = {key[0] for key in seen}
        good[table], refused[table] = len(seen), columns
    return good, refused, passed_over


def test_program_files_are_valid_and_say_they_are_invented(town):
    path = SAMPLES / town.folder / "program.toml"
    program = read_program(path)
    assert [year.reporting_year for year in program.reporting_years] == [
        y.label for y in town.years
    ]
    assert "invented" in path.read_text(encoding="utf-8").splitlines()[0]


def test_good_rows_are_as_many_as_the_truth_says(truth, judged):
    assert judged[0] == truth["good_rows"]


def test_wrong_rows_are_where_the_truth_says(truth, judged):
    expected = {table: Counter() for table in truth["good_rows"]}
    for entry in truth["wrong_rows"]:
        if not entry["is_refused"]:
            continue
        column = "key" if entry["kind"] == "duplicate_key" else entry["column"]
        expected[entry["table"]][column] += entry["rows_count"]
    assert judged[1] == expected


def test_rows_to_pass_over_are_counted(truth, judged):
    expected = Counter()
    for entry in truth["wrong_rows"]:
        if not entry["is_refused"]:
            expected[entry["table"]] += entry["rows_count"]
    assert judged[2] == expected


def test_few_real_rows_are_lost(truth):
    for table, count in truth["good_rows"].items():
        lost = sum(
            entry["rows_count"]
            for entry in truth["wrong_rows"]
            if entry["table"] == table and entry["is_real_row_lost"]
        )
        assert lost <= 0.005 * count


def test_the_truth_s_areas_sum_to_its_years(truth):
    areas = pl.DataFrame(truth["area_years"])
    for year in truth["years"]:
        inside = areas.filter(pl.col("reporting_year") == year["reporting_year"])
        for name in ("bins_given", "bins_in_use", "fed_t", LANDFILLED, "kept_out_of_landfill_t"):
            assert inside[name].sum() == pytest.approx(year[name])
        assert year[LANDFILLED] == pytest.approx(year["landfill_share"] * year["fed_t"])
        assert year["kept_out_of_landfill_t"] < year[LANDFILLED]


def test_the_ledger_s_good_lines_sum_to_the_truth(truth, sheets):
    good = [
        row["amount"]
        for row in sheets["costs"]
        if isinstance(row["cost_date"], dt.datetime)
        and row["cost_date"].year <= 2026  # the last year of the towns; later ones are wrong
        and row["category"] in codes("costs", "category")
        and not isinstance(row["amount"], str)
    ]
    assert sum(good) == pytest.approx(
        sum(year["program_cost"] for year in truth["years"]), abs=0.02
    )


def test_the_smallest_area_has_fewer_bins_than_may_be_shown(town, truth):
    given = pl.DataFrame(truth["area_years"]).group_by("area_id").agg(pl.col("bins_given").sum())
    assert 0 < given["bins_given"].min() < town.council.small_cell_threshold


def test_telephones_and_mail_lead_nowhere(sheets, town):
    # Ranges kept for drama by ACMA (Australia) and Ofcom (United Kingdom), from memory;
    # .example after RFC 2606, section 2.
    heads = {"en_AU": ("07 5550 ", "07 7010 "), "en_GB": ("01632 960", "07700 900"), "es_ES": ()}
    for row in sheets["contacts"]:
        phone, email = row["phone"], row["email"]
        assert phone is None or phone.startswith(heads[town.council.country_locale])
        assert email is None or email.endswith(".example")


def test_writing_anew_gives_the_same_folder(town, tmp_path, sheets):
    for path in write_town(town, tmp_path, town.seed):
        committed = SAMPLES / town.folder / path.name
        if path.suffix != ".xlsx":
            assert path.read_bytes() == committed.read_bytes(), path.name
    if written_as(town) == "workbooks":
        assert read_sheets(tmp_path) == sheets


def test_samples_stay_small():
    sizes = [path.stat().st_size for path in SAMPLES.rglob("*.*") if path.is_file()]
    assert sum(sizes) < 3_000_000
