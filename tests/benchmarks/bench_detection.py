"""How long does placing six wanted sounds take, against measuring the recording?

`python -m tests.benchmarks.bench_detection` places six sounds 2,000 times each into an hour of road
at 16 kHz, for every mode, setting and gain of a plan, and prints the ratio to `measure` on it.
"""

import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from audiolevel.metering.measurement import measure
from audiolevel.planning import placement
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.site.sections import Microphone, Site, Wanted
from tests.benchmarks.bench_levels import measured, seconds, street

SIX = [
    ("vehicle horn", 20.0),
    ("dog's bark", 4.0),
    ("smoke alarm", 5.0),
    ("shout", 2.0),
    ("breaking glass", 4.0),
    ("metal bang", 5.0),
]


def main() -> None:
    """Print the ratio."""
    wanted = tuple(Wanted(sound=name, distance_m=metres) for name, metres in SIX)
    site = replace(Site(), microphone=Microphone(spl_at_full_scale_db=110.0), wanted=wanted)
    with tempfile.TemporaryDirectory() as folder:
        hour = street(Path(folder) / "hour.wav", 1, 16_000)
        heard = [measure(hour, gains=gains_to_simulate(site))]
        ratios = []
        for _ in range(3):
            base = seconds(measured, hour)
            begin = time.perf_counter()
            plan = plan_of(survey_of(heard, site))
            with_sounds = time.perf_counter() - begin
            begin = time.perf_counter()
            plan_of(survey_of(heard, replace(site, wanted=())))
            ratios.append((with_sounds - (time.perf_counter() - begin)) / base)
    gains = sorted({curve.gain_db for curve in plan.curves})
    settings = sum(len(curve.prediction.settings_db) for curve in plan.curves)
    print(f"{len(plan.survey.wanted)} sounds, {len(gains)} gains, {settings} settings in all")
    print(
        f"stretches of {placement._PLACING_ROWS} rows at most; placing / `measure`, asked for ≤ 2:"
    )
    print(f"  {statistics.median(ratios):.2f} (from {min(ratios):.2f} to {max(ratios):.2f})")


if __name__ == "__main__":
    main()
