"""Plans of many random sites: none breaks its own limit, none says an impossible number.

    python -m tests.studies.random_sites [COUNT]
    python -m tests.studies.random_sites --aloud [COUNT]

Streets are computed (pass-bys over a background, some with impulses); calibration, gains, limits,
wanted sounds (one to four, some out of reach), marks, schedule and start time are drawn. What is
asserted is read from the JSON of the plan, as any other program would, and from the papers: screen,
page, record, and what a review of privacy takes from the JSON. `--aloud` prints the first lines of
so many plans, to be read and judged by the question "what would I do now?".
"""

import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from functools import cache
from html import unescape
from typing import Any

import numpy as np
from jsonschema import Draft202012Validator

from audiolevel.counting.schedule import read_schedule
from audiolevel.metering.annotations import Mark
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.recordings import recording_of_array
from audiolevel.planning.asked import planned_option
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.plan_record import plan_of_object
from audiolevel.planning.survey import survey_of
from audiolevel.report.plan.document import plan_document, set_words
from audiolevel.report.plan.json import as_json
from audiolevel.report.plan.page import plan_page
from audiolevel.report.plan.record import record_document
from audiolevel.report.text import brief, whole
from audiolevel.site.sections import (
    GainSteps,
    Limits,
    Microphone,
    ScheduleSection,
    Site,
    Storage,
    TriggerSection,
    Wanted,
)
from tests.plan_schema import plan_schema

RATE_HZ = 8000
STREETS = 6
STEPS = ((0.0, -24.0), (1.0, -12.0), (2.0, 0.0), (3.0, 12.0))
LIMITS = (1.0, 5.0, 20.0, 100.0, 1000.0)
SCHEDULES = ((), ("20:00-06:00",), ("mon-fri 18:00-07:00", "sat-sun 00:00-24:00"), ("09:00-10:00",))
SOUNDS = ("breaking glass", "vehicle horn", "metal bang", "shout", "smoke alarm")


@cache
def street(number: int) -> Measurement:
    """A computed street of 4 to 12 minutes, measured at every gain."""
    rng = np.random.default_rng([7, number])
    seconds = int(rng.integers(4, 13)) * 60
    time = np.arange(0, seconds, 0.01)
    power = np.full(len(time), 10 ** rng.uniform(-6.5, -5.0))
    for at in rng.uniform(0, seconds, int(seconds * rng.uniform(0.02, 0.2))):
        power += 10 ** rng.normal(-3.6, 0.35) / (1 + ((time - at) / 0.9) ** 2)
    for at in rng.uniform(0, seconds, int(rng.integers(0, 8))):
        fall = np.exp(-np.maximum(time - at, 0) / 0.2)
        power += np.where(time > at, 10 ** rng.normal(-2.6, 0.4) * fall, 0)
    wave = rng.normal(0, 1, seconds * RATE_HZ) * np.sqrt(np.repeat(power, RATE_HZ // 100))
    recording = recording_of_array(np.clip(wave, -1, 1), RATE_HZ, f"street {number}")
    return measure(
        recording,
        gains=Gains([gain_db for _, gain_db in STEPS], OwnNoise(-95.0, -98.0, stated=True), 0.001),
    )


def site(rng: np.random.Generator) -> Site:
    """A site file drawn by chance."""
    calibrated = rng.random() < 0.7
    modes = [mode for mode in ("threshold", "rise", "fall", "change") if rng.random() < 0.5]
    wanted = tuple(
        # from 1 to 200 m, as many near as far: some are out of reach
        Wanted(sound=str(name), distance_m=round(float(10 ** rng.uniform(0, 2.3)), 1))
        for name in rng.choice(SOUNDS, size=int(rng.integers(0, 5)), replace=False)
    )
    return Site(
        microphone=Microphone(
            spl_at_full_scale_db=float(rng.integers(100, 126)) if calibrated else None
        ),
        gain=GainSteps(recorded_at=2.0, steps=STEPS),
        trigger=TriggerSection(
            modes=tuple(modes) or ("threshold",), rearm_s=float(rng.choice([1.0, 10.0, 60.0]))
        ),
        limits=Limits(
            false_triggers_per_day=float(rng.choice(LIMITS)),
            detection=float(rng.choice([0.5, 0.9])),
        ),
        wanted=wanted if calibrated else (),
        storage=Storage(card_gb=64.0) if rng.random() < 0.5 else Storage(),
        schedule=ScheduleSection(
            active=SCHEDULES[int(rng.integers(len(SCHEDULES)))],
            traffic_by_hour="published" if rng.random() < 0.5 else (),
        ),
    )


def plan(number: int) -> tuple[SitePlan, dict[str, Any]]:
    """The plan of a random site, and its JSON."""
    rng = np.random.default_rng([8, number])
    drawn = site(rng)
    measurement = street(int(rng.integers(STREETS)))
    if rng.random() < 0.5:
        start = datetime(2026, 3, int(rng.integers(2, 9)), int(rng.integers(24)), 10)
        measurement = replace(measurement, start=start)
    marks: tuple[Mark, ...] = ()
    if rng.random() < 0.3:
        at_s = float(rng.uniform(10, measurement.duration_s - 20))
        marks = (Mark(at_s, at_s + 2.0, "clang"),)
    made = plan_of(survey_of([replace(measurement, marks=marks)], drawn))
    return made, as_json(made)


def impossible(made: SitePlan, written: dict[str, Any]) -> Iterator[str]:
    """Numbers in a plan's JSON that cannot be, each in words."""
    drawn = made.survey.site
    hours = read_schedule(drawn.schedule.active).hours_active_per_day
    # four significant figures are written
    most = 3600 * hours / drawn.trigger.rearm_s * 1.0006
    full_scale = drawn.microphone.spl_at_full_scale_db or 0.0
    options = [written["recommended"], *written["options"], *written["alternatives"]]
    for option in filter(None, options):
        for name, value in option["expected"].items():
            if name.endswith("per_day") and value is not None and value > most:
                yield f"{name} {value} of at most {most:.0f}"
        quantiles = option["expected"]["rate_quantiles"]["per_day"]
        if max(filter(None, quantiles), default=0.0) > most:
            yield f"quantiles {quantiles} of at most {most:.0f}"
        if option["mode"] == "threshold":
            scale = full_scale - option["gain_db"] if full_scale else 0.0
            levels = [option["level_db"], *(option["level_for_limit"] or {}).values()]
            if max(level for level in levels if level is not None) > scale + 0.01:
                yield f"levels {levels} above full scale {scale}"
        for caught in option["detection"]:
            if not 0 <= caught["low"] <= caught["probability"] <= caught["high"] <= 1:
                yield f"detection {caught}"
    for curve in written["curves"]:
        for name in ("per_day", "rate_low_per_day", "rate_high_per_day", "high_per_day"):
            if max((x for x in curve[name] if x is not None), default=0.0) > most:
                yield f"curve {name} above {most:.0f}"


def broken_promise(written: dict[str, Any]) -> str | None:
    """What is wrong with the recommendation against the limit; None if nothing."""
    option, limit = written["recommended"], written["false_triggers_per_day_limit"]
    if option is None:
        return None if written["case"] == "silent" else "nothing recommended"
    if written["case"] == "silent":
        return "something is set where nothing is to be set"
    best = option["expected"]["per_day"]
    keeps = [one for one in written["options"] if one["basis"] != "none"]
    if keeps and option["basis"] == "none":
        return "an option that keeps the limit stands unused"
    # four significant figures are written
    if keeps and best is not None and best > limit * 1.002:
        return f"{best} a day for a limit of {limit}"
    if (written["case"] == "neither") == bool(keeps):
        return f"case {written['case']} with {len(keeps)} options that keep the limit"
    return None


def useless(written: dict[str, Any]) -> str | None:
    """What is wrong with a setting that catches nothing of what is wanted; None if nothing."""
    option = written["recommended"]
    if option is None:
        return None
    wishes = [one for one in option["detection"] if not one["in_recording"]]
    caught = [one["probability"] for one in wishes]
    swept = [
        share
        for curve in written["curves"]
        for sound in curve["detection"]
        if not sound["in_recording"]
        for share in sound["probability"]
    ]
    if caught and max(caught) < 0.1 and max(swept) > 0.5:
        return f"catches {max(caught):.0%} at best where {max(swept):.0%} can be had"
    return None


def papers(made: SitePlan, written: dict[str, Any]) -> Iterator[str]:
    """Papers of a plan that name another setting than its JSON, each in words."""
    option = made.recommended
    if option is None:
        words = "SET nothing"
    else:
        words = set_words(option, made)
        at = written["recommended"].get("level_db", written["recommended"].get("change_db"))
        if f"{at:g} dB" not in words:
            yield f"JSON {at:g}, in words {words}"
    told = {
        "screen": brief(plan_document(made, "site"), "--full"),
        "text": whole(plan_document(made, "site")),
        "page": unescape(re.sub("<[^>]*>", " ", plan_page(made, "site", written, {}))),
    }
    if option is not None:
        told["record"] = whole(record_document(made, "site"))
        read = planned_option(made.survey, made.gains, plan_of_object(written))
        told["privacy"] = set_words(read, made) if read else ""
    for name, said in told.items():
        if words not in " ".join(said.split()):
            yield f"{name} does not say: {words}"


def run(count: int) -> tuple[Counter[str], list[str]]:
    """Cases of so many random sites, and everything that is wrong with them."""
    cases: Counter[str] = Counter()
    wrong = []
    validator = Draft202012Validator(plan_schema())
    for number in range(count):
        made, written = plan(number)
        cases[written["case"]] += 1
        wrong += [f"site {number}: {what}" for what in impossible(made, written)]
        wrong += [f"site {number}: {one.message}" for one in validator.iter_errors(written)]
        found = (broken_promise(written), useless(written), *papers(made, written))
        wrong += [f"site {number}: {what}" for what in found if what is not None]
    return cases, wrong


def aloud(count: int) -> None:
    """Print the decisions of so many sites."""
    for number in range(count):
        made, _ = plan(number)
        lines = brief(plan_document(made, f"site {number}"), "--full").splitlines()
        wishes = (f"{one.sound} at {one.distance_m:g} m" for one in made.survey.site.wanted)
        print(f"# {made.limit_per_day:g} a day; {', '.join(wishes) or 'no wishes'}")
        print(*lines, "", sep="\n")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    if "--aloud" in sys.argv:
        aloud(*numbers or [20])
    else:
        found, mistakes = run(*numbers or [300])
        print(dict(found), *mistakes, sep="\n")
