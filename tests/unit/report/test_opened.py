"""The page in a browser and the Word document in an office program, as their readers open them."""

from __future__ import annotations

import base64
import html
import re
from dataclasses import replace

import pytest
from selenium.webdriver import ActionChains, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select, WebDriverWait

from planner.cli.starting import _examples
from planner.report.charts import write_charts
from planner.report.charts.drawing import NARROW_INCHES
from planner.report.document import Picture, Table
from planner.report.document.building import APPENDIX_KEYS, build_document
from planner.report.page import write_guide, write_page
from planner.report.word.writing import write_word
from tests.outside import (
    AXE,
    chromium,
    driven_browser,
    faults_of_html,
    needs_axe,
    needs_chromium,
    needs_driver,
    needs_html_checker,
    needs_office,
    needs_pdf_text,
    office,
    pdf_text,
)
from tests.unit.report import fuller

pytestmark = pytest.mark.thorough

RUN_AXE = """
const done = arguments[0];
axe.run(document, {resultTypes: ["violations"]}).then(found => done({
  told: found.violations.map(v => [v.id, v.nodes.map(n => n.html)]),
  passes: found.passes.map(p => p.id)}));
"""
TELEPHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": False}
DESK = {"width": 1280, "height": 900, "deviceScaleFactor": 1, "mobile": False}
LEAST_PIXELS = 9.0


def blocks(document, kind):
    """Tables or pictures of a document, in order."""
    for section in document.sections:
        for one in (section, *section.parts):
            yield from (block for block in one.blocks if isinstance(block, kind))


def tables(document):
    return blocks(document, Table)


def pictures(document):
    return blocks(document, Picture)


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    folder = tmp_path_factory.mktemp("opened")
    contents = fuller.contents()
    charts = write_charts(folder, contents.register, contents.program, contents.area_names)
    document = build_document(replace(contents, charts=charts))
    write_page(folder / "report.html", document)
    write_word(folder / "report.docx", document, contents.register)
    write_guide(folder / "guide.html", _examples())
    return folder, document


@pytest.fixture(scope="module")
def browser():
    with driven_browser() as one:
        yield one


@pytest.fixture
def opened(report, browser):
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", DESK)
    browser.get((report[0] / "report.html").as_uri())
    return browser


def rows(browser, key):
    """First cells of the rows of a table that are shown."""
    found = browser.execute_script(
        "return [...document.querySelectorAll(`#table-${arguments[0]}-rows tr`)]"
        ".filter(row => !row.hidden).map(row => row.cells[0].textContent)",
        key,
    )
    assert found
    return found


def choose(browser, name, words):
    field = browser.find_element(By.ID, f"look-{name}")
    Select(field).select_by_visible_text(words)


def options(browser, name):
    return [one.text for one in Select(browser.find_element(By.ID, f"look-{name}")).options][1:]


@needs_driver
def test_the_page_opens_without_a_word_on_the_console(report, opened):
    assert opened.get_log("browser") == []
    text = opened.page_source
    for section in report[1].sections:
        assert html.escape(section.heading, quote=False) in text
    assert opened.find_element(By.ID, "look").is_displayed()


@needs_driver
def test_only_what_is_printed_can_be_chosen_and_it_is_shown_alone(report, opened):
    printed = {table.key: table for table in tables(report[1])}
    for key, name in (("areas", "area"), ("months", "from"), ("months", "to")):
        assert options(opened, name) == [row[0].words for row in printed[key].rows]
    hidden = set(fuller.synthetic.area_names(8).values()) - set(options(opened, "area"))
    assert len(hidden) == fuller.HIDDEN_AREAS
    areas, months = rows(opened, "areas"), rows(opened, "months")
    choose(opened, "area", areas[1])
    choose(opened, "from", months[3])
    choose(opened, "to", months[5])
    assert rows(opened, "areas") == [areas[1]]
    assert rows(opened, "months") == months[3:6]
    said = opened.find_element(By.ID, "look-said").text
    for heading, cell in zip(printed["areas"].columns, printed["areas"].rows[1], strict=True):
        assert cell.words in said
        assert heading.heading in said or cell.words == areas[1]
    opened.find_element(By.CSS_SELECTOR, "#look [type=reset]").click()
    WebDriverWait(opened, 10).until(lambda one: len(rows(one, "areas")) > 1)
    assert (rows(opened, "areas"), rows(opened, "months")) == (areas, months)


@needs_driver
def test_values_are_told_on_hover_and_by_keyboard(report, opened):
    figure = opened.find_element(By.CSS_SELECTOR, "figure[data-chart=kept_out_by_area]")
    picture = next(one for one in pictures(report[1]) if one.name == "kept_out_by_area")
    spots = figure.find_elements(By.CLASS_NAME, "spot")
    bubble = figure.find_element(By.CLASS_NAME, "bubble")
    assert len(spots) == len(picture.spots) > 2
    ActionChains(opened).move_to_element(spots[2]).perform()
    assert bubble.text == picture.spots[2].words
    # one stop of the Tab key for a chart; arrow keys go on from there
    assert [one.get_attribute("tabindex") for one in spots] == ["0"] + ["-1"] * (len(spots) - 1)
    opened.execute_script("arguments[0].focus()", spots[0])
    assert bubble.text == picture.spots[0].words
    ActionChains(opened).send_keys(Keys.ARROW_DOWN).perform()
    assert bubble.text == picture.spots[1].words
    assert opened.switch_to.active_element == spots[1]
    ActionChains(opened).send_keys(Keys.ENTER).perform()
    assert rows(opened, "areas") == [picture.spots[1].words.partition(":")[0]]
    ActionChains(opened).send_keys(Keys.ESCAPE).perform()
    assert not bubble.is_displayed()


@needs_driver
def test_nothing_is_clipped_or_tiny_on_a_telephone(opened):
    opened.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", TELEPHONE)
    opened.execute_script("document.querySelectorAll('details').forEach(one => one.open = true)")
    # a scrollbar takes some of the width
    assert opened.execute_script("return document.documentElement.scrollWidth") <= 390
    wide = opened.execute_script(
        "return [...document.querySelectorAll('.wide')]"
        ".filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.textContent)"
    )
    assert wide == []
    for image in opened.find_elements(By.CSS_SELECTOR, "figure[data-chart] img"):
        inches = opened.execute_script("return arguments[0].naturalWidth / 96", image)
        assert inches == pytest.approx(NARROW_INCHES, abs=0.02)
        # the smallest words in a chart have eight points
        assert 8 / 72 * image.rect["width"] / inches >= LEAST_PIXELS


@needs_axe
def test_axe_finds_no_fault_of_contrast_landmarks_or_names(opened):
    opened.execute_script(AXE.read_text(encoding="utf-8"))
    found = opened.execute_async_script(RUN_AXE)
    assert found["told"] == []
    for checked in ("color-contrast", "landmark-one-main", "region", "image-alt", "skip-link"):
        assert checked in found["passes"]


@needs_axe
def test_the_guide_opens_without_a_fault_on_a_telephone_too(report, browser):
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", TELEPHONE)
    browser.get((report[0] / "guide.html").as_uri())
    assert browser.execute_script("return document.documentElement.scrollWidth") <= 390
    links = browser.execute_script("return [...document.links].map(one => one.hash.slice(1))")
    assert len(links) > 5
    assert all(browser.find_elements(By.ID, link) for link in links)
    browser.execute_script(AXE.read_text(encoding="utf-8"))
    assert browser.execute_async_script(RUN_AXE)["told"] == []
    assert browser.get_log("browser") == []


@needs_html_checker
def test_the_checker_of_the_w3c_finds_no_fault(report):
    assert faults_of_html(report[0] / "report.html", report[0] / "guide.html") == []


@needs_driver
@needs_pdf_text
def test_the_page_prints_whole(report, opened):
    folder, document = report
    target = folder / "page.pdf"
    printed = opened.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    target.write_bytes(base64.b64decode(printed["data"]))
    text = pdf_text(target)
    for section in document.sections:
        assert section.heading in text
    # what is folded on the screen is on the paper, and what only a screen can do is not
    folded = next(one for one in tables(document) if one.key == "months")
    assert all(row[0].words in text for row in folded.rows)
    for words in ("Skip to the report", "Look closer", "Values in this chart"):
        assert words not in text
    assert text.count("\f") > 5


@needs_chromium
def test_all_is_readable_without_scripts(report):
    """A page without its script has all tables and values, and no field that does nothing."""
    folder, document = report
    page = (folder / "report.html").read_text(encoding="utf-8")
    bare = folder / "without_script.html"
    bare.write_text(re.sub(r"(?s)<script>.*?</script>", "", page), encoding="utf-8")
    printed, logged = chromium(bare, "--dump-dom")
    assert "CONSOLE" not in logged
    assert re.search(r'<form id="look"[^>]*hidden', printed)
    for picture in pictures(document):
        assert all(html.escape(one.words, quote=False) in printed for one in picture.spots)


@needs_office
@needs_pdf_text
def test_the_word_document_opens_whole(report):
    folder, document = report
    text = pdf_text(office(folder / "report.docx", folder))
    for section in document.sections:
        # the appendices are a file of their own
        assert section.heading in text or section.key in APPENDIX_KEYS
    assert "{{" not in text
    assert "Error" not in text
    summary = " ".join(document.section("summary").blocks[0].words.split())
    assert summary in " ".join(text.split())
