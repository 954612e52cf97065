"""The evidence pack alone carries another person to the figures, and carries no names."""

from __future__ import annotations

import datetime as dt
import hashlib
import tomllib
from itertools import pairwise
from math import exp
from types import SimpleNamespace

import polars as pl
import pytest
from typer.testing import CliRunner

from planner import reporting
from planner.cli import app
from planner.errors import ReportError
from planner.factors import read_factors
from planner.figures import read_register
from planner.messages import messages_for
from planner.paths import FIGURES_FILE, PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.report.evidence import control_totals, records_behind, write_evidence
from planner.report.explaining import explain, records_told
from planner.store.opening import open_store

TOWN, LABEL = "valdorra", "2025"


@pytest.fixture(scope="module")
def pack(sample, tmp_path_factory):
    """Write the evidence of a sample's last year."""
    one = sample(TOWN)
    year, register = one.year(LABEL)
    target = tmp_path_factory.mktemp("pack") / "evidence"
    with pytest.MonkeyPatch.context() as patch:
        # the year is estimated once for all tests of the samples
        drafted = SimpleNamespace(register=register, year=year)
        patch.setattr(reporting, "draft_report", lambda *_: drafted)
        line = ["evidence", str(target), "--program", str(one.folder), "--year", LABEL]
        ended = CliRunner().invoke(app, line)
    assert ended.exit_code == 0, ended.output
    assert messages_for("es_ES").say("console.next_evidence") in " ".join(ended.stderr.split())
    named = {line.strip() for line in ended.stdout.splitlines()}
    assert named == {str(path) for path in target.rglob("*") if path.is_file()}
    # nobody else on the machine may read single households
    assert target.stat().st_mode & 0o077 == 0
    assert [one.name for one in target.parent.iterdir()] == ["evidence"]
    return target


def read(pack, name):
    return pl.read_csv(pack / name, infer_schema_length=None)


def test_counts_sums_and_products_follow_from_the_pack_alone(pack):
    figures = read_register((pack / FIGURES_FILE).read_text("utf-8"))
    costs, areas = read(pack, "rows/costs_by_category.csv"), read(pack, "rows/bins_by_area.csv")
    assert costs["amount_in_year"].sum() == pytest.approx(figures["program_cost"].value)
    assert areas["bins_given_in_year"].sum() == figures["bins_given"].value
    ledger = read(pack, "ledger.csv").with_columns(pl.col("cost_date").str.to_date())
    of_year = ledger.filter(pl.col("cost_date").dt.year() == int(LABEL))
    assert of_year["amount"].sum() == pytest.approx(figures["program_cost"].value)
    program = tomllib.loads((pack / PROGRAM_FILE).read_text("utf-8"))
    (block,) = [y for y in program["reporting_years"] if y["reporting_year"] == LABEL]
    kept = figures["kept_out_of_landfill_t"].value
    assert figures["avoided_levy"].value == pytest.approx(kept * block["landfill_levy_per_t"])
    months = read(pack, "rows/handovers_by_month.csv")
    assert months["bins_given"].sum() == figures["bins_given_to_date"].value


def test_emissions_follow_from_the_pack_alone_by_the_guidelines_formula(pack):
    """IPCC 2006 Guidelines, volume 5, chapter 3, equations 3.1 to 3.6, worked out by hand."""
    figures = read_register((pack / FIGURES_FILE).read_text("utf-8"))
    program = tomllib.loads((pack / PROGRAM_FILE).read_text("utf-8"))
    # other editions stand in the pack for the account reckoned under them
    chosen = pl.col("edition").is_in([program["method"][name] for name in ("edition", "gwp_set")])
    rows = read(pack, "factors.csv").sort(chosen).iter_rows(named=True)
    factors = {row["factor"].split("/")[0]: row["value"] for row in rows}
    names = ("degradable_carbon_share", "decomposing_carbon_share")
    potential = 16 / 12 * factors["methane_share_of_gas"] * factors["methane_correction_factor"]
    for name in names:
        potential *= factors[f"food_{name}"]
    delay_years = (factors["delay_months"] + 0.5) / 12  # from the mean day of a month

    def left(age_years):
        return exp(-factors["food_decay_rate_per_year"] * max(0.0, age_years - delay_years))

    steps = program["landfill"]["gas_capture"]
    ages = [step["from_age_years"] for step in steps] + [100]
    escaped = sum(
        (left(first) - left(last)) * (1 - step["captured_share"])
        for step, (first, last) in zip(steps, pairwise(ages), strict=True)
    )
    kilograms = potential * escaped * (1 - factors["oxidised_share"]) * factors["methane_gwp100"]
    expected = figures["kept_out_of_landfill_t"].value * kilograms
    line = "account_t_co2e[100_years.{}]".format
    assert figures[line("landfill_methane")].value == pytest.approx(expected, rel=1e-9)
    # and the bins' plastic: bins given for the first time, their mass and the factors by mass
    supplies = read(pack, "rows/supplies_by_month.csv")
    of_year = supplies.filter(pl.col("supply_month").str.starts_with(LABEL))
    made = of_year["bins_given"].sum() - of_year["reissued_count"].sum()
    (model,) = program["bin_models"]
    recycled = model["plastic_recycled_share"]
    of_plastic = (1 - recycled) * factors["bin_plastic_virgin_kg_co2e_per_kg"]
    of_plastic += recycled * factors["bin_plastic_recycled_kg_co2e_per_kg"]
    expected = -made * model["plastic_kg"] * of_plastic / 1000
    assert figures[line("bin_plastic")].value == pytest.approx(expected, rel=1e-9)


def test_every_query_of_a_figure_has_its_rows_and_its_text(pack):
    inputs = read(pack, "inputs.csv")
    queries = inputs.filter(pl.col("kind") == "query")["name"].unique()
    assert len(queries) > 8
    for name in queries:
        assert (pack / "queries" / f"{name}.sql").exists()
        assert (pack / "rows" / f"{name}.csv").exists()
        told = inputs.filter(pl.col("name") == name)["detail"].drop_nulls()
        rows = {
            int(words.split(" ")[0].replace(",", ""))
            for words in told
            if words and "fewer" not in words
        }
        assert rows <= {read(pack, f"rows/{name}.csv").height}


def test_factors_name_edition_and_place_in_their_source(pack):
    factors = read(pack, "factors.csv")
    table = {factor.name: factor for factor in read_factors()}
    for row in factors.iter_rows(named=True):
        factor = table[row["factor"]]
        assert (row["value"], row["edition"] or "") == (factor.value, factor.edition)
        assert (row["place"] or "") == factor.place(messages_for("en"))


def test_digests_are_those_of_the_files(pack):
    listed = dict(read(pack, "digests.csv").iter_rows())
    files = {p.relative_to(pack).as_posix() for p in pack.rglob("*") if p.is_file()}
    assert files - {"digests.csv"} == {name for name in listed if not name.startswith("loaded: ")}
    for name in files - {"digests.csv"}:
        assert hashlib.sha256((pack / name).read_bytes()).hexdigest() == listed[name]
    assert sum(name.startswith("loaded: ") for name in listed) > 10


def test_lines_read_are_accounted_for_to_the_last(sample):
    with open_store(sample(TOWN).folder, read_only=True) as store:
        totals, ledger = control_totals(store), store.records("costs")
    assert totals.height > 10
    assert (totals["difference_count"] == 0).all()
    assert totals["refused_count"].sum() > 0
    # every line stands once in this sample: what was new or corrected is the ledger
    written = totals["new_amount"].sum() + totals["corrected_amount"].sum()
    assert written == pytest.approx(ledger["amount"].sum())


def test_no_personal_detail_is_in_the_pack(sample, pack):
    with open_store(sample(TOWN).folder, read_only=True) as store:
        contacts = store.records("contacts")
    words = "\n".join(p.read_text("utf-8", errors="ignore") for p in pack.rglob("*.csv"))
    for column in ("full_name", "email", "phone"):
        found = [one for one in contacts[column].drop_nulls() if len(one) > 5 and one in words]
        assert found == []


def test_explain_names_only_the_files_whose_rows_enter(sample):
    _, register = sample(TOWN).year(LABEL)
    told = explain(register, "program_cost").partition("Files behind the records")[2]
    assert "costs.csv" in told
    assert "SHA-256" in told
    assert "answers.csv" not in told
    kept = explain(register, "kept_out_of_landfill_t").partition("Files behind the records")[2]
    assert "answers.csv" in kept
    assert "costs.csv" not in kept


def test_a_figure_is_walked_down_to_its_records_and_the_digests_of_their_files(sample, pack):
    one = sample(TOWN)
    _, register = one.year(LABEL)
    with open_store(one.folder, read_only=True) as store:
        of_year = dt.date(int(LABEL) + 1, 1, 1)
        behind = {
            name: records_behind(store, register, name, of_year)
            for name in ("program_cost", "program_cost[staff]", "bins_given_to_date", "fed_t")
        }
        costs, handovers = store.records("costs"), store.records("handovers")
    ledger = behind["program_cost"]
    assert ledger["record_key"].to_list() == costs["cost_id"].sort().to_list()
    staff = costs.filter(pl.col("category").cast(pl.String) == "staff")
    assert behind["program_cost[staff]"]["record_key"].to_list() == staff["cost_id"].to_list()
    bins = behind["bins_given_to_date"].filter(pl.col("table_name") == "handovers")
    assert bins.height == register["bins_given_to_date"].value == handovers.height
    # the digest is that of the very file that was loaded
    (name,) = ledger["file"].unique()
    content = (SAMPLE_PROGRAMS / TOWN / name).read_bytes()
    assert ledger["sha256"].unique().to_list() == [hashlib.sha256(content).hexdigest()]
    told = records_told(behind["fed_t"], 10)
    assert any(line.startswith("- answers: ") and "SHA-256" in line for line in told)
    assert not any("costs" in line for line in told)
    # and the pack lists every one of them
    listed = read(pack, "records.csv").select("table_name", "record_key").rows()
    for rows in behind.values():
        assert set(rows.select("table_name", "record_key").rows()) <= set(listed)


def test_records_of_few_households_are_not_counted_and_none_is_named():
    def of(file, households, each=1):
        same = {"table_name": "answers", "record_date": None, "sha256": "d1", "file": file}
        return [
            {**same, "record_key": f"{n} | {one}", "household_id": one, "load_id": f"L {file}"}
            for one in households
            for n in range(each)
        ]

    def text_of(*rows):
        frame = pl.DataFrame([one for some in rows for one in some], infer_schema_length=None)
        return "\n".join(records_told(frame, 10))

    few, many = of("a.csv", ["H1", "H2", "H3"]), of("b.csv", [f"G{n}" for n in range(30)])
    text = text_of(few, many)
    assert "a.csv" in text
    assert "b.csv" in text
    for hidden in ("3 records", "30 records", "H1", "G1"):
        assert hidden not in text
    text = text_of(many)
    assert "30 records" in text
    assert "G1" not in text
    # thirty weeks of one household are the records of one
    assert "30 records" not in text_of(of("c.csv", ["H1"], each=30))


def test_a_folder_that_is_there_is_left_alone(sample, pack):
    year, register = sample(TOWN).year(LABEL)
    with (
        open_store(sample(TOWN).folder, read_only=True) as store,
        pytest.raises(ReportError, match="is there already"),
    ):
        write_evidence(pack, sample(TOWN).folder, store, register, year)
