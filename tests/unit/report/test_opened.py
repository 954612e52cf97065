"""The page in a browser and the Word document in an office program, as their readers open them."""

from __future__ import annotations

import html
import json
import re

import pytest

from planner.report.document import build_document
from planner.report.document.building import APPENDIX_KEYS
from planner.report.page import write_page
from planner.report.word import write_word
from tests.outside import (
    AXE,
    chromium,
    needs_axe,
    needs_chromium,
    needs_office,
    needs_pdf_text,
    office,
    pdf_text,
)
from tests.unit.report import fuller

RUN_AXE = """
axe.run(document, {resultTypes: ["violations"]}).then(found => {
  const told = found.violations.map(v => [v.id, v.nodes.map(n => n.html)]);
  const out = document.createElement("pre");
  out.id = "axe-found";
  out.textContent = JSON.stringify({told, passes: found.passes.map(p => p.id)});
  document.body.append(out);
});
"""


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    folder = tmp_path_factory.mktemp("opened")
    contents = fuller.contents(folder)
    document = build_document(contents)
    write_page(folder / "report.html", document)
    write_word(folder / "report.docx", document, contents.register)
    return folder, document


def console(logged):
    return [line for line in logged.splitlines() if "CONSOLE" in line]


@needs_chromium
def test_the_page_renders_without_a_word_on_the_console(report):
    folder, document = report
    printed, logged = chromium(folder / "report.html", "--dump-dom")
    assert console(logged) == []
    for section in document.sections:
        assert html.escape(section.heading, quote=False) in printed


@needs_axe
def test_axe_finds_no_fault_of_contrast_landmarks_or_names(report):
    folder, _ = report
    page = (folder / "report.html").read_text(encoding="utf-8")
    # the page's own policy lets no script run, so the copy that axe reads goes without it
    bare = re.sub(r"<meta http-equiv=[^>]*>", "", page)
    scripts = f"<script>{AXE.read_text(encoding='utf-8')}</script><script>{RUN_AXE}</script>"
    copy = folder / "with_axe.html"
    copy.write_text(bare.replace("</body>", f"{scripts}</body>"), encoding="utf-8")
    printed, _ = chromium(copy, "--virtual-time-budget=30000", "--dump-dom")
    found = json.loads(html.unescape(re.search(r'<pre id="axe-found">(.*?)</pre>', printed)[1]))
    assert found["told"] == []
    for checked in ("color-contrast", "landmark-one-main", "region", "image-alt", "skip-link"):
        assert checked in found["passes"]


@needs_chromium
@needs_pdf_text
def test_the_page_prints_whole(report):
    folder, document = report
    target = folder / "page.pdf"
    chromium(folder / "report.html", f"--print-to-pdf={target}", "--no-pdf-header-footer")
    text = pdf_text(target)
    for section in document.sections:
        assert section.heading in text
    assert "Skip to the report" not in text
    assert text.count("\f") > 5


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
