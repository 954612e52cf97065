"""The law of who comes: exact where it is known."""

from __future__ import annotations

import pytest

from planner.survey.attendance import attendance_law


def test_days_that_are_alike_give_the_conjugate_posterior():
    # with the likeness set to nothing, a Beta(17, 3) and 83 of 100 make a Beta(100, 20)
    law = attendance_law([83], [100], 0.85)
    alone = law.likeness == 0.0
    mean = law.share[alone] @ law.weight[alone] / law.weight[alone].sum()
    assert mean == pytest.approx(100 / 120, abs=1e-6)
