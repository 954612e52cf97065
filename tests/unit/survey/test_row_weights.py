"""Weights that are never written out give what the matrix written out would give."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner.errors import StoreError
from planner.survey import replicates, row_weights
from planner.survey.replicates import KeptWeights
from planner.survey.row_weights import RowWeights, VariedWeights, summed_by

DRAWS, HOUSEHOLDS = 50, 300


@pytest.fixture(params=[1, 7, 128])
def at_once(request, monkeypatch):
    monkeypatch.setattr(row_weights, "NUMBERS_AT_ONCE", request.param * 20)


def kept_weights(matrix, *, is_in_file):
    """Keep drawn weights as a round does, 20 replicates at a time."""
    kept = KeptWeights(is_in_file=is_in_file)
    for start in range(0, DRAWS, 20):
        kept.add(matrix[1 + start : 1 + start + 20].T)
    return kept.done()


def two_rounds(rng, *, is_in_file):
    """Rows of two rounds in any order, some of them of bins that came back; and the matrix."""
    parts, written = [], []
    for known, back in ((HOUSEHOLDS, 5), (HOUSEHOLDS // 2, 0)):
        matrix = rng.lognormal(3.0, 1.0, (1 + DRAWS, known))
        chosen = rng.integers(0, known + back, 200)
        kept = RowWeights.of(matrix[0], kept_weights(matrix, is_in_file=is_in_file), back)
        parts.append(kept[:, chosen])
        written.append(np.hstack([matrix, np.ones((1 + DRAWS, back))])[:, chosen])
    times = rng.integers(1, 4, 400).astype(float)
    return RowWeights.joined(parts) * times, np.hstack(written) * times


@pytest.mark.usefixtures("at_once")
@pytest.mark.parametrize("is_in_file", [False, True])
@pytest.mark.parametrize("width", [1, 40, 64])
def test_sums_are_those_of_the_matrix_to_single_precision_and_the_first_row_exact(
    monkeypatch, is_in_file, width
):
    monkeypatch.setattr(replicates, "LEAST_WIDTH", width)
    rng = np.random.default_rng(1)
    kept, written = two_rounds(rng, is_in_file=is_in_file)
    values, group = (
        rng.normal(size=(400, 3)) * (rng.random((400, 1)) < 0.8),
        rng.integers(0, 9, 400),
    )
    size = np.abs(written) @ np.abs(values)
    assert (np.abs(kept @ values - written @ values) < 1e-7 * size).all()
    assert (kept @ values)[0] == pytest.approx(written[0] @ values, rel=1e-13)
    assert_allclose(kept.sum(axis=1), written.sum(axis=1), rtol=1e-7)
    assert_allclose(kept.summed_by(group, 10), summed_by(written, group, 10), rtol=1e-7)
    assert kept.summed_by(group, 10)[0] == pytest.approx(np.bincount(group, written[0], 10))
    chosen = rng.random(400) < 0.5
    assert_allclose(kept[:, chosen], written[:, chosen], rtol=1e-7)
    for count in (1, 20, 21, 22, 51):
        assert_allclose(kept[:count], written[:count], rtol=1e-7)


@pytest.mark.skipif(sys.platform != "linux", reason="a device that is always full is Linux's")
def test_weights_for_which_the_disk_has_no_room_end_in_a_sentence(monkeypatch):
    kept = KeptWeights(is_in_file=True)
    with Path("/dev/full").open("wb", buffering=0) as full:
        monkeypatch.setattr(replicates.tempfile, "TemporaryFile", lambda: full)
        with pytest.raises(StoreError, match="the disk is full"):
            kept.add(np.ones((10, replicates.LEAST_WIDTH)))


def test_single_precision_moves_a_total_by_far_less_than_a_draw_does():
    """Rounding is of independent signs: of 10,000 weights it moves a sum by some 1e-9."""
    rng = np.random.default_rng(2)
    matrix = rng.lognormal(3.0, 1.0, (21, 10_000))
    kept = RowWeights.of(matrix[0], matrix[1:].T.astype(np.float32))
    fed = rng.gamma(2.0, 1.0, 10_000)
    off = (kept @ fed) / (matrix @ fed) - 1.0
    assert off[0] == pytest.approx(0.0, abs=1e-14)
    assert np.abs(off).max() < 1e-8


@pytest.mark.parametrize("most_bytes", [8 * 40, 8 * 2**20])
def test_what_varies_is_multiplied_by_the_generator_s_own_exponentials(monkeypatch, most_bytes):
    monkeypatch.setattr(row_weights, "MOST_BYTES", most_bytes)
    rng = np.random.default_rng(3)
    matrix = rng.lognormal(size=(1 + DRAWS, 60))
    varies, group = np.arange(60) % 3 == 0, rng.integers(0, 5, 60)
    matrix[1:, varies] = matrix[0, varies]
    one, other = np.random.default_rng(4), np.random.default_rng(4)
    varied = VariedWeights.draw(matrix, varies, one)
    written = matrix.copy()
    written[1:, varies] *= other.exponential(size=(DRAWS, int(varies.sum())))
    assert varied.summed_by(group, 5) == pytest.approx(summed_by(written, group, 5), rel=1e-12)
    assert varied[:7].summed_by(group, 5) == pytest.approx(summed_by(written[:7], group, 5))
    assert varied[0] == pytest.approx(matrix[0])
    assert one.random() == other.random()
