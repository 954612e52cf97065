"""Programs from outside Python that some tests look through, and how to get them.

The tests that need one are skipped with a line that says how; `.ci/run` installs them where
it can.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
AXE = ROOT / ".tools" / "node_modules" / "axe-core" / "axe.min.js"
SECONDS = 240

HTML_CHECKER = ROOT / ".tools" / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"
JAVA, DRIVER = shutil.which("java"), shutil.which("chromedriver")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
PDF_TEXT = shutil.which("pdftotext")

HOW = {
    "Chromium": "apt-get install chromium",
    "LibreOffice": "apt-get install libreoffice-calc-nogui libreoffice-writer-nogui",
    "pdftotext": "apt-get install poppler-utils",
    "axe-core": "npm install --prefix .tools axe-core@4",
    "chromedriver": "apt-get install chromium-driver",
    "vnu-jar": "apt-get install default-jre-headless; npm install --prefix .tools vnu-jar",
}


def needs(**tools):
    """Skip a test where a tool is missing, and say how to get it."""
    missing = [HOW[name.replace("_", "-")] for name, is_there in tools.items() if not is_there]
    return pytest.mark.skipif(bool(missing), reason="; ".join(missing))


needs_chromium = needs(Chromium=CHROMIUM)
needs_driver = needs(Chromium=CHROMIUM, chromedriver=DRIVER)
needs_axe = needs(Chromium=CHROMIUM, chromedriver=DRIVER, axe_core=AXE.exists())
needs_html_checker = needs(vnu_jar=JAVA and HTML_CHECKER.exists())
needs_office = needs(LibreOffice=OFFICE)
needs_pdf_text = needs(pdftotext=PDF_TEXT)


@contextlib.contextmanager
def driven_browser(*options):
    """Drive Chromium without a window and without a network."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    chosen = webdriver.ChromeOptions()
    chosen.binary_location = CHROMIUM
    for option in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        *options,
    ):
        chosen.add_argument(option)
    chosen.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    browser = webdriver.Chrome(options=chosen, service=Service(DRIVER))
    browser.set_script_timeout(SECONDS)
    try:
        yield browser
    finally:
        browser.quit()


def faults_of_html(*paths):
    """Give what the Nu Html Checker, the W3C's, finds wrong in pages."""
    command = [JAVA, "-jar", HTML_CHECKER, "--errors-only", "--exit-zero-always", *paths]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS, check=True)
    return ran.stderr.splitlines()


def chromium(page, *options):
    """Open a page without a window and without a network; give what it printed and logged."""
    with tempfile.TemporaryDirectory() as profile:
        command = [
            CHROMIUM,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
            "--host-resolver-rules=MAP * ~NOTFOUND",
            "--enable-logging=stderr",
            f"--user-data-dir={profile}",
            *options,
            page.as_uri(),
        ]
        ran = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS, check=True)
    return ran.stdout, ran.stderr


def office(source, target_folder, kind="pdf"):
    """Convert a file with LibreOffice, with a profile of its own, and give the new file."""
    (target,) = offices([source], target_folder, kind)
    return target


def offices(sources, target_folder, kind="pdf"):
    """Convert many files in one start of LibreOffice, and give the new files."""
    with tempfile.TemporaryDirectory() as profile:
        command = [
            OFFICE,
            f"-env:UserInstallation={Path(profile).as_uri()}",
            "--headless",
            "--convert-to",
            kind,
            "--outdir",
            str(target_folder),
            *(str(source) for source in sources),
        ]
        subprocess.run(
            command,
            capture_output=True,
            timeout=SECONDS,
            check=True,
            env=os.environ | {"LANG": "C"},
        )
    ending = kind.partition(":")[0]
    return [Path(target_folder) / f"{Path(source).stem}.{ending}" for source in sources]


def pdf_text(path):
    """Read the text of a PDF."""
    ran = subprocess.run(
        [PDF_TEXT, "-layout", str(path), "-"], capture_output=True, text=True, check=True
    )
    return ran.stdout
