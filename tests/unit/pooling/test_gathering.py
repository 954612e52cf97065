"""A council that fails or takes its process down is named; the others go on."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from planner.errors import PoolError
from planner.messages import in_english
from planner.pooling.contract import export_bytes
from planner.pooling.gathering import TAKEN_DOWN, _name, gather, measure_all, measure_council
from planner.pooling.places import as_folder, find_councils, read_bytes
from planner.pooling.pool import PoolRequest
from tests.unit.pooling.councils import export
from tests.unit.pooling.work import (
    ANY_PORT,
    ENOUGH,
    KILLER,
    KILLS_ONCE,
    NAMES,
    cannot_begin,
    never_done,
    work,
)

ROOT = Path(__file__).resolve().parents[3]
MISSING = {KILLER: in_english(TAKEN_DOWN), "fails": "no survey round has ten answers"}
KEPT = ["a", "b", "c"]


def silent(_):
    """Tell nobody."""


def todo_in(folder, names=NAMES):
    return {str(folder / name): folder / f"{name}.parquet" for name in names}


def kept_in(folder):
    return sorted(path.stem for path in folder.glob("*.parquet"))


@pytest.mark.thorough
def test_a_lost_process_costs_its_own_council_alone(tmp_path):
    missing = measure_all(todo_in(tmp_path), PoolRequest("All", processes=2), silent, work)
    assert missing == MISSING
    assert kept_in(tmp_path) == KEPT


@pytest.mark.thorough
def test_a_cluster_that_loses_a_worker_gives_the_same(tmp_path):
    """A Dask cluster of two processes here, one of them killed at its work."""
    pytest.importorskip("distributed")
    done = subprocess.run(
        [sys.executable, "-m", "tests.unit.pooling.cluster_case", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert json.loads(done.stdout.splitlines()[-1]) == {"fails": MISSING["fails"]}
    assert kept_in(tmp_path) == [*KEPT, KILLS_ONCE]


def test_a_cluster_that_does_not_answer_is_said(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("planner.pooling.places.ANSWER_SECONDS", 0.2)
    asked = PoolRequest("All", scheduler="tcp://127.0.0.1:1")
    with pytest.raises(PoolError, match="no cluster answers there"):
        measure_all(todo_in(tmp_path), asked, silent, work)


@pytest.fixture
def cluster(monkeypatch):
    """Start a Dask cluster of one worker in this process, and have little patience with it."""
    distributed = pytest.importorskip("distributed")
    import dask

    monkeypatch.setattr("planner.pooling.places.PATIENCE_SECONDS", 0.2)
    made = distributed.LocalCluster(
        1, threads_per_worker=2, processes=False, dashboard_address=ANY_PORT
    )
    ENOUGH.clear()
    yield made
    ENOUGH.set()
    # a scheduler that a test has closed hears no goodbye, which half a minute is waited for
    with dask.config.set({"distributed.comm.timeouts.connect": "0.2s"}):
        made.close()


def on(cluster):
    return PoolRequest("All", scheduler=cluster.scheduler_address)


def test_a_cluster_without_workers_is_not_waited_for(tmp_path, cluster):
    cluster.sync(cluster.workers[0].close)
    missing = measure_all(todo_in(tmp_path, "ab"), on(cluster), silent, work)
    assert missing == dict.fromkeys("ab", in_english("pooled.fail.no_workers"))


def test_a_cluster_that_says_nothing_is_not_waited_for(tmp_path, monkeypatch, cluster):
    monkeypatch.setattr("planner.pooling.places.LONGEST_SILENCE_SECONDS", 0.3)
    missing = measure_all(todo_in(tmp_path, "ab"), on(cluster), silent, never_done)
    assert missing == dict.fromkeys("ab", in_english("pooled.fail.silence", minutes=0))


def test_a_worker_lost_with_what_it_found_is_not_waited_for(tmp_path, cluster):
    """The worker goes between the end of a task and the fetching of its result."""
    from distributed import Future

    fetch = Future.result

    def lose(future, timeout=None):
        cluster.sync(cluster.workers[0].close)
        return fetch(future, timeout)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(Future, "result", lose)
        missing = measure_all(todo_in(tmp_path, "a"), on(cluster), silent, work)
    assert missing == {"a": in_english("pooled.fail.no_workers")}


def test_a_cluster_lost_on_the_way_is_said(tmp_path, cluster):
    lost = threading.Timer(0.5, lambda: cluster.sync(cluster.scheduler.close))
    lost.start()
    missing = measure_all(todo_in(tmp_path, "a"), on(cluster), silent, never_done)
    assert missing == {"a": in_english("pooled.fail.lost")}


def test_a_worker_that_cannot_begin_is_named(tmp_path, cluster):
    missing = measure_all(todo_in(tmp_path, "a"), on(cluster), silent, cannot_begin)
    named = {"name": "ImportError", "error": "no planner here"}
    assert missing == {"a": in_english("pooled.fail.failed", **named)}


@pytest.mark.thorough
def test_a_process_that_says_nothing_is_not_waited_for(tmp_path, monkeypatch):
    monkeypatch.setattr("planner.pooling.gathering.LONGEST_SILENCE_SECONDS", 0.3)
    missing = measure_all(
        todo_in(tmp_path, "ab"), PoolRequest("All", processes=2), silent, never_done
    )
    assert list(missing) == ["a", "b"]
    assert set(missing.values()) == {in_english("pooled.fail.silence", minutes=60)}


def test_a_folder_gives_its_exports_and_its_programs(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "program.toml").touch()
    (tmp_path / "x.parquet").write_bytes(export_bytes(export()))
    files, folders = find_councils([str(tmp_path), str(tmp_path / "one")])
    assert [Path(place).name for place in files] == ["x.parquet"]
    assert [Path(place).name for place in folders] == ["one", "two"]


def test_an_address_gives_the_same_as_the_folder(tmp_path):
    """Through fsspec, as an object store would."""
    pytest.importorskip("fsspec")
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "program.toml").write_text("[council]")
    (tmp_path / "x.parquet").write_bytes(export_bytes(export()))
    address = tmp_path.as_uri()
    files, folders = find_councils([address])
    assert [read_bytes(place) for place in files] == [(tmp_path / "x.parquet").read_bytes()]
    (folder,) = folders
    with as_folder(folder) as here:
        assert here != tmp_path / "one"
        assert (here / "program.toml").read_text() == "[council]"
    assert not here.exists()


@pytest.mark.parametrize("place", ["nowhere://x", "file:///no/such/folder"])
def test_an_address_that_is_none_is_named(place):
    pytest.importorskip("fsspec")
    with pytest.raises(PoolError, match=place):
        find_councils([place])


def test_what_is_nothing_is_named(tmp_path):
    for place in (tmp_path, tmp_path / "none"):
        with pytest.raises(PoolError, match="no export and no program folder"):
            find_councils([str(place)])


def test_a_file_that_is_no_export_is_listed_and_the_rest_taken(tmp_path):
    (tmp_path / "x.parquet").write_bytes(export_bytes(export()))
    (tmp_path / "y.parquet").write_bytes(b"not an export")
    exports, missing = gather([str(tmp_path)], tmp_path / "kept", PoolRequest("All"), silent)
    assert [one.about.council for one in exports] == ["Aldermoor (invented)"]
    assert "no export of this program" in missing["y.parquet"]


def test_nobody_left_is_said(tmp_path):
    (tmp_path / "y.parquet").write_bytes(b"not an export")
    with pytest.raises(PoolError, match="No council could be taken"):
        gather([str(tmp_path)], tmp_path / "kept", PoolRequest("All"), silent)


def test_a_council_without_a_program_says_why_and_ends_nothing(tmp_path):
    found = measure_council(str(tmp_path), PoolRequest("All"))
    assert found.content == b""
    assert "found no program file" in found.reason


def test_a_council_is_measured_again_where_another_method_or_year_is_asked_for(tmp_path):
    (tmp_path / "program.toml").write_text("")
    asked = [
        PoolRequest("State"),
        PoolRequest("State", label="2024-25"),
        PoolRequest("State", method={"edition": "ipcc_2019"}),
        PoolRequest("State", method={"edition": "ipcc_2006"}),
    ]
    names = [_name(str(tmp_path), one) for one in asked]
    assert len(set(names)) == 4
    # whoever they are together, and in whatever language, is no matter of the measuring
    assert _name(str(tmp_path), PoolRequest("Region", language="fr")) == names[0]
