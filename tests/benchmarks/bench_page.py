"""How large a page gets and how fast it is: a plan of a whole day, and an hour's firings labelled.

    python -m tests.benchmarks.bench_page FOLDER

FOLDER keeps the made recordings (1.5 GB) from run to run. Times are a browser's own, of this
machine: what the page takes, not what the sound lasts.
"""

import statistics
import sys
import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import soundfile as sf
from playwright.sync_api import sync_playwright

import audiolevel as al
from audiolevel.site.sections import Limits
from tests.made_street import RATE_HZ, SITE, wave_of

_CHROMIUM = "/usr/bin/chromium"
_FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking")
# of an hour: how long a view of the whole takes to draw, by the page's own code
_DRAW = """() => {
  const canvas = document.querySelector(".trace canvas");
  const times = [];
  for (let i = 0; i < 20; i += 1) {
    const begun = performance.now();
    canvas.dispatchEvent(new KeyboardEvent("keydown", { key: "Home" }));
    times.push(performance.now() - begun);
  }
  return times;
}"""


def _recording(folder: Path, hours: int) -> Path:
    """So many hours of the made street, each hour another."""
    path = folder / f"street_{hours}h.wav"
    if not path.exists():
        with sf.SoundFile(path, "w", RATE_HZ, 1, subtype="PCM_16") as file:
            for hour in range(hours):
                file.write(wave_of(3600.0, seed=100 + hour))
    return path


def _page(folder: Path, hours: int) -> Path:
    out = folder / f"plan_{hours}h"
    # a street on which something passes every four seconds: the limit is as generous
    site = replace(SITE, limits=Limits(false_triggers_per_day=2000.0, detection=0.8))
    began = time.perf_counter()
    plan = al.plan([_recording(folder, hours)], site=site, starts=[datetime(2026, 3, 3)])
    planned = time.perf_counter()
    plan.save(out)
    saved, megabytes = time.perf_counter(), (out / "plan.html").stat().st_size / 1e6
    saved, megabytes = time.perf_counter(), (out / "plan.html").stat().st_size / 1e6
    print(
        f"{hours} h: planned in {planned - began:.0f} s, saved in {saved - planned:.1f} s, "
        f"page {megabytes:.2f} MB"
    )
    return out / "plan.html"


def _opened(browser: Any, page: Path) -> Any:
    window = browser.new_page(viewport={"width": 1440, "height": 900})
    window.goto(page.as_uri())
    timing = window.evaluate("performance.getEntriesByType('navigation')[0].domInteractive")
    ready = window.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")
    drawn = window.evaluate(_DRAW)
    print(
        f"  parsed and interactive after {timing:.0f} ms, all loaded after {ready:.0f} ms; "
        f"whole trace drawn in {statistics.median(drawn):.1f} ms (at most {max(drawn):.1f})"
    )
    return window


def _label_sixty(window: Any, recording: Path) -> None:
    """From one key to the next firing's sound having begun, sixty times."""
    settings = int(window.locator("#explore-at").get_attribute("max"))
    for row in range(settings):
        window.locator("#explore-at").fill(str(row))
        firings = window.locator("#listen-list tbody tr").count()
        if 60 <= firings <= 200:
            break
    window.locator("#listen-file").set_input_files(str(recording))
    while "open" not in window.locator("#listen-opened").inner_text():
        window.wait_for_timeout(20)
    window.keyboard.press("n")
    window.evaluate(
        """() => {
          window.waits = [];
          let pressed = 0;
          document.addEventListener("keydown", () => { pressed = performance.now(); }, true);
          document.getElementById("listen-audio").addEventListener("playing", () => {
            if (pressed) window.waits.push(performance.now() - pressed);
            pressed = 0;
          });
        }"""
    )
    began = time.perf_counter()
    for i in range(60):
        before = len(window.evaluate("window.waits"))
        window.keyboard.press("wfu"[i % 3])
        while len(window.evaluate("window.waits")) == before:
            if time.perf_counter() - began > 60:
                break
            window.wait_for_timeout(2)
    waits = window.evaluate("window.waits")
    print(
        f"  {len(waits)} of {firings} firings of an hour labelled and the next one heard: "
        f"{statistics.median(waits):.0f} ms each (at most {max(waits):.0f})"
    )
    print(f"  {window.locator('#listen-progress').inner_text()}")


def main() -> None:
    """Make both pages and try them."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    hour, day = _page(folder, 1), _page(folder, 24)
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=_CHROMIUM, args=list(_FLAGS))
        print("one hour")
        _label_sixty(_opened(browser, hour), _recording(folder, 1))
        print("a day")
        _opened(browser, day)
        browser.close()


if __name__ == "__main__":
    main()
