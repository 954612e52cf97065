"""An export comes back as it was written, and anything else ends in a sentence."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from planner.errors import PoolError
from planner.pooling.contract import METADATA, export_bytes, read_export
from tests.unit.pooling.councils import export, rate


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "a.parquet"
    made = export(rates={"feed_kg_per_week": rate(1.5, 0.1, np.random.default_rng(2))})
    path.write_bytes(export_bytes(made))
    return path, made


def test_an_export_comes_back_to_five_digits(written):
    path, made = written
    found = read_export(path.read_bytes(), path.name)
    assert found.about == made.about
    for name, values in made.totals.items():
        assert found.totals[name] == pytest.approx(values, rel=1e-4)
    assert found.rates["feed_kg_per_week"].survey_variance == pytest.approx(0.01)


def test_the_same_export_gives_the_same_bytes(written):
    path, made = written
    assert export_bytes(made) == path.read_bytes()


def test_no_byte_gone_wrong_is_taken_for_a_number(written):
    path, _ = written
    sound, whole = path.read_bytes(), read_export(path.read_bytes(), path.name)
    for place in np.random.default_rng(3).choice(len(sound), 150, replace=False):
        content = bytearray(sound)
        content[place] ^= 0xFF
        path.write_bytes(content)
        try:
            found = read_export(path.read_bytes(), path.name)
        except PoolError:
            continue
        assert found.about == whole.about
        assert all(np.array_equal(found.totals[name], whole.totals[name]) for name in whole.totals)


@pytest.mark.parametrize("content", [b"", b"PAR1", b"\x00" * 500, b"not a file of columns"])
def test_another_file_is_refused_in_words(tmp_path, content):
    path = tmp_path / "other.parquet"
    path.write_bytes(content)
    with pytest.raises(PoolError, match="no export of this program"):
        read_export(path.read_bytes(), path.name)


def test_another_version_says_what_to_do(written):
    path, _ = written
    about = json.loads(pl.read_parquet_metadata(path)[METADATA]) | {"contract": 7}
    pl.read_parquet(path).write_parquet(path, metadata={METADATA: json.dumps(about)})
    with pytest.raises(PoolError, match="found version 7"):
        read_export(path.read_bytes(), path.name)


def test_a_row_that_lacks_is_named(written):
    path, made = written
    without = {name: values for name, values in made.totals.items() if name != "fed_t"}
    path.write_bytes(export_bytes(replace(made, totals=without)))
    with pytest.raises(PoolError, match="no row for fed_t"):
        read_export(path.read_bytes(), path.name)


def test_a_changed_number_is_seen(written):
    path, _ = written
    about = pl.read_parquet_metadata(path)[METADATA]
    rows = pl.read_parquet(path).with_columns(pl.col("draws").list.eval(pl.element() * 1.01))
    rows.write_parquet(path, metadata={METADATA: about})
    with pytest.raises(PoolError, match="damaged"):
        read_export(path.read_bytes(), path.name)
