"""Routes against every order there is, loads and hours kept, distances against published ones."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.field.routes import great_circle_km, plan_routes, read_distances
from planner.program import Delivery

START = {"start_latitude": 0.0, "start_longitude": 0.0}


def scattered(count, seed):
    rng = np.random.default_rng(seed)
    return great_circle_km(rng.uniform(0, 0.2, count + 1), rng.uniform(0, 0.2, count + 1))


def length(distance_km, order):
    path = [0, *order, 0]
    return float(distance_km[path[:-1], path[1:]].sum())


def shortest_with_loads(distance_km, bins, most):
    """Try every order, and in each every way to cut it into trips that fit."""
    best = np.inf
    for order in permutations(range(1, len(bins) + 1)):
        reach = [0.0] + [np.inf] * len(order)
        for end in range(1, len(order) + 1):
            load = 0
            for begin in range(end - 1, -1, -1):
                load += bins[order[begin] - 1]
                if load > most:
                    break
                trip = length(distance_km, order[begin:end])
                reach[end] = min(reach[end], reach[begin] + trip)
        best = min(best, reach[-1])
    return best


@pytest.mark.parametrize("seed", range(4))
def test_one_vehicle_finds_the_shortest_of_all_orders(seed):
    distance_km = scattered(7, seed)
    found = plan_routes(distance_km, [1] * 7, Delivery(**START, hours_most=24.0))
    best = min(length(distance_km, order) for order in permutations(range(1, 8)))
    # whole metres are searched: a leg is half a metre off at most
    assert found.total_km == pytest.approx(best, abs=0.008)


@pytest.mark.parametrize("seed", range(3))
def test_loads_that_need_several_trips_are_cut_as_short_as_can_be(seed):
    distance_km = scattered(6, 20 + seed)
    bins = [3, 1, 4, 2, 2, 3]
    settings = Delivery(**START, bins_per_vehicle=6, hours_most=24.0)
    found = plan_routes(distance_km, bins, settings)
    loads = found.stops.group_by("vehicle", "trip").sum()["bins_count"]
    assert loads.max() <= 6
    assert found.total_km == pytest.approx(shortest_with_loads(distance_km, bins, 6), abs=0.01)


def test_every_stop_is_served_once_and_legs_add_up_to_the_whole():
    distance_km = scattered(30, 5)
    settings = Delivery(**START, bins_per_vehicle=12, vehicles_count=3)
    found = plan_routes(distance_km, [1] * 30, settings)
    assert sorted(found.stops["stop"]) == list(range(30))
    whole = 0.0
    for _, trip in found.stops.group_by("vehicle", "trip"):
        assert sorted(trip["place_in_trip"]) == list(range(1, trip.height + 1))
        whole += length(distance_km, (trip.sort("place_in_trip")["stop"] + 1).to_list())
    assert found.total_km == pytest.approx(whole)


def test_times_are_those_of_speed_and_stops_and_hours_are_kept():
    distance_km = np.array([[0.0, 10.0, 30.0], [10.0, 0.0, 20.0], [30.0, 20.0, 0.0]])
    settings = Delivery(**START, speed_km_per_h=60.0, minutes_per_stop=6.0, hours_most=1.3)
    found = plan_routes(distance_km, [1, 1], settings)
    minutes = found.stops.sort("place_in_trip")["minutes_after_start"].to_list()
    # 10 km in 10 minutes, 6 minutes there, 20 km on; or the other way round
    assert minutes in ([10.0, 36.0], [30.0, 56.0])
    # 60 km and two stops take 72 minutes
    with pytest.raises(EstimateError, match="hours_most"):
        plan_routes(distance_km, [1, 1], settings.model_copy(update={"hours_most": 1.1}))


def test_the_same_problem_gives_the_same_plan():
    distance_km = scattered(25, 8)
    settings = Delivery(**START, bins_per_vehicle=10, vehicles_count=3)
    first, second = (plan_routes(distance_km, [1] * 25, settings) for _ in range(2))
    assert first.stops.equals(second.stops)


def test_great_circles_are_as_long_as_published():
    # Los Angeles 33°57'N 118°24'W to New York 40°38'N 73°47'W: 0.623585 radians (Williams,
    # Aviation Formulary, worked example; from memory)
    km = great_circle_km([33 + 57 / 60, 40 + 38 / 60], [-(118 + 24 / 60), -(73 + 47 / 60)])
    assert km[0, 1] / 6371.0088 == pytest.approx(0.623585, abs=1e-6)
    assert great_circle_km([10.0, 10.0], [20.0, 20.0])[0, 1] == 0.0
    # a tenth of a second of arc northwards, about three metres: digits are kept
    short = great_circle_km([50.0, 50.0 + 0.1 / 3600], [0.0, 0.0])[0, 1]
    assert short == pytest.approx(6371.0088 * np.radians(0.1 / 3600), rel=1e-6)


def test_a_vehicle_that_loads_again_counts_its_stops_anew():
    distance_km = great_circle_km([0.0, 0.1, 0.2, -0.1, -0.2], [0.0] * 5)
    found = plan_routes(distance_km, [6] * 4, Delivery(**START, bins_per_vehicle=12))
    stops = found.stops.sort("trip", "place_in_trip")
    assert stops["trip"].to_list() == [1, 1, 2, 2]
    assert stops["place_in_trip"].to_list() == [1, 2, 1, 2]


def test_a_way_measured_both_ways_counts_in_each_and_two_doors_of_one_house_are_no_way_apart(
    tmp_path,
):
    path = tmp_path / "ways.csv"
    ways = "start,A,5\nA,start,7\nstart,B,6\nA,B,0\n"
    path.write_text(f"from_stop,to_stop,km\n{ways}", encoding="utf-8")
    found = read_distances(path, ["A", "B"])
    assert found.tolist() == [[0.0, 5.0, 6.0], [7.0, 0.0, 0.0], [6.0, 0.0, 0.0]]
