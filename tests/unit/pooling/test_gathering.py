"""A council that fails or takes its process down is named; the others go on."""

from __future__ import annotations

import pytest

from planner.errors import PoolError
from planner.pooling.contract import write_export
from planner.pooling.gathering import TAKEN_DOWN, find_councils, gather, measure_all
from planner.pooling.pool import PoolAsked
from tests.unit.pooling.councils import KILLER, export, work


def silent(_):
    """Tell nobody."""


def test_a_lost_process_costs_its_own_council_alone(tmp_path):
    names = ["a", "b", KILLER, "fails", "c"]
    todo = {tmp_path / name: tmp_path / f"{name}.parquet" for name in names}
    missing = measure_all(todo, PoolAsked("All", processes=2), silent, work)
    assert missing == {KILLER: TAKEN_DOWN, "fails": "no survey round has ten answers"}
    assert sorted(path.stem for path in tmp_path.glob("*.parquet")) == ["a", "b", "c"]


def test_a_folder_gives_its_exports_and_its_programs(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "program.toml").touch()
    write_export(tmp_path / "x.parquet", export())
    files, folders = find_councils([tmp_path, tmp_path / "one"])
    assert [path.name for path in files] == ["x.parquet"]
    assert [path.name for path in folders] == ["one", "two"]


def test_what_is_nothing_is_named(tmp_path):
    with pytest.raises(PoolError, match="no export and no program folder"):
        find_councils([tmp_path])
    with pytest.raises(PoolError, match="no export and no program folder"):
        find_councils([tmp_path / "none"])


def test_a_file_that_is_no_export_is_listed_and_the_rest_taken(tmp_path):
    write_export(tmp_path / "x.parquet", export())
    (tmp_path / "y.parquet").write_bytes(b"not an export")
    found = gather([tmp_path], tmp_path / "kept", PoolAsked("All"), silent)
    assert [one.about.council for one in found.exports] == ["Aldermoor (invented)"]
    assert "no export of this program" in found.missing["y.parquet"]


def test_nobody_left_is_said(tmp_path):
    (tmp_path / "y.parquet").write_bytes(b"not an export")
    with pytest.raises(PoolError, match="No council could be taken"):
        gather([tmp_path], tmp_path / "kept", PoolAsked("All"), silent)
