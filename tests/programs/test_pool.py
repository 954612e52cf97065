"""Sample programs as councils of one state: exports agree with reports, and hold no record."""

from __future__ import annotations

import datetime as dt
import shutil
import tomllib
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.errors import PoolError
from planner.paths import CONTACTS_FILE, KEY_FILE
from planner.pooling.contract import METADATA, read_export
from planner.pooling.exporting import give_out_export
from planner.pooling.pool import PoolRequest
from planner.pooling.writing import pool_councils
from planner.program.sizing import Prior

TOWNS_POOLED = ("port_marrow", "valdorra")
ASKED = PoolRequest(
    "Two invented councils", currency="AUD", rates={"EUR": 1.6}, any_year=True, processes=2
)
METHOD = {"edition": "ipcc_2006", "gwp_set": "ar5"}
DAY = dt.datetime(2026, 11, 1)


@pytest.fixture(scope="module")
def export_of(sample, tmp_path_factory):
    """Give the file of a town's export, which the command writes when it is first asked for."""
    folder = tmp_path_factory.mktemp("exports")

    def of(town):
        path = folder / f"{town}.parquet"
        if not path.exists():
            method = ["--edition", METHOD["edition"], "--gwp-set", METHOD["gwp_set"]]
            words = ["export", "--program", str(sample(town).folder), "--out", str(path), *method]
            ended = CliRunner().invoke(app, words)
            assert (ended.exit_code, ended.stdout) == (0, f"{path}\n"), ended.output
        return path

    return of


@pytest.fixture(scope="module")
def exported(export_of):
    (folder,) = {export_of(town).parent for town in TOWNS_POOLED}
    return folder


@pytest.fixture(scope="module")
def pooled(exported, tmp_path_factory):
    return pool_councils([str(exported)], tmp_path_factory.mktemp("pool"), ASKED, day=DAY)


def of_town(export_of, town):
    return read_export(export_of(town).read_bytes(), town)


@pytest.mark.parametrize("town", TOWNS_POOLED)
def test_an_export_says_what_the_report_says(sample, export_of, town):
    """Central values do not depend on draws; five digits of them are handed over."""
    found = of_town(export_of, town)
    _, register = sample(town).year(found.about.reporting_year)
    for name in ("bins_given", "bins_given_to_date", "bins_in_use", "fed_t", "program_cost",
                 "kept_out_of_landfill_t", "emissions_avoided_100_years_t_co2e"):  # fmt: skip
        # the seed moves a central value by a twentieth of its interval at most
        figure = register[name]
        room = 0.0 if figure.high is None else (figure.high - figure.low) / 20.0
        assert found.totals[name][0] == pytest.approx(figure.value, rel=1e-4, abs=room)


@pytest.mark.parametrize("town", TOWNS_POOLED)
def test_an_export_holds_no_household_and_no_area(sample, export_of, town):
    content = export_of(town).read_bytes()
    loaded = sample(town)
    words = METADATA.encode()
    assert words in content
    from planner.store.opening import open_store

    with open_store(loaded.folder, read_only=True) as store:
        areas = store.records("areas")
        households = store.records("households")["household_id"]
    for name in [*areas["area_id"], *areas["area_name"], *households]:
        assert name.encode() not in content


@pytest.mark.thorough
def test_the_state_is_the_sum_of_its_councils(export_of, pooled):
    register = pooled.register
    both = [of_town(export_of, town) for town in TOWNS_POOLED]
    kept = sum(one.totals["kept_out_of_landfill_t"][0] for one in both)
    assert register["kept_out_of_landfill_t"].value == pytest.approx(kept)
    money = both[0].totals["program_cost"][0] + 1.6 * both[1].totals["program_cost"][0]
    assert register["program_cost"].value == pytest.approx(money)
    assert all(path.is_file() for path in pooled.files)


@pytest.mark.thorough
def test_program_folders_give_the_same_figures_as_their_exports(sample, exported, tmp_path):
    """In two processes, from what was kept, and from exports: the same to the last digit."""
    folders = [str(sample(town).folder) for town in TOWNS_POOLED]
    asked = replace(ASKED, method=METHOD)
    said = []
    pool_councils(folders, tmp_path, asked, day=DAY, progress=said.append)
    first = (tmp_path / "figures.json").read_bytes()
    pool_councils(folders, tmp_path, asked, day=DAY, progress=said.append)
    assert (tmp_path / "figures.json").read_bytes() == first
    assert any("have not changed" in words for words in said)
    pool_councils([str(exported)], tmp_path / "again", asked, day=DAY)
    assert (tmp_path / "again" / "figures.json").read_bytes() == first


@pytest.mark.thorough
def test_without_its_key_a_council_exports_nothing(sample, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(sample("valdorra").folder, folder)
    for name in (KEY_FILE, CONTACTS_FILE):
        (folder / name).unlink()
    with pytest.raises(PoolError, match="no key file"):
        give_out_export(folder)


@pytest.mark.thorough
def test_priors_are_blocks_of_a_program_file(pooled):
    """Two councils tell nothing of how councils differ: no block is written for them."""
    assert not any(path.name == "priors.toml" for path in pooled.files)


def test_blocks_for_a_council_that_joins_are_read_by_the_program_file():
    import numpy as np

    from planner.pooling.pool import pool
    from planner.pooling.writing import priors_text
    from tests.unit.pooling.councils import export, rate

    rng = np.random.default_rng(3)
    names = {"feed_kg_per_week": 1.4, "in_use_12_months_share_house": 0.7}
    exports = [
        export(f"Council {n}", rates={k: rate(v, 0.1, rng, k) for k, v in names.items()})
        for n in range(5)
    ]
    text = priors_text(pool(exports, PoolRequest('The "Amber" councils')))
    priors = tomllib.loads(text)["sizing"]["priors"]
    assert set(priors) == set(names)
    for name, block in priors.items():
        prior = Prior(**block)
        assert prior.value == pytest.approx(names[name], rel=0.1)
        assert "5 councils" in prior.source
