"""The pictures of docs/pages.md, taken in a browser: `python -m tests.page_pictures`.

Made by hand when a page changes its looks: a browser of another version draws other bytes.
"""

import shutil
import tempfile
from pathlib import Path

from click.testing import CliRunner
from playwright.sync_api import sync_playwright

from audiolevel.cli import main
from tests.gallery import FIGURES, MARKS, SITE, SOUND, START

_FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")


def take() -> None:
    """Make the page, try a setting, and take both pictures."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as running:
        # the plan that the README shows
        words = ["plan", str(SOUND), "--site", str(SITE), "--marks", str(MARKS), "--start", START]
        run = CliRunner().invoke(main, [*words, "--out", folder, "--quiet"])
        assert run.exit_code == 0, run.output
        chromium = shutil.which("chromium")
        browser = running.chromium.launch(executable_path=chromium, args=list(_FLAGS))
        page = browser.new_page(viewport={"width": 1100, "height": 1130})
        page.goto((Path(folder) / "plan.html").as_uri())
        page.screenshot(path=FIGURES / "page_explore.png")
        page.locator("#explore-at").fill("36")
        for key in ("n", "w", "f", "u"):
            page.keyboard.press(key)
        page.locator("#listen-table").evaluate("(table) => { table.style.maxHeight = '14rem'; }")
        page.locator("#listen-table").evaluate("(table) => { table.style.overflow = 'hidden'; }")
        page.locator("#listen").screenshot(path=FIGURES / "page_listen.png")
        browser.close()


if __name__ == "__main__":
    take()
