"""Three minutes of a made street at 8 kHz, and the plan and trials made of it."""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.metering.annotations import Mark
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.visit import Visit
from audiolevel.planning.asked import Asked
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import Survey, gains_to_simulate, survey_of
from audiolevel.site.sections import (
    Display,
    GainSteps,
    Limits,
    Microphone,
    ScheduleSection,
    Site,
    SiteSection,
    Storage,
    TriggerSection,
    Wanted,
)

RATE_HZ = 8000
NOON = datetime(2026, 3, 3, 12, 0)
# at +18 dB the loudest passages clip, at −12 dB every level is only shifted
SITE = Site(
    site=SiteSection(name="Quarry Lane", kind="busy road"),
    microphone=Microphone(spl_at_full_scale_db=110.0),
    gain=GainSteps("mid", (("low", -12.0), ("mid", 0.0), ("high", 18.0))),
    display=Display(readings=((20.0, -60.0), (40.0, -40.0), (60.0, -20.0))),
    trigger=TriggerSection(modes=("threshold", "rise"), rearm_s=2.0),
    limits=Limits(false_triggers_per_day=300.0, detection=0.8, clipped_share=0.05),
    wanted=(Wanted(sound="vehicle horn", distance_m=4.0),),
    storage=Storage(card_gb=64.0),
    schedule=ScheduleSection(active=("08:00-20:00",), traffic_by_hour="published"),
)
# around one of the passages
MARKS = (Mark(58.5, 61.9, "shout"),)


@lru_cache(maxsize=8)
def wave_of(seconds: float = 180.0, seed: int = 31) -> Array:
    """Noise at −47 dB FS with a passage of half a second every four seconds, −42 to −18 dB FS."""
    rng = np.random.default_rng(seed)
    level = np.full(round(seconds * RATE_HZ), 0.003)
    every = np.arange(3.0, seconds - 1, 4.0)
    for at in every + rng.uniform(0, 2, len(every)):
        begin = round(at * RATE_HZ)
        level[begin : begin + RATE_HZ // 2] = 10 ** (rng.uniform(-45, -21) / 20)
    return np.clip(level * rng.normal(0, 1, len(level)), -1, 1)


def heard(
    site: Site = SITE,
    wave: Array | None = None,
    name: str = "lane.wav",
    start: datetime = NOON,
    marks: Sequence[Mark] = (),
) -> Measurement:
    """The measurement of a wave with the gains of the site."""
    samples = wave_of() if wave is None else wave
    sound = recording_of_array(samples, RATE_HZ, name)
    return measure(Visit(sound, start=start, marks=marks), gains=gains_to_simulate(site))


@lru_cache(maxsize=4)
def survey(site: Site = SITE, marks: Sequence[Mark] = MARKS) -> Survey:
    """The street with its marks and its schedule."""
    return survey_of([heard(site, marks=marks)], site)


@lru_cache(maxsize=4)
def plan(site: Site = SITE, asked: Asked | None = None) -> SitePlan:
    """The plan of the street."""
    return plan_of(survey(site), asked)
