"""The choice: the limit first, one order, and what a person would expect of it on random sites."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.metering.headroom import GainMargins, gain_margins
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.planning.choice import Choice, choose
from audiolevel.planning.curves import Curve
from audiolevel.planning.option import Option, option_at, options_of
from audiolevel.planning.placement import DetectionCurve
from audiolevel.site.sections import Limits, Site

LEVELS = np.arange(-50.0, 0.0, 0.5)
CHANGES = np.arange(3.0, 41.0)
CEILING_DB = -12.0
LIMITS_PER_DAY = (500.0, 100.0, 40.0, 10.0, 2.0)


def seeds(every: int, always: int) -> list:
    """Seeds of which the first are tried always, and the others among the slow tests."""
    slow = pytest.mark.slow
    return [*range(always), *(pytest.param(seed, marks=slow) for seed in range(always, every))]


def _gains() -> list[GainMargins]:
    return [
        gain_margins(
            gain_db,
            clipped_share=0.0,
            sample_peak_db=-10.0,
            percentiles_db={"L10": -35.0, "L90": -50.0},
            noise=OwnNoise(None, -98.0),
            clipped_share_limit=0.001,
        )
        for gain_db in (-12.0, 0.0, 6.0)
    ]


def _curve(rng: np.random.Generator, mode: str, limit: float, wanted: Sequence[float]) -> Curve:
    """A site with loud events of an exponential tail, and sounds that stop being caught."""
    settings = LEVELS if mode == "threshold" else CHANGES
    heard_s = float(rng.choice([600.0, 1800.0, 3600.0]))
    start = -38.0 if mode == "threshold" else 6.0
    events = start + rng.exponential(rng.uniform(2.0, 5.0), rng.poisson(heard_s / 20))
    counts = np.array([(events >= at).sum() for at in settings])
    peaks = np.sort(events)[::-1] if mode == "threshold" else None
    prediction = predict(
        settings,
        [Visit(counts, heard_s, peaks)],
        extrapolate=mode == "threshold",
    )
    sounds = []
    for number, at_db in enumerate(wanted):
        # a logistic fall over some decibels, as of a sound in the noise of a site
        share = 1 / (1 + np.exp((settings - at_db) / 1.5))
        low, high = np.maximum(share - 0.05, 0), np.minimum(share + 0.05, 1)
        sounds.append(DetectionCurve(f"sound {number}", 5.0, share, low, high))
    return Curve(mode, 0.0, prediction, prediction.level_for_limit(limit), tuple(sounds))


def _chosen(seed: int, limit: float, louder_db: float = 0.0) -> tuple[Choice, list[Option]]:
    rng = np.random.default_rng(seed)
    modes = ["threshold", "rise"] if rng.random() < 0.5 else ["threshold"]
    wanted = {mode: [] for mode in modes}
    for _ in range(int(rng.integers(0, 3))):
        wanted["threshold"].append(rng.uniform(-42, -15) + louder_db)
        if "rise" in wanted:
            wanted["rise"].append(rng.uniform(5, 30) + louder_db)
    site = Site(limits=Limits(false_triggers_per_day=limit))
    gains = _gains()
    curves = []
    for mode in modes:
        curve = _curve(rng, mode, limit, wanted[mode])
        curves += [curve.shifted(gain.gain_db) for gain in gains]
    options = options_of(curves, gains, CEILING_DB, site)
    return choose(options, CEILING_DB, site), options


@pytest.mark.parametrize("seed", seeds(60, 20))
def test_what_keeps_the_limit_goes_before_what_does_not(seed: int) -> None:
    for limit in LIMITS_PER_DAY:
        choice, options = _chosen(seed, limit)
        option = choice.by_mode[0]
        best = option.expected.rate.best
        eligible = [one for one in options if one.keeps_limit]
        assert option.keeps_limit == bool(eligible)
        if eligible and best is not None:
            # the posterior's median at the setting; rounding of the nodes is below a per mille
            assert best <= limit * 1.001
        # what would catch next to nothing is not set, whatever it keeps
        nothing = option.catches_next_to_nothing
        assert choice.recommended is (None if nothing else option)
        assert (choice.case == "silent") == nothing
        assert (choice.case == "both") == (option.keeps_limit and option.catches_enough)
        assert (choice.case == "neither") == (not eligible and not nothing)


@pytest.mark.parametrize("seed", seeds(60, 20))
def test_lowering_the_limit_never_lowers_the_level(seed: int) -> None:
    before: dict[str, float] = {}
    for limit in LIMITS_PER_DAY:
        choice, _ = _chosen(seed, limit)
        for option in choice.by_mode:
            mode = option.trigger.mode
            assert option.as_recorded_db >= before.get(mode, -np.inf) - 1e-6
            before[mode] = option.as_recorded_db


@pytest.mark.parametrize("seed", seeds(60, 20))
def test_a_louder_sound_is_caught_no_less(seed: int) -> None:
    for limit in (100.0, 10.0):
        caught = []
        for louder_db in (0.0, 3.0, 6.0):
            choice, _ = _chosen(seed, limit, louder_db)
            (option,) = [one for one in choice.by_mode if one.trigger.mode == "threshold"]
            least = option.least_detected
            caught.append(1.0 if least is None else float(least.probability[option.row]))
        assert caught == sorted(caught) or min(caught) > 0.9  # all of them are enough


@pytest.mark.parametrize("seed", seeds(30, 12))
def test_fewer_wanted_sounds_never_raise_the_least_level(seed: int) -> None:
    rng = np.random.default_rng(seed)
    curve = _curve(rng, "threshold", 20.0, rng.uniform(-40, -18, 2).tolist())
    fewer = replace(curve, detections=curve.detections[:1])
    site = Site(limits=Limits(false_triggers_per_day=20.0))
    gains = [gain for gain in _gains() if gain.gain_db == 0.0]
    (all_of,) = options_of([curve], gains, CEILING_DB, site)
    (some,) = options_of([fewer], gains, CEILING_DB, site)
    # both stand on the same limit; what differs is only how far above it they may go
    assert some.catches_enough >= all_of.catches_enough
    if all_of.keeps_limit:
        assert some.keeps_limit


def test_where_firings_leave_a_sound_no_time_the_level_goes_up_to_where_it_is_caught() -> None:
    """A limit that every level keeps: below −30 dB the dead time after each firing hides half."""
    curve = _curve(np.random.default_rng(3), "threshold", 9000.0, [-25.0])
    (sound,) = curve.detections
    rare = np.where(LEVELS < -30.0, 0.5, sound.probability)
    hidden = replace(sound, probability=rare, low=0.7 * rare)
    site = Site(limits=Limits(false_triggers_per_day=9000.0, detection=0.8))
    gains = [gain for gain in _gains() if gain.gain_db == 0.0]
    curve = replace(curve, detections=(hidden,))
    assert curve.limit is not None
    assert (curve.limit.safe_db or 0.0) < -30.0
    (option,) = options_of([curve], gains, CEILING_DB, site)
    assert option.catches_enough
    assert option.trigger.at_db == -30.0
    assert not option_at(curve, 0, gains[0], site).catches_enough


def test_hours_unlike_the_active_ones_promise_nothing_and_do_not_end_at_the_top() -> None:
    """The far end of the interval is where nothing is safe: not the highest level there is."""
    curve = _curve(np.random.default_rng(4), "threshold", 100.0, [])
    assert curve.limit is not None
    unlike = replace(
        curve,
        prediction=replace(curve.prediction, unlike=True),
        limit=replace(curve.limit, safe_db=None),
    )
    gains = [gain for gain in _gains() if gain.gain_db == 0.0]
    site = Site(limits=Limits(false_triggers_per_day=100.0))
    (option,) = options_of([unlike], gains, 0.0, site)
    assert curve.limit.high_db is not None
    assert 0 <= option.trigger.at_db - curve.limit.high_db < 0.5
    assert option.basis == "best"


def test_a_fork_shows_the_setting_that_catches_enough_beside_the_one_that_keeps_the_limit() -> None:
    rng = np.random.default_rng(5)
    site = Site(limits=Limits(false_triggers_per_day=50.0))
    gains = [gain for gain in _gains() if gain.gain_db == 0.0]
    curve = _curve(rng, "threshold", 50.0, [-36.0])
    options = options_of([curve], gains, CEILING_DB, site)
    choice = choose(options, CEILING_DB, site)
    assert choice.is_trade
    other = choice.alternatives[-1]
    assert other.catches_enough
    assert other.trigger.at_db < choice.by_mode[0].trigger.at_db
    assert (other.expected.rate.best or 0) > 50.0


def test_where_nothing_keeps_the_limit_the_highest_level_of_any_gain_is_a_start() -> None:
    rng = np.random.default_rng(6)
    site = Site(limits=Limits(false_triggers_per_day=0.01))
    curve = _curve(rng, "threshold", 0.01, [])
    gains = _gains()
    curves = [curve.shifted(gain.gain_db) for gain in gains]
    choice = choose(options_of(curves, gains, -25.0, site), -25.0, site)
    assert choice.case == "neither"
    assert choice.recommended is not None
    # the lowest gain leaves the highest level below the ceiling
    assert choice.recommended.gain_db == -12.0
    highest = max(one.as_recorded_db for one in options_of(curves, gains, -25.0, site))
    assert choice.recommended.as_recorded_db == pytest.approx(highest)
