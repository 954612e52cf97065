"""planner size, as an officer runs it: on areas alone, on a town, with limits that clash."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from dataclasses import replace
from itertools import pairwise

import numpy as np
import openpyxl
import polars as pl
import pytest
from PIL import Image
from typer.testing import CliRunner

from planner.cli import app
from planner.figures import read_register
from planner.intake.template import write_intake_workbook
from planner.loading import load_files
from planner.paths import FIGURES_FILE, INTAKE_FILE, PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.program import read_program
from planner.report.figures.comparison import planned_register
from planner.report.plan import making
from planner.report.plan.making import make_plan_of
from planner.report.wording import Wording
from planner.sizing import world as worlds
from planner.sizing.draws import EmissionRates
from planner.sizing.outcome import outcome_of
from planner.starting import last_day_of_records, start_program
from tests.outside import needs_office, offices

runner = CliRunner()
FAST = "draws_count = 256\n"
SCENARIOS = """
[[scenarios]]
name = "Food collection"
begins = 2028-04-01
areas = ["N"]
leaves_residual_bin_share = 0.5

[[scenarios]]
name = "Levy step"
begins = 2029-04-01
landfill_levy_per_t = 200.0
"""
CHARTS = ("plan_frontier", "plan_months", "plan_drivers", "plan_scenarios")
MENDING = 2


@pytest.fixture(scope="module")
def areas_alone(tmp_path_factory):
    """Start a program, load two areas and nothing else, and size it."""
    folder = tmp_path_factory.mktemp("areas")
    start_program(folder)
    quicken(folder / PROGRAM_FILE)
    with (folder / PROGRAM_FILE).open("a", encoding="utf-8") as file:
        file.write(SCENARIOS)
    program = read_program(folder / PROGRAM_FILE)
    write_intake_workbook(folder / INTAKE_FILE, program)
    book = openpyxl.load_workbook(folder / INTAKE_FILE)
    headings = [cell.value for cell in next(book["areas"].iter_rows(min_row=2, max_row=2))]
    for area, houses, flats, priority in (("N", 4000, 900, "yes"), ("S", 6000, 400, "no")):
        known = {
            "area_id": area,
            "area_name": f"{area} ward",
            "houses_count": houses,
            "townhouses_count": 0,
            "apartments_count": flats,
            "residents_count": 2 * (houses + flats),
            "kerbside_service": "residual_only",
            "is_priority": priority,
        }
        book["areas"].append([known[str(name)] for name in headings])
    book.save(folder / INTAKE_FILE)
    load_files(folder, [folder / INTAKE_FILE])
    with pytest.MonkeyPatch.context() as patch:
        make, plans = making.make_plan_of, []
        patch.setattr(
            making,
            "make_plan_of",
            lambda *asked, **days: plans.append(make(*asked, **days)) or plans[0],
        )
        ended = runner.invoke(app, ["size", "--program", str(folder)])
    assert ended.exit_code == 0, ended.output
    PLANS[folder] = plans[0].sizing
    return folder, ended


PLANS = {}
"""What was sized in a folder, beside its files."""


def quicken(program_file):
    text = program_file.read_text(encoding="utf-8").replace("[sizing]\n", f"[sizing]\n{FAST}", 1)
    text = text.replace(
        "# kept_out_of_landfill_t_target = 8.0", "kept_out_of_landfill_t_target = 8.0"
    )
    program_file.write_text(text, encoding="utf-8")


def test_it_says_what_to_give_to_whom_for_what_and_how_sure(areas_alone):
    _, ended = areas_alone
    words = " ".join(ended.stdout.split())
    assert "bins to houses" in words
    assert "of a budget of £50,000" in words
    assert "Chance that year 1 of the plan reaches 8 t:" in words
    assert "No follow-up survey is used" in words
    assert "Next: open the workbook" in ended.stderr
    assert "Fewer bins, with" in words


def test_every_file_named_is_there_and_the_pictures_open(areas_alone):
    folder, ended = areas_alone
    named = [line.strip() for line in ended.stdout.partition("Files:")[2].splitlines() if line]
    assert len(named) == 7
    assert all((folder / "sizing").samefile(folder.joinpath(one).parent) for one in named)
    for chart in CHARTS:
        with Image.open(folder / "sizing" / f"{chart}.png") as picture:
            assert picture.width > 1000
        assert "<desc>" in (folder / "sizing" / f"{chart}.svg").read_text(encoding="utf-8")


def test_the_allocation_adds_up_to_the_figures(areas_alone):
    folder, _ = areas_alone
    rows = pl.read_csv(folder / "sizing" / "allocation.csv")
    assert rows.columns == ["area_id", "dwelling", "model_id", "round", "hand_over_month", "bins"]
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    assert rows["bins"].sum() == register["plan_bins"].value
    by_area = {area: figure.value for area, figure in register.parts("plan_bins_by_area").items()}
    assert sum(by_area.values()) == register["plan_bins"].value
    assert rows["bins"].min() > 0


def test_one_bin_in_each_group_is_told_and_flats_with_fewer_people_feed_less(areas_alone):
    folder, _ = areas_alone
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    one = register.parts("plan_one_bin_kept_out_kg")
    assert set(one) == {"N/house", "N/apartment", "S/house", "S/apartment"}
    assert 0.0 < one["N/apartment"].value < one["N/house"].value
    # bins that nobody takes are bought and not handed over; no cost is fixed without a ledger
    cost = register["plan_one_bin_cost[N/house]"].value
    given, bins = register["plan_bins_given"].value, register["plan_bins"].value
    assert given * cost - 1e-6 <= register["plan_cost"].value <= bins * cost + 1e-6


def test_percentiles_are_in_order_and_years_add_up(areas_alone):
    folder, _ = areas_alone
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    for name in ("plan_kept_out_t", "plan_cost", "plan_net_t_co2e"):
        figure = register[name]
        steps = [figure.low, *(register[f"{name}[p{p}]"].value for p in (10, 50, 90)), figure.high]
        assert all(first <= second for first, second in pairwise(steps))
    years = register.parts("plan_new_kept_out_t_in_year").values()
    total = register["plan_kept_out_t"].value
    assert sum(year.value for year in years) == pytest.approx(total, rel=1e-9)
    months = register.parts("plan_kept_out_t_in_month").values()
    assert len(months) == 60
    assert sum(month.value for month in months) == pytest.approx(total, rel=1e-9)


@pytest.mark.thorough
def test_the_same_plan_gives_the_same_files_and_replaces_the_old(areas_alone):
    folder, _ = areas_alone
    before = {path.name: path.read_bytes() for path in (folder / "sizing").iterdir()}
    assert runner.invoke(app, ["size", "--program", str(folder)]).exit_code == 0
    after = {path.name: path.read_bytes() for path in (folder / "sizing").iterdir()}
    assert after == before


def test_the_first_sheet_says_the_decision_and_text_is_never_a_formula(areas_alone):
    folder, _ = areas_alone
    book = openpyxl.load_workbook(folder / "sizing" / "size.xlsx")
    assert book.sheetnames[:4] == ["Decision", "Results", "Assumptions", "Reckoning"]
    assert str(book["Decision"]["A2"].value).startswith("Give ")
    live = {"Decision", "Results", "Reckoning", "Weeks of use"}
    formulas = {
        sheet.title
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }
    assert formulas == live


def assumptions(book):
    """Cells of the assumptions that may be changed, by name."""
    return {row[4].value: row[1] for row in book["Assumptions"].iter_rows() if row[4].value}


def all_changed(known):
    """Change every assumption, each by a share of its own, so that none stands for another."""
    return {
        name: value * (0.9 + 0.004 * place) if value else 0.15
        for place, (name, value) in enumerate(known.items())
    }


@pytest.fixture(scope="module")
def recalculated(areas_alone, tmp_path_factory):
    """Let LibreOffice reckon the workbook as it is, and with every assumption changed."""
    folder = tmp_path_factory.mktemp("reckoned")
    path = areas_alone[0] / "sizing" / "size.xlsx"
    book = openpyxl.load_workbook(path)
    cells = assumptions(book)
    known = {name: cell.value for name, cell in cells.items() if cell.data_type == "n"}
    values = all_changed(known)
    for name, value in values.items():
        cells[name].value = value
    book.save(folder / "changed.xlsx")
    (folder / "out").mkdir()
    found = offices([path, folder / "changed.xlsx"], folder / "out", "xlsx")
    return path, *(openpyxl.load_workbook(one, data_only=True) for one in found), values


@pytest.mark.thorough
@needs_office
def test_a_spreadsheet_program_reckons_every_formula_to_the_planners_value(recalculated):
    path, again, _, _ = recalculated
    formulas = openpyxl.load_workbook(path)
    kept = openpyxl.load_workbook(path, data_only=True)
    compared = 0
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f":
                    continue
                value = again[sheet.title][cell.coordinate].value
                own = kept[sheet.title][cell.coordinate].value
                assert value == pytest.approx(own, rel=1e-9, abs=1e-6), (
                    sheet.title,
                    cell.coordinate,
                )
                compared += 1
    assert compared > 100
    for row in again["Results"].iter_rows(min_row=4, values_only=True):
        assert row[3] == pytest.approx(0.0, abs=1e-5)


def engine_with(sizing, values):
    """Work the plan out again by the engine, for the same bins, with other assumptions.

    How many want a bin, and what the worms can take, stay as they were, as the sheet says.
    """
    main, size = sizing.main, sizing.draws["feed_kg_per_week"].size
    draws = sizing.draws | {
        name: np.full(size, value) for name, value in values.items() if name in sizing.draws
    }
    share = {"landfilled_share_of_residual_waste": values["landfilled_share"]}
    landfill = sizing.program.landfill.model_copy(update=share)
    program = sizing.program.model_copy(update={"landfill": landfill})
    context = replace(sizing.context, program=program)
    bins = worlds._bins(context, main.settings, draws, sizing.world.feed_kg_per_week)
    models = range(1, 1 + len(main.settings.models))

    def of_models(name):
        return np.tile([values[f"{name}_{model}"] for model in models], (size, 1))

    world = replace(
        worlds.make_world(context, main.settings, draws),
        bins=bins,
        demand=sizing.world.demand,
        price=of_models("price"),
        other_cost=of_models("handing_over") - values["copayment"],
        fixed_cost=values["fixed_cost"],
        rates=EmissionRates(
            np.full(size, values["methane_avoided_kg_per_t"]),
            np.full(size, values["bin_gases_kg_per_t"]),
            of_models("making"),
        ),
    )
    return outcome_of(context, main.settings, world, main.allocation.bins_by_group)


@pytest.mark.thorough
@needs_office
def test_every_changed_assumption_comes_to_what_the_engine_says(areas_alone, recalculated):
    sizing, (_, _, changed, values) = PLANS[areas_alone[0]], recalculated
    # the food collection of one area is in both
    assert sizing.world.moved_elsewhere_share.any()
    assert not sizing.world.moved_elsewhere_share.all()
    outcome = engine_with(sizing, values)
    kept_out, cost = outcome.kept_out_t[0], round(outcome.cost[0], 2)
    expected = {
        "Food scraps fed": outcome.fed_t[0],
        "Kept out of landfill": kept_out,
        "Cost of the plan": cost,
        "Cost for each tonne": round(cost / kept_out, 2),
        "Levy and gate fee saved": round(kept_out * values["disposal_price_per_t"], 2),
        "Emissions avoided": outcome.net_t_co2e[0],
    }
    rows = {row[0]: row[1] for row in changed["Results"].iter_rows(min_row=4, values_only=True)}
    for begins, value in expected.items():
        (found,) = [cell for label, cell in rows.items() if str(label).startswith(begins)]
        assert found == pytest.approx(value, rel=1e-9), begins
    first = sizing.main.outcome
    for before, after in ((first.kept_out_t, outcome.kept_out_t), (first.cost, outcome.cost)):
        assert abs(before[0] / after[0] - 1.0) > 0.01


def test_limits_that_clash_are_named_and_the_old_plan_stays(areas_alone, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(areas_alone[0], folder)
    before = (folder / "sizing" / FIGURES_FILE).read_bytes()
    text = (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    limit = "\n[sizing.limits]\napartments_least_bins = 5000\n"
    (folder / PROGRAM_FILE).write_text(text + limit, encoding="utf-8")
    ended = runner.invoke(app, ["size", "--program", str(folder)])
    assert ended.exit_code == MENDING
    assert "at least 5,000 bins are to go to flats" in ended.stderr
    assert "sizing.limits.apartments_least_bins:" in ended.stderr
    assert (folder / "sizing" / FIGURES_FILE).read_bytes() == before


def test_a_wrong_key_of_sizing_is_told_with_its_place(begun):
    text = (begun / PROGRAM_FILE).read_text(encoding="utf-8")
    wrong = text.replace("horizon_years = 5", "horizon_years = 50\nhorizon_year = 3")
    (begun / PROGRAM_FILE).write_text(wrong, encoding="utf-8")
    ended = runner.invoke(app, ["size", "--program", str(begun)])
    assert ended.exit_code == MENDING
    assert "sizing.horizon_years: found 50, expected a number from 1 to 10" in ended.stderr
    assert "horizon_year: no such key. Did you mean horizon_years?" in ended.stderr


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """Load the smallest sample town and plan the year that is over and the one to come."""
    folder = tmp_path_factory.mktemp("town")
    sample = SAMPLE_PROGRAMS / "valdorra"
    for path in sample.glob("*.csv"):
        shutil.copy(path, folder)
    shutil.copy(sample / PROGRAM_FILE, folder)
    quicken(folder / PROGRAM_FILE)
    text = (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    text = text.replace("draws_count = 1000", "draws_count = 200")
    # the town plans for its target at the least cost; a plan for the money can always be made
    (folder / PROGRAM_FILE).write_text(text.replace("least_cost", "most_tonnes", 1), "utf-8")
    program = read_program(folder / PROGRAM_FILE)
    files = sorted(folder.glob("*.csv"))
    load_files(folder, files, day=last_day_of_records(program))
    for year in ("2025", "2026"):
        ended = runner.invoke(app, ["size", "--program", str(folder), "--year", year])
        assert ended.exit_code == 0, ended.output
    (folder / "told.txt").write_text(ended.output, encoding="utf-8")
    return folder


@pytest.mark.thorough
def test_a_spanish_officer_is_told_in_spanish_what_the_english_papers_say_in_english(town):
    told = (town / "told.txt").read_text("utf-8")
    lines = [line for line in told.splitlines() if "/" not in line]
    assert [line for line in lines if ENGLISH.search(OF_THE_FILES.sub("", line))] == []
    labels = [one.label for one in planned_register(town / "sizing", "2026")]
    assert sum(bool(ENGLISH.search(label)) for label in labels) > len(labels) / 2


@pytest.mark.thorough
def test_a_plan_of_another_year_is_kept_and_what_was_measured_has_moved_the_beliefs(town):
    assert (
        json.loads((town / "sizing" / FIGURES_FILE).read_text("utf-8"))["reporting_year"] == "2026"
    )
    older, newer = (planned_register(town / "sizing", year) for year in ("2025", "2026"))
    assert (older.reporting_year, newer.reporting_year) == ("2025", "2026")
    assert planned_register(town / "sizing", "2019") is None
    prior, posterior = (
        newer["plan_prior[feed_kg_per_week]"],
        newer["plan_posterior[feed_kg_per_week]"],
    )
    measured = newer["plan_measured[feed_kg_per_week]"]
    assert abs(posterior.value - measured.value) < abs(prior.value - measured.value)
    assert posterior.high - posterior.low < prior.high - prior.low
    later = newer["plan_kept_out_t_in_year[2026]"]
    assert later.value > newer["plan_new_kept_out_t_in_year[2026]"].value


def test_no_money_gives_no_bins_and_no_cost_per_tonne(areas_alone, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(areas_alone[0], folder)
    text = (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    none = text.replace("[sizing]\n", "[sizing]\nbudget = 0\n", 1)
    (folder / PROGRAM_FILE).write_text(none, encoding="utf-8")
    ended = runner.invoke(app, ["size", "--program", str(folder)])
    assert ended.exit_code == 0, ended.output
    assert "Give no bins in 2026-27: the limits or the money leave no room" in ended.stdout
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    assert register["plan_bins"].value == 0.0
    assert register["plan_cost_per_t"].value is None
    assert register["plan_frontier_bins[3]"].value > 0.0


def test_a_plan_figure_is_explained_from_the_sizing_folder(areas_alone):
    folder, _ = areas_alone
    ended = runner.invoke(app, ["explain", "plan_kept_out_t", "--program", str(folder)])
    assert ended.exit_code == 0, ended.output
    assert "take_up_next_year_ratio" not in ended.stdout
    assert "doing_over_saying_share: 0.4" in ended.stdout


def test_the_net_present_value_is_the_levy_saved_each_year_less_the_cost(areas_alone):
    folder, _ = areas_alone
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    tonnes = [year.value for year in register.parts("plan_new_kept_out_t_in_year").values()]
    # by hand with the template's levy and gate fee, the levy step of the fourth year on, and
    # the UK Green Book's 3.5% a year
    prices = [130.75 + 35.0] * 3 + [200.0 + 35.0] * 2
    worth = sum(
        t * price / 1.035**n for n, (t, price) in enumerate(zip(tonnes, prices, strict=True))
    )
    expected = worth - register["plan_cost"].value
    assert register["plan_net_present_value[0.035]"].value == pytest.approx(expected, rel=1e-9)


def numbers_beside(book, words):
    """Find the first number of each row of a workbook that begins with one of these words."""
    return [
        (sheet.title, next(one for one in row[1:] if isinstance(one, float | int)))
        for sheet in book
        for row in sheet.values
        if str(row[0]) in words
    ]


def test_one_plan_has_one_central_number_wherever_it_is_printed(areas_alone):
    """Console, figures, every sheet, the points of the frontier and the charts' words."""
    folder, ended = areas_alone
    register = read_register((folder / "sizing" / FIGURES_FILE).read_text(encoding="utf-8"))
    wording = Wording("en_GB", "GBP")
    tonnes, cost = register["plan_kept_out_t"], register["plan_cost"]
    console = " ".join(ended.stdout.split())
    assert console.count(wording.figure(tonnes)) == 2
    assert f"They cost {wording.figure(cost)}" in console
    # another central number, as a median, is a row of the table of percentiles alone
    assert "median" not in console
    points = zip(
        *(register.parts(f"plan_frontier_{name}").values() for name in ("cost", "kept_out_t")),
        strict=True,
    )
    assert [t.value for c, t in points if c.value == pytest.approx(cost.value)] == [
        pytest.approx(tonnes.value)
    ]
    book = openpyxl.load_workbook(folder / "sizing" / "size.xlsx", data_only=True)
    found = numbers_beside(book, (tonnes.label, "Kept out of landfill [t]"))
    assert {sheet for sheet, _ in found} >= {"Decision", "How sure"}
    (row,) = [row for row in book["Scenarios"].values if row[0] == "this plan"]
    assert row[2] == pytest.approx(tonnes.value)
    money = [
        row for row in book["Money and limits"].values if row[1] == register["plan_bins"].value
    ]
    assert tonnes.value in [pytest.approx(row[2]) for row in money]
    for name, words in (
        ("plan_frontier", wording.number(tonnes.value, 1)),
        (
            "plan_months",
            wording.figure(next(iter(register.parts("plan_kept_out_t_in_year").values()))),
        ),
    ):
        assert words in (folder / "sizing" / f"{name}.svg").read_text(encoding="utf-8")


@pytest.mark.thorough
def test_the_plan_made_before_the_year_held_what_then_happened(town):
    planned = planned_register(town / "sizing", "2025")["plan_kept_out_t_in_year[2025]"]
    truth = tomllib.loads((SAMPLE_PROGRAMS / "valdorra" / "truth.toml").read_text("utf-8"))
    (year,) = [one for one in truth["years"] if one["reporting_year"] == "2025"]
    assert planned.low < year["kept_out_of_landfill_t"] < planned.high
    assert planned.high - planned.low < 2.0 * year["kept_out_of_landfill_t"]


ENGLISH = re.compile(r"\b(?:the|and|of|is|are|was|were|with|from|not|each|bins|year)\b", re.I)
OF_THE_FILES = re.compile(
    r"`[^`]*`|\w+\.toml|\[[^\]]*\]|\w+_\w+|(?:Publi|Suppos|Supue).*|where it.*|name of.*"
    r"|(?:share|ratio) of.*|kg food per.*"
)
"""What the factor tables and the program file say, in their own words, and two headings."""


@pytest.mark.thorough
@pytest.mark.parametrize("language", ["es", "fr"])
def test_a_plan_of_a_language_holds_no_english_and_the_same_figures(
    areas_alone, tmp_path, language
):
    folder = tmp_path / language
    shutil.copytree(areas_alone[0], folder)
    told = (folder / PROGRAM_FILE).read_text("utf-8")
    assert 'report_language = "en"' in told
    (folder / PROGRAM_FILE).write_text(
        told.replace('report_language = "en"', f'report_language = "{language}"'), "utf-8"
    )
    make_plan_of(folder, None, progress=lambda _: None)
    registers = [
        read_register((one / "sizing" / FIGURES_FILE).read_text("utf-8"))
        for one in (areas_alone[0], folder)
    ]
    values = [{one.id: one.value for one in register} for register in registers]
    assert values[0] == pytest.approx(values[1], nan_ok=True)
    book = openpyxl.load_workbook(folder / "sizing" / "size.xlsx")
    # where a number comes from is cited as its source writes it
    texts = [
        value
        for sheet in book.worksheets[:-1]
        for row in sheet.values
        for value in row
        if isinstance(value, str) and not value.startswith("=")
    ]
    assert [one for one in texts if ENGLISH.search(OF_THE_FILES.sub("", one))] == []
    assert [one for one in texts if re.match(r"(?:plan|order)\.[a-z_.]+$", one)] == []
