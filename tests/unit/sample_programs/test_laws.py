"""Laws that every simulated town keeps, whatever the seed."""

import ast
import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

import planner
from planner.program import label_of_date
from planner.tables import PRIOR_SHARES, TABLES
from sample_programs.generator import TOWNS, Simulation, records, simulate, true_figures, varied
from sample_programs.generator.records import records_with_contacts
from sample_programs.generator.sampling import allocate, frame_of, plan_waves

GENERATOR = Path(__file__).parents[3] / "sample_programs" / "generator"


@pytest.fixture(scope="module", params=[*TOWNS, "like_thornquay"])
def simulation(request):
    if request.param in TOWNS:
        town = TOWNS[request.param]
        return simulate(town, town.seed)
    return simulate(varied(TOWNS["thornquay"], 11), 11)


@pytest.fixture(scope="module")
def tables(simulation):
    return records_with_contacts(simulation)


@pytest.fixture(scope="module")
def truth(simulation):
    return true_figures(simulation)


def year_of(simulation: Simulation, column: pl.Series) -> list[str]:
    first_month = simulation.town.council.first_month
    return [label_of_date(day, first_month) for day in column.to_list()]


def test_records_keep_their_contracts(tables):
    for name, frame in tables.items():
        assert TABLES[name].is_valid(frame), name


def test_references_are_found(tables):
    pairs = [
        ("handovers", "household_id", "households"),
        ("givebacks", "handover_id", "handovers"),
        ("cases", "handover_id", "handovers"),
        ("cases", "cost_id", "costs"),
        ("calls", "household_id", "households"),
        ("attendances", "household_id", "households"),
        ("site_bins", "site_id", "sites"),
        ("samples", "household_id", "households"),
        ("samples", "wave_id", "waves"),
        ("weighings", "household_id", "households"),
        ("audits", "area_id", "areas"),
        ("registrations", "household_id", "households"),
        ("bookings", "household_id", "registrations"),
        ("bookings", "event_id", "events"),
    ]
    for table, column, parent in pairs:
        named = tables[table].drop_nulls(column)
        assert named.join(tables[parent], on=column, how="anti").is_empty(), table


def test_places_balance_with_the_register_and_with_the_bins_given(tables):
    bookings, handed = tables["bookings"], tables["handovers"]
    # who missed a day may have a bin brought later: one place that still counts a household
    assert bookings.filter(pl.col("state") != "absent")["household_id"].is_unique().all()
    assert bookings.select("household_id", "state").is_unique().all()
    came = bookings.filter(state="came").select("household_id", "event_id").sort(pl.all())
    at_days = handed.drop_nulls("event_id").select("household_id", "event_id").sort(pl.all())
    assert came.equals(at_days)
    held = bookings.group_by("event_id").len().join(tables["events"], on="event_id")
    assert (held["len"] <= held["places_count"]).all()
    absent = bookings.filter(state="absent")
    assert absent.join(handed, on="household_id", how="semi").is_empty()


def test_retention_never_rises(truth):
    shares = truth.retention["retention_share"].to_numpy()
    assert np.all(np.diff(shares) <= 0)
    assert 0.0 < shares[-1] < shares[0] < 1.0


def test_kept_out_is_part_of_what_was_fed(simulation, truth):
    landfilled = simulation.town.council.landfilled_share
    for frame in (truth.years, truth.area_years):
        most = frame["fed_t"].to_numpy() * landfilled
        assert np.all(frame["kept_out_of_landfill_t"].to_numpy() <= most + 1e-12)


def test_areas_sum_to_the_town(truth):
    columns = ["bins_given", "bins_in_use", "fed_t", "kept_out_of_landfill_t"]
    summed = truth.area_years.group_by("reporting_year", maintain_order=True).agg(
        pl.col(columns).sum()
    )
    for column in columns:
        assert summed[column].to_list() == pytest.approx(truth.years[column].to_list())


def test_months_and_weeks_add_up_to_the_years(simulation, truth):
    months, weeks = simulation.bin_months(), simulation.bin_weeks()
    assert months["fed_kg"].sum() == pytest.approx(weeks["fed_kg"].sum())
    assert months["used_days"].sum() == pytest.approx(weeks["used_days"].sum())
    by_month = months.group_by("month_start").agg(pl.col("fed_kg", "kept_out_kg").sum())
    labelled = by_month.with_columns(year=pl.Series(year_of(simulation, by_month["month_start"])))
    by_year = labelled.group_by("year").agg(pl.col("fed_kg", "kept_out_kg").sum())
    joined = truth.years.join(by_year, left_on="reporting_year", right_on="year")
    assert joined.height == truth.years.height
    assert (joined["fed_t"] * 1000).to_list() == pytest.approx(joined["fed_kg"].to_list())
    kept_kg = joined["kept_out_of_landfill_t"] * 1000
    assert kept_kg.to_list() == pytest.approx(joined["kept_out_kg"].to_list())


def test_bins_given_are_the_hand_overs_of_the_year(simulation, tables, truth):
    labels = pl.Series(year_of(simulation, tables["handovers"]["handover_date"]))
    counted = dict(labels.value_counts().iter_rows())
    assert counted == dict(truth.years.select("reporting_year", "bins_given").iter_rows())


def test_a_household_in_use_counts_once_whatever_it_holds_and_its_scraps_all_count(simulation):
    """A second bin given to everyone, fed as the first, doubles the scraps alone."""
    bins = simulation.bins
    twice = replace(
        simulation,
        bins=pl.concat([bins, bins]),
        fed_kg=np.tile(simulation.fed_kg, (2, 1)),
        used_days=np.tile(simulation.used_days, (2, 1)),
    )
    once, both = true_figures(simulation), true_figures(twice)
    assert both.years["bins_in_use"].to_list() == once.years["bins_in_use"].to_list()
    assert both.retention.equals(once.retention)
    for name in ("bins_given", "fed_t", "feed_kg_per_in_use_bin_week"):
        assert both.years[name].to_list() == pytest.approx((2 * once.years[name]).to_list())
    held = set(bins["household_index"])
    assert once.years["bins_in_use"][-1] <= len(held)


def test_values_lie_where_home_bins_lie(truth):
    # Planning ranges for home worm bins: common practice, no source.
    assert truth.years["feed_kg_per_in_use_bin_week"].is_between(0.5, 2.1).all()
    at_a_year = truth.retention.filter(pl.col("age_months") == 12)["retention_share"][0]
    assert 0.5 < at_a_year < 0.85


def test_true_prior_shares_sum_to_one(simulation):
    shares = simulation.households.select(PRIOR_SHARES).to_numpy()
    assert np.all(shares >= 0.0)
    assert shares.sum(axis=1) == pytest.approx(1.0)


def test_links_of_feed_with_routes_and_use_are_mild(simulation):
    of_bin = simulation.households[simulation.bins["household_index"]]
    score = of_bin["feed_score"].to_numpy()
    share = np.corrcoef(score, of_bin[PRIOR_SHARES[0]].to_numpy())[0, 1]
    kept = np.corrcoef(score, simulation.bins["use_days"].to_numpy() > 365)[0, 1]
    assert abs(share) < 0.3
    assert abs(kept) < 0.3


def test_hand_over_days_serve_no_more_than_their_places(tables):
    served = tables["handovers"].drop_nulls("event_id").group_by("event_id").len("served_count")
    joined = served.join(tables["events"], on="event_id")
    assert joined.height == served.height
    assert (joined["served_count"] <= joined["places_count"]).all()


def test_most_households_hold_one_bin_and_some_never_came(tables):
    held = tables["handovers"].group_by("household_id").len()
    assert (held["len"] == 1).mean() > 0.98
    assert held.height < tables["households"].height


def test_weights_sum_to_the_households_from_which_a_round_is_drawn(simulation, tables):
    for wave in plan_waves(simulation):
        drawn = tables["samples"].filter(pl.col("wave_id") == wave.wave_id)
        frame = frame_of(simulation, wave)
        assert (1 / drawn["inclusion_probability"]).sum() == pytest.approx(len(frame), rel=1e-6)
        asked = simulation.households[frame].select(
            stratum=pl.concat_str(list(simulation.town.survey.stratify_by), separator=" ")
        )
        sizes = asked.group_by("stratum").len("households_count")
        by_stratum = drawn.group_by("stratum").agg(
            drawn_count=pl.len(), probability=pl.col("inclusion_probability").first()
        )
        joined = by_stratum.join(sizes, on="stratum", how="full")
        expected = joined["drawn_count"] / joined["households_count"]
        assert joined["probability"].to_list() == pytest.approx(expected.to_list(), abs=1e-8)


def test_follow_ups_ask_those_who_were_given_a_bin_before(tables):
    follow_ups = tables["waves"].filter(pl.col("wave_kind") == "followup")
    first = tables["handovers"].group_by("household_id").agg(pl.col("handover_date").min())
    asked = (
        tables["samples"].join(follow_ups, on="wave_id").join(first, on="household_id", how="left")
    )
    assert asked.height > 0
    assert (asked["handover_date"] < asked["opens_date"]).all()
    assert asked["handover_date"].null_count() == 0


def test_the_last_round_is_near_the_last_year_s_end(simulation, tables):
    end = simulation.calendar.date(simulation.calendar.end_day)
    last = tables["waves"].filter(pl.col("wave_kind") == "followup")["closes_date"].max()
    assert dt.timedelta(0) < end - last < dt.timedelta(days=62)


def test_answers_come_from_the_sample_while_the_round_is_open(tables):
    answers = tables["answers"].join(tables["waves"], on="wave_id")
    assert answers["answer_date"].is_between(answers["opens_date"], answers["closes_date"]).all()
    assert answers.join(tables["samples"], on=["wave_id", "household_id"], how="anti").is_empty()
    response = tables["answers"].height / tables["samples"].height
    assert 0.35 < response < 0.85


def test_feed_is_told_only_by_those_who_use_their_bin(tables):
    fed = pl.any_horizontal(pl.col("fed_kg_last_week", "fed_litres_last_week").is_not_null())
    told = tables["answers"].filter(fed)
    assert told["is_in_use"].all()
    stopped = tables["answers"].drop_nulls("stopped_date")
    assert not stopped["is_in_use"].any()
    assert (stopped["stopped_date"] <= stopped["answer_date"]).all()


def test_bins_came_back_on_or_after_the_day_they_were_given(simulation, tables):
    back = tables["givebacks"].join(simulation.bins, on="handover_id")
    assert (back["giveback_date"] >= back["handover_date"]).all()
    replaced = tables["cases"].drop_nulls("replacement_handover_id")
    # a bin that was replaced came back on the day of the other, whatever its worms did
    back = back.join(replaced, on="handover_id", how="anti")
    days = (back["giveback_date"] - back["handover_date"]).dt.total_days()
    assert days.to_list() == back["use_days"].floor().cast(pl.Int64).to_list()


def test_weighed_weeks_tell_the_true_feed(simulation, tables):
    weighings = tables["weighings"]
    place = {name: n for n, name in enumerate(simulation.households["household_id"])}
    household = np.array([place[name] for name in weighings["household_id"]])
    first = (weighings["week_start_date"] - simulation.calendar.origin).dt.total_days().to_numpy()
    true_kg = simulation.fed_between(household, first, first + 7)
    assert weighings["fed_kg"].sum() == pytest.approx(true_kg.sum(), rel=0.02)


def test_households_overstate_by_the_ratio_that_is_set(simulation, tables):
    homes = simulation.households.select("household_id", "caddy_density_kg_per_l").with_row_index()
    told = tables["answers"].filter("is_in_use").join(homes, on="household_id")
    litres_kg = told["fed_litres_last_week"] * told["caddy_density_kg_per_l"]
    told_kg = told["fed_kg_last_week"].fill_null(0.0) + litres_kg.fill_null(0.0)
    day = (told["answer_date"] - simulation.calendar.origin).dt.total_days().to_numpy()
    true_kg = simulation.fed_between(told["index"].to_numpy(), day - 7, day)
    expected = simulation.town.survey.over_report * true_kg
    # Four standard errors of the total told, from the spread of its errors.
    error = 4 * np.std(told_kg.to_numpy() - expected) * np.sqrt(told.height)
    assert told_kg.sum() == pytest.approx(expected.sum(), abs=error)
    assert error < 0.15 * expected.sum()


def test_one_seed_one_town_and_another_seed_another():
    town = TOWNS["valdorra"]
    again, other = simulate(town, 5), simulate(town, 6)
    assert np.array_equal(simulate(town, 5).fed_kg, again.fed_kg)
    assert records(again)["answers"].equals(records(simulate(town, 5))["answers"])
    assert not again.households.equals(other.households)


def test_answers_depend_on_use_only_where_that_is_set():
    town = TOWNS["thornquay"]
    plain = _in_use_shares(town)
    leaning = _in_use_shares(replace(town, survey=replace(town.survey, response_use_link=2.0)))
    # Standard error of a share near 0.75 among some 1,500 answers: 0.011.
    assert plain["answered"] == pytest.approx(plain["asked"], abs=4 * 0.011)
    assert leaning["answered"] > leaning["asked"] + 4 * 0.011


def _in_use_shares(town):
    simulation = simulate(town, 21)
    tables = records(simulation)
    stopped = pl.Series(np.floor(simulation.household_stopped_day()).clip(-1, 30_000))
    use = simulation.households.select("household_id", stopped_day=stopped)
    opens = {wave.wave_id: wave.opens_day for wave in plan_waves(simulation)
             if wave.wave_kind == "followup"}  # fmt: skip
    shares = {}
    for name, table in (("asked", "samples"), ("answered", "answers")):
        rows = tables[table].filter(pl.col("wave_id").is_in(list(opens)))
        rows = rows.join(use, on="household_id")
        opened = rows["wave_id"].replace_strict(opens)
        shares[name] = (rows["stopped_day"] > opened).mean()
    return shares


def test_surveys_ask_only_those_that_may_be_contacted(tables):
    silent = tables["households"].filter(~pl.col("may_contact"))
    # set to 93% of households, of which there are 390 at least: four standard errors
    assert silent.height / tables["households"].height == pytest.approx(0.07, abs=0.052)
    assert tables["samples"].join(silent, on="household_id", how="semi").is_empty()
    assert tables["answers"].join(silent, on="household_id", how="semi").is_empty()


def test_use_does_not_depend_on_consent_unless_that_is_set():
    town = TOWNS["thornquay"]
    plain = _kept_a_year(simulate(town, 4))
    linked = replace(town, stopping=replace(town.stopping, no_contact_hazard=3.0))
    # Standard error of a share near 0.7 among 210 bins of those not to be contacted: 0.032.
    assert plain[False] == pytest.approx(plain[True], abs=4 * 0.032)
    assert _kept_a_year(simulate(linked, 4))[False] < plain[False] - 4 * 0.032
    assert _kept_a_year(simulate(linked, 4))[True] == plain[True]


def _kept_a_year(simulation):
    may = simulation.households["may_contact"].gather(simulation.bins["household_index"])
    kept = simulation.bins.select(may=may, kept=pl.col("use_days") > 365)
    return {answer: kept.filter(pl.col("may") == answer)["kept"].mean() for answer in (True, False)}


def test_whole_streets_are_drawn_and_weigh_what_they_stand_for():
    simulation = simulate(_surveyed("port_marrow", drawn="streets"), 8)
    tables = records(simulation)
    for wave in (w for w in plan_waves(simulation) if w.wave_kind == "followup"):
        drawn = tables["samples"].filter(wave_id=wave.wave_id)
        frame = simulation.households[frame_of(simulation, wave)].select(
            "household_id", "area_id", "street_index"
        )
        streets = drawn.join(frame, on="household_id").unique("street_index")
        asked = frame.join(streets, on="street_index", how="semi")
        assert set(asked["household_id"]) == set(drawn["household_id"])
        assert drawn["cluster_id"].n_unique() == streets.height
        shares = streets.group_by("area_id").agg(pl.len(), pl.col("inclusion_probability").first())
        of_area = frame.group_by("area_id").agg(all=pl.col("street_index").n_unique())
        joined = shares.join(of_area, on="area_id")
        expected = joined["len"] / joined["all"]
        assert joined["inclusion_probability"].to_list() == pytest.approx(
            expected.to_list(), abs=1e-8
        )


def test_neighbours_feed_alike_only_where_that_is_set():
    town = TOWNS["thornquay"]
    alike = replace(town, streets=replace(town.streets, feed_correlation=0.4))
    # Standard error of a correlation within some 280 streets of 12: about 0.013.
    assert _neighbours_correlation(simulate(town, 2)) == pytest.approx(0.0, abs=4 * 0.013)
    assert _neighbours_correlation(simulate(alike, 2)) == pytest.approx(0.4, abs=0.1)


def _neighbours_correlation(simulation):
    """Correlation within streets, from one-way analysis of variance."""
    homes = simulation.households.select("street_index", "feed_score")
    streets = homes.group_by("street_index").agg(
        pl.len(), mean=pl.col("feed_score").mean(), within=pl.col("feed_score").var()
    ).filter(pl.col("len") > 1)  # fmt: skip
    within = (streets["within"] * (streets["len"] - 1)).sum() / (streets["len"] - 1).sum()
    between = streets["mean"].var() - (within / streets["len"]).mean()
    return between / (between + within)


def test_a_round_that_asks_everyone_draws_nobody():
    simulation = simulate(_surveyed("valdorra", drawn="everyone", response_share=0.95), 3)
    tables = records(simulation)
    assert tables["samples"].is_empty()
    assert tables["waves"].height
    for wave in plan_waves(simulation):
        answered = tables["answers"].filter(wave_id=wave.wave_id).height
        assert answered > 0.8 * len(frame_of(simulation, wave))
    assert tables["costs"].filter(pl.col("category") == "survey").height == tables["waves"].height


def test_response_follows_the_dwelling_where_that_is_set():
    simulation = simulate(_surveyed("thornquay", response_by_dwelling=(1.5, 0.0, -1.5)), 6)
    tables = records(simulation)
    said = tables["answers"].select("wave_id", "household_id", said=1)
    asked = tables["samples"].join(said, on=["wave_id", "household_id"], how="left")
    shares = asked.join(tables["households"], on="household_id").group_by("dwelling").agg(
        share=pl.col("said").is_not_null().mean()
    )  # fmt: skip
    share = dict(shares.iter_rows())
    assert share["house"] > share["townhouse"] + 0.1
    assert share["townhouse"] > share["apartment"] + 0.1


def _surveyed(name, **changed):
    town = TOWNS[name]
    return replace(town, survey=replace(town.survey, **changed))


def test_allocation_is_in_proportion_and_within_its_strata():
    sizes = np.array([400, 200, 7, 2])
    assert allocate(sizes, 60).tolist() == [39, 20, 6, 2]


def test_the_generator_shares_no_formula_with_the_planner():
    allowed = {"planner.tables", "planner.program", "planner.units"}
    imported = set()
    for path in GENERATOR.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("planner"):
                imported.add(node.module)
            if isinstance(node, ast.Import):
                imported |= {n.name for n in node.names if n.name.startswith("planner")}
    assert imported <= allowed
    assert "planner.tables" in imported


def test_the_planner_knows_none_of_the_towns():
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in Path(planner.__file__).parent.rglob("*.py")
    ).lower()
    towns = TOWNS.values()
    names = {place.area_name for town in towns for place in town.areas}
    names |= {town.folder for town in towns} | {town.council.name for town in towns}
    assert sorted(name for name in names if name.lower() in source) == []
