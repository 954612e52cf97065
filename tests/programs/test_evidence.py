"""The evidence pack alone carries another person to the figures, and carries no names."""

from __future__ import annotations

import hashlib
import tomllib

import polars as pl
import pytest

from planner.errors import ReportError
from planner.factors import read_factors
from planner.figures import read_register
from planner.paths import FIGURES_FILE, PROGRAM_FILE
from planner.report.evidence import control_totals, write_evidence
from planner.report.explaining import explain
from planner.store import open_store

TOWN, LABEL = "valdorra", "2025"


@pytest.fixture(scope="module")
def pack(sample, tmp_path_factory):
    """Write the evidence of a sample's last year."""
    one = sample(TOWN)
    year, register = one.year(LABEL)
    target = tmp_path_factory.mktemp("pack") / "evidence"
    with open_store(one.folder, read_only=True) as store:
        write_evidence(target, one.folder, store, register, year)
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
        assert (row["place"] or "") == factor.source_place


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


def test_a_folder_that_is_there_is_left_alone(sample, pack):
    year, register = sample(TOWN).year(LABEL)
    with (
        open_store(sample(TOWN).folder, read_only=True) as store,
        pytest.raises(ReportError, match="is there already"),
    ):
        write_evidence(pack, sample(TOWN).folder, store, register, year)
