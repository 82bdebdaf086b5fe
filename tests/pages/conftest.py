"""A browser for the tests of pages, and the street's page opened from the disk."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import soundfile as sf

from audiolevel.pages.plan_page import plan_page
from audiolevel.planning.detection_range import range_curves
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.report.plan_json import as_json
from tests.made_street import MARKS, RATE_HZ, SITE, heard, wave_of

# without these a browser asks for its maker's hosts, and a closed network refuses it
_QUIET = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")
_ALONE = ("--disable-background-networking", "--disable-component-update", "--disable-sync")


@pytest.fixture(scope="session")
def node_modules() -> Path:
    """The folder with the tools that look at scripts and pages: typescript and axe-core."""
    where = os.environ.get("AUDIOLEVEL_NODE_MODULES")
    if not where or not (Path(where) / "axe-core").is_dir():
        pytest.skip("AUDIOLEVEL_NODE_MODULES does not name a folder with axe-core and typescript")
    return Path(where)


@pytest.fixture(scope="session")
def browser() -> Iterator["object"]:
    """Headless Chromium, from the system's packages."""
    playwright = pytest.importorskip("playwright.sync_api")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium on this machine")
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(executable_path=chromium, args=[*_QUIET, *_ALONE])
        yield started
        started.close()


@pytest.fixture(scope="session")
def street_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the made street, with its recording beside it."""
    folder = tmp_path_factory.mktemp("street")
    sf.write(folder / "lane.wav", wave_of(), RATE_HZ, subtype="PCM_16")
    plan = plan_of(survey_of([heard()], SITE, marks=[MARKS]))
    assert plan.recommended is not None
    ranges = range_curves(plan.survey, plan.recommended)
    made = plan_page(plan, "Quarry Lane", as_json(plan), ranges)
    (folder / "plan.html").write_text(made, encoding="utf-8")
    return folder / "plan.html"
