"""Totals are sums; errors that councils share do not average out, others do."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from planner.figures import interval
from planner.messages import write_papers_in
from planner.pooling.contract import TOTALS
from planner.pooling.document import build_state_document
from planner.pooling.figures import register_pool, slugs
from planner.pooling.pool import PoolRequest, pool
from tests.unit.pooling.councils import about, draws, export

COUNCILS = 16


def width(values):
    _, low, high = interval(values)
    return high - low


def of_totals(make):
    from planner.pooling.contract import Export

    return [
        Export(about(f"Council {n} (invented)"), {name: make(n) for name in TOTALS}, {})
        for n in range(COUNCILS)
    ]


def test_a_total_is_the_sum_of_its_councils():
    exports = [export(f"Council {n}", size=n + 1.0, seed=n) for n in range(COUNCILS)]
    made = pool(exports, PoolRequest("All"))
    for name in TOTALS:
        assert made.totals[name] == pytest.approx(sum(one.totals[name] for one in exports))
    register = register_pool(made)
    parts = sum(figure.value for figure in register.parts("fed_t").values())
    assert register["fed_t"].value == pytest.approx(parts)


def test_errors_of_surveys_grow_with_the_root_and_shared_ones_in_full():
    """Standard deviations of independent sums add in quadrature, of tied ones linearly."""
    rngs = [np.random.default_rng(n) for n in range(COUNCILS)]
    apart = pool(of_totals(lambda n: draws(100.0, 10.0, rngs[n])), PoolRequest("Apart"))
    one = draws(100.0, 10.0, np.random.default_rng(99))
    tied = pool(of_totals(lambda n: one), PoolRequest("Tied"))
    expected = width(one)
    assert width(apart.totals["fed_t"]) == pytest.approx(expected * COUNCILS**0.5, rel=0.1)
    assert width(tied.totals["fed_t"]) == pytest.approx(expected * COUNCILS, rel=1e-9)
    ratio = register_pool(tied)["shared_error_ratio[fed_t]"].value
    assert ratio == pytest.approx(COUNCILS**0.5, rel=0.1)


def test_the_order_of_files_changes_nothing():
    exports = [export(f"Council {n}", seed=n) for n in range(5)]
    first = register_pool(pool(exports, PoolRequest("All"))).to_json()
    assert register_pool(pool(exports[::-1], PoolRequest("All"))).to_json() == first


def test_councils_of_like_names_keep_apart():
    made = pool([export("St. Ives"), export("St Ives"), export("Ünser")], PoolRequest("All"))
    assert len(set(slugs(made))) == 3


def test_what_was_counted_has_no_interval():
    register = register_pool(pool([export(), export("Brackwater")], PoolRequest("All")))
    assert register["bins_given"].value == 800.0
    assert register["bins_given"].low is None


def test_a_state_report_says_the_same_figures_in_every_language():
    """Ids, values and units are of no language; every sentence of English words is in another."""
    exports = [export(f"Council {n}", size=n + 1.0, seed=n) for n in range(5)]
    told = {}
    for language in ("en", "fr", "es"):
        made = pool(exports, PoolRequest("All", language=language))
        write_papers_in(made.country_locale, language)
        register = register_pool(made)
        document = build_state_document(made, register, [], dt.datetime(2026, 1, 1))
        words = {one.heading for one in document.sections} | {document.title, document.subtitle}
        words |= {words for figure in register for words in (figure.label, figure.method)}
        told[language] = {f.id: (f.value, f.low, f.high, f.unit) for f in register}, words
    for language in ("fr", "es"):
        assert told[language][0] == told["en"][0]
        assert told[language][1] & told["en"][1] == set()
