"""A browser for the tests of pages, and the street's page opened from the disk."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import soundfile as sf

from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.report.plan.figure import pictures_of
from audiolevel.report.plan.json import as_json
from audiolevel.report.plan.page import plan_page
from tests.made_street import MARKS, RATE_HZ, SITE, heard, wave_of

Open = Callable[..., Any]
# what people may write where a name belongs
HOSTILE = (
    "</script><script>document.title='taken'</script>\"'&"
    "\u202e\u05e9\u05dc\u05d5\u05dd🎺$x^2$" + "l" * 300
)
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
    plan = plan_of(survey_of([heard(marks=MARKS)], SITE))
    made = plan_page(plan, "Quarry Lane", as_json(plan), pictures_of(plan, "Quarry Lane"))
    (folder / "plan.html").write_text(made, encoding="utf-8")
    return folder / "plan.html"


def next_frame(page: Any) -> None:
    """Wait for what follows a setting in the next frame: the list of its firings."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(done))")


class Watched:
    """What a page said and asked for while it was open."""

    def __init__(self) -> None:
        self.complaints: list[str] = []
        self.asked_for: list[str] = []


@pytest.fixture
def watched() -> Watched:
    return Watched()


@pytest.fixture
def open_page(browser: Any, watched: Watched) -> Iterator[Open]:
    """Open a page in a window of its own, with all that it says and asks for written down."""
    contexts = []

    def opened(file: Path, width: int = 1024, after: str = "", **settings: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 900}, **settings)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: watched.complaints.append(str(error)))
        page.on("console", lambda said: watched.complaints.append(said.text))
        page.on("request", lambda request: watched.asked_for.append(request.url))
        page.goto(f"{file.as_uri()}{after}")
        return page

    yield opened
    for context in contexts:
        context.close()


def serious_faults(page: Any, node_modules: Path) -> list[tuple[str, str]]:
    """Faults that axe-core calls serious or worse, by its rules, which follow WCAG 2.2."""
    # by evaluation, as the page's own policy lets no other script in
    page.evaluate((node_modules / "axe-core" / "axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate("axe.run().then((result) => result.violations)")
    return [
        (one["id"], one["nodes"][0]["html"])
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
