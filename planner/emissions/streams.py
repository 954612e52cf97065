"""Methane of many streams of waste at once, by month: first-order decay as a recursion.

Decay is exponential, so what a deposit gives is the same series again and again: waste past
the age at which wells begin to work gives exp(-k a) times what came in a ages before. The
series of all ages is therefore found once, by years of twelve months within and between,
and capture by age, delay and oxidation are a few shifted copies of it, added up over streams
by matrix products.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

BYTES_AT_ONCE = 1_000_000
"""Waste is worked through in pieces about as large as a core's cache."""

DRAWS_AT_ONCE = 16
"""Draws whose factors are prepared together."""

LARGEST_EXPONENT = 300.0
"""exp of it is far from the largest number there is; longer spans are cut into parts."""

_M = MONTHS_PER_YEAR


@dataclass(frozen=True)
class Streams:
    """Decay of several streams of waste, as of several kinds or several landfills.

    Parameters
    ----------
    rate_per_year
        First-order rates k, shape (draws, streams) or (streams,) [1/year].
    potential_kg_per_kg
        Methane that a kilogram can give, same shapes or scalar [kg CH4 per kg].
    delay_months
        From the start of the month of deposit to the start of decay, same [months].
    oxidised_share
        Share of the methane that passes the wells and is oxidised in the cover, same.
    capture_from_age_years
        Whole years of age at which the captured share steps, rising from 0, shape (steps,).
    captured_share
        Share captured from each age on, shape (steps,), (streams, steps) or
        (draws, streams, steps).
    """

    rate_per_year: ArrayLike
    potential_kg_per_kg: ArrayLike = 1.0
    delay_months: ArrayLike = 0.0
    oxidised_share: ArrayLike = 0.0
    capture_from_age_years: ArrayLike = (0,)
    captured_share: ArrayLike = (0.0,)


def streams_methane_kg(waste_kg: Floats, streams: Streams, *, workers_count: int = 1) -> Floats:
    """Methane to the air by month from monthly deposits of several streams together.

    The same as `planner.emissions.monthly_methane_kg` of each stream, summed, but fast
    enough for a hundred years of fifty streams and ten thousand draws.

    Parameters
    ----------
    waste_kg
        Wet waste deposited, each month's on its first day, shape (draws, streams, months);
        one draw may stand for all [kg].
    streams
        Rates, potentials, delays, capture and oxidation.
    workers_count
        Threads among which the draws are shared out.

    Returns
    -------
    ndarray
        Shape (draws, months) [kg CH4].

    Raises
    ------
    ValueError
        The shapes do not agree, or ages of capture are not whole years that rise from 0.

    Notes
    -----
    With q = exp(-k/12) and z(t) = q z(t-1) + x(t), a deposit x without delay or capture
    gives (1-q) z. A delay of f + p months (f whole) makes of it
    exp(kp/12) (1-q) z(t-f) - (exp(kp/12) - 1) x(t-f); what of that is past age a is
    exp(kd/12) q^a (1-q) z(t-a), d the delay.

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.1 to 3.6; cdm_tool04, monthly form.

    Examples
    --------
    >>> waste = np.array([[[12.0, 0.0, 0.0]]])
    >>> streams_methane_kg(waste, Streams([0.12])).round(4).tolist()
    [[0.1194, 0.1182, 0.117]]
    """
    waste = np.ascontiguousarray(waste_kg, dtype=np.float64)
    factors = _factors(waste, streams)
    methane = np.empty((factors.rate.shape[0], waste.shape[2]))
    # draws of like delays go together: each whole month of delay costs a pass of its own
    order = np.argsort(np.floor(factors.delay).max(axis=1), kind="stable")
    parts = np.array_split(order, workers_count)
    with ThreadPoolExecutor(workers_count) as pool:
        for _ in pool.map(lambda own: _fill(methane, waste, factors, own), parts):
            pass
    return methane


def _fill(methane: Floats, waste: Floats, factors: _Factors, order: NDArray[np.int64]) -> None:
    """Work through some draws, so many at once that factors cost little beside the waste."""
    for start in range(0, order.size, DRAWS_AT_ONCE):
        own = order[start : start + DRAWS_AT_ONCE]
        methane[own] = _methane(waste, own if waste.shape[0] > 1 else own * 0, factors.taken(own))


@dataclass(frozen=True)
class _Factors:
    """Factors of each draw and stream, rates by month; `rises` of the captured share by step."""

    rate: Floats
    delay: Floats
    weight: Floats
    rises: Floats
    ages: tuple[int, ...]

    def taken(self, own: NDArray[np.int64]) -> _Factors:
        return _Factors(
            self.rate[own], self.delay[own], self.weight[own], self.rises[own], self.ages
        )


@dataclass(frozen=True)
class _Weights:
    """Weights of the shifted copies of a series, each (draws, shifts, streams).

    `delayed` weighs z at each whole delay of `delays`, `dropped` takes the deposit itself
    off there, `caught` takes z off at each of `ages`.
    """

    delays: tuple[int, ...]
    delayed: Floats
    dropped: Floats
    ages: tuple[int, ...]
    caught: Floats


def _factors(waste: Floats, streams: Streams) -> _Factors:
    rate, potential, delay, oxidised = (
        np.asarray(factor, dtype=np.float64)
        for factor in (
            streams.rate_per_year,
            streams.potential_kg_per_kg,
            streams.delay_months,
            streams.oxidised_share,
        )
    )
    captured = np.asarray(streams.captured_share, dtype=np.float64)
    ages = _whole_months(streams.capture_from_age_years, captured)
    shapes = (rate.shape, potential.shape, delay.shape, oxidised.shape, captured.shape[:-1])
    shape = np.broadcast_shapes(waste.shape[:2], *shapes)
    rises = np.diff(captured, axis=-1, prepend=0.0)
    return _Factors(
        np.broadcast_to(rate / _M, shape),
        np.broadcast_to(delay, shape),
        np.broadcast_to(potential * (1.0 - oxidised), shape),
        np.broadcast_to(rises, (*shape, len(ages))),
        ages,
    )


def _whole_months(from_age_years: ArrayLike, captured: Floats) -> tuple[int, ...]:
    ages = np.asarray(from_age_years, dtype=np.float64)
    if ages.shape != captured.shape[-1:] or ages[0] != 0.0 or (np.diff(ages) <= 0.0).any():
        message = (
            f"capture_from_age_years: found {ages.tolist()}, expected ages that rise from 0, "
            f"one for each of {captured.shape[-1]} shares"
        )
        raise ValueError(message)
    if (ages != np.round(ages)).any():
        message = f"capture_from_age_years: found {ages.tolist()}, expected whole years"
        raise ValueError(message)
    return tuple((ages * _M).astype(int).tolist())


def _weights(factors: _Factors) -> _Weights:
    rate, delay, weight = factors.rate, factors.delay, factors.weight
    ages = np.asarray(factors.ages)
    whole = np.floor(delay).astype(np.int64)
    growth = np.exp(rate * (delay - whole))
    decayed = -np.expm1(-rate)
    # waste that starts to decay when wells already work there is caught from the first
    early = ages <= whole[..., np.newaxis]
    free = weight * (1.0 - (factors.rises * early).sum(axis=-1))
    delays = tuple(np.unique(whole).tolist())
    at_delay = np.stack([whole == shift for shift in delays], axis=1)
    later = np.exp(rate[..., np.newaxis] * (delay[..., np.newaxis] - ages))
    caught = np.where(early, 0.0, (weight * decayed)[..., np.newaxis] * factors.rises * later)
    steps = [step for step in range(len(ages)) if caught[..., step].any()]
    return _Weights(
        delays,
        at_delay * (free * growth * decayed)[:, np.newaxis],
        at_delay * (free * (growth - 1.0))[:, np.newaxis],
        tuple(factors.ages[step] for step in steps),
        np.ascontiguousarray(np.moveaxis(caught[..., steps], -1, 1)),
    )


def _methane(waste: Floats, own: NDArray[np.int64], factors: _Factors) -> Floats:
    """Methane of some draws of the waste, shape (draws, months)."""
    count, months = waste.shape[1:]
    draws, years = own.size, -(-months // _M)
    weights = _weights(factors)
    fading = np.exp(-factors.rate[..., np.newaxis] * np.arange(_M + 1))
    shifted = np.concatenate([weights.delayed, weights.caught], axis=1)
    series, left = _within_years(waste, own, _within(fading), shifted, weights.dropped)
    # what a year begins with fades through its months
    through = shifted[:, :, np.newaxis] * np.moveaxis(fading[..., 1:], -1, 1)[:, np.newaxis]
    rest = through.reshape(draws, -1, count) @ _begun(left, factors.rate * _M)
    rest = np.moveaxis(rest.reshape(*shifted.shape[:2], _M, years), 2, 3)
    series += rest.reshape(series.shape)
    return _added(series, weights)[:, :months]


def _within_years(
    waste: Floats, own: NDArray[np.int64], within: Floats, shifted: Floats, dropped: Floats
) -> tuple[Floats, Floats]:
    """Weighted sums over streams of what each year's waste gives in that year, and its end.

    Returns (draws, shifts, months) and (draws, streams, years).
    """
    count, months = waste.shape[1:]
    draws, years = own.size, -(-months // _M)
    at_once = max(1, min(draws, BYTES_AT_ONCE // (8 * max(1, count * years * _M))))
    deposits, states = np.zeros((2, at_once, count, years * _M))
    series = np.empty((draws, shifted.shape[1], years * _M))
    left = np.empty((draws, count, years))
    for start in range(0, draws, at_once):
        chosen = slice(start, start + at_once)
        part, state = (room[: own[chosen].size] for room in (deposits, states))
        part[..., :months] = waste[own[chosen]]
        by_year = state.reshape(*state.shape[:2], years, _M)
        np.matmul(part.reshape(by_year.shape), within[chosen], out=by_year)
        np.matmul(shifted[chosen], state, out=series[chosen])
        series[chosen, : dropped.shape[1]] -= dropped[chosen] @ part
        left[chosen] = by_year[..., -1]
    return series, left


def _within(fading: Floats) -> Floats:
    """Decay from a month of a year to a later one of the same, (draws, streams, 12, 12)."""
    padded = np.zeros((*fading.shape[:-1], 2 * _M - 1))
    padded[..., _M - 1 :] = fading[..., :_M]
    return np.ascontiguousarray(sliding_window_view(padded, _M, axis=-1)[..., ::-1, :])


def _begun(added: Floats, rate_per_year: Floats) -> Floats:
    """State with which each year begins, from what each leaves, (draws, streams, years)."""
    years = added.shape[-1]
    part = max(1, int(LARGEST_EXPONENT / max(float(rate_per_year.max()), 1.0)))
    rate = rate_per_year[..., np.newaxis]
    state = np.zeros((*added.shape[:-1], years + 1))
    for start in range(0, years, part):
        stop = min(start + part, years)
        growth = np.exp(rate * np.arange(1, stop - start + 1))
        sums = np.cumsum(added[..., start:stop] * growth, axis=-1)
        state[..., start + 1 : stop + 1] = (sums + state[..., start, np.newaxis]) / growth
    return state[..., :-1]


def _added(series: Floats, weights: _Weights) -> Floats:
    """Add the copies up, each as many months later as it is shifted."""
    months = series.shape[-1]
    total = np.zeros((series.shape[0], months))
    shifts = (*weights.delays, *weights.ages)
    signs = np.repeat([1.0, -1.0], [len(weights.delays), len(weights.ages)])
    for place, (shift, sign) in enumerate(zip(shifts, signs, strict=True)):
        if shift < months:
            total[:, shift:] += sign * series[:, place, : months - shift]
    return np.asarray(np.maximum(total, 0.0))
