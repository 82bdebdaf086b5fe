"""Is speech told from a street? The study, reduced; the whole of it is marked slow.

The tables of the whole are in docs/privacy.md. What is speech and what is not is known here by how
each sound was made, never by what the detector says.
"""

from pathlib import Path
from shutil import which
from typing import Any

import numpy as np
import pytest

from audiolevel.privacy.speech_detection import (
    MEASURED,
    Speech,
    SpeechDetector,
    corrected_share,
    speech_share,
)
from tests.studies.made_voice import babble
from tests.studies.speech_study import (
    PROMPTS,
    false_alarms,
    found_in,
    hits,
    mixed,
    prompts,
    rate,
    streets,
    study,
    talking,
    voices,
)
from tests.studies.street_noises import MAKERS, RATE_HZ

needs_voices = pytest.mark.skipif(
    not (which("espeak-ng") or PROMPTS.is_dir()),
    reason="neither espeak-ng nor recorded prompts are installed",
)


@pytest.fixture(scope="module")
def alone() -> Any:
    return false_alarms(part=1, recordings=None, each=6)


@pytest.mark.parametrize("kind", ["engine", "wind", "horn", "bird", "steps", "road"])
def test_what_is_no_speech_is_not_taken_for_it(alone: Any, kind: str) -> None:
    outcomes = [one for one in alone if one.street == kind]
    assert sum(one.windows for one in outcomes) == 6 * 8
    assert rate(outcomes) <= 0.05


@pytest.mark.parametrize("pitch_hz", [95.0, 130.0, 210.0, 260.0])
def test_made_voices_are_found_over_a_road(pitch_hz: float) -> None:
    road = MAKERS["road"](np.random.default_rng(300))
    voice = babble(seed=int(pitch_hz), pitch_hz=pitch_hz)
    assert found_in(mixed(voice, road, 10.0)).mean() >= 0.9
    assert not found_in(road).any()


def test_a_voice_without_syllables_or_without_a_moving_pitch_is_none() -> None:
    # the same buzz held: a hum; and a gated tone of fixed pitch: a horn
    time_s = np.arange(5 * RATE_HZ) / RATE_HZ
    hum = sum(np.sin(2 * np.pi * 140 * k * time_s) / k for k in range(1, 20))
    noise = 0.05 * np.random.default_rng(2).standard_normal(len(time_s))
    gate = (np.sin(2 * np.pi * 4 * time_s) > 0).astype(float)
    assert not found_in(hum + noise).any()
    assert not found_in(hum * gate + noise).any()


@pytest.mark.parametrize("rate_hz", [8000, 11025, 44100])
def test_other_rates_find_the_same(rate_hz: int) -> None:
    from scipy.signal import resample_poly

    voice = mixed(babble(seed=5), MAKERS["road"](np.random.default_rng(5)), 10.0)
    up, down = {8000: (1, 2), 11025: (441, 640), 44100: (441, 160)}[rate_hz]
    assert found_in(resample_poly(voice, up, down), rate_hz).mean() >= 0.85


@pytest.mark.parametrize("size", [777, 16_000, 50_001])
def test_blocks_make_no_difference(size: int) -> None:
    samples = mixed(babble(seed=3), MAKERS["road"](np.random.default_rng(3)), 0.0)
    block = np.asarray(samples, dtype=np.float32)[:, None]
    detector = SpeechDetector(RATE_HZ)
    for at in range(0, len(block), size):
        detector.add(block[at : at + size])
    result = detector.result()
    assert np.array_equal(result.detected, found_in(samples))
    assert result.duration_s == 10.0


def test_two_channels_are_one_listener() -> None:
    samples = mixed(babble(seed=4), MAKERS["road"](np.random.default_rng(4)), 10.0)
    both = np.stack([samples, -samples], axis=1).astype(np.float32)  # one wired backwards
    detector = SpeechDetector(RATE_HZ)
    detector.add(both)
    assert np.array_equal(detector.result().detected, found_in(samples))


@needs_voices
def test_voices_over_the_sample_scenario() -> None:
    from tests.studies.speech_study import _sample

    talk = voices(part=1)
    chosen = {name: talk[name] for name in list(talk)[::3]}
    outcomes = hits(1, {"sample scenario": [_sample(3)]}, chosen)
    assert len(outcomes) == 3 * len(chosen)
    assert rate(one for one in outcomes if one.ratio_db == 10) >= 0.9
    assert rate(one for one in outcomes if one.ratio_db == 0) >= 0.7


@needs_voices
def test_voices_over_the_real_street(recordings: Path) -> None:
    talk = voices(part=1)
    chosen = {name: talk[name] for name in list(talk)[1::3]}
    heard = {"real street": streets(1, recordings)["real street"][:2]}
    outcomes = hits(1, heard, chosen)
    assert rate(one for one in outcomes if one.ratio_db == 10) >= 0.9
    for street in heard["real street"]:
        assert found_in(street).mean() <= 0.05


@pytest.mark.slow
@pytest.mark.skipif(
    not (prompts("fr") and prompts("es")), reason="the prompts of the third part are not installed"
)
def test_the_whole_of_the_third_part(recordings: Path) -> None:
    outcomes = study(2, recordings)
    both = [o for o in outcomes if o.street in ("real street", "sample scenario")]
    human = [o for o in both if o.voice.startswith("recorded")]
    for ratio_db, expected in (
        (10, MEASURED.hits_at_10_db),
        (0, MEASURED.hits_at_0_db),
        (-10, MEASURED.hits_at_minus_10_db),
    ):
        found = rate(o for o in human if o.ratio_db == ratio_db)
        assert found == pytest.approx(expected, abs=0.02)
    assert rate(o for o in both if o.voice and o.ratio_db == 10) >= 0.9
    silent = [o for o in outcomes if not o.voice]
    for kind in ("real street", "sample scenario", "engine", "wind", "horn", "bird", "steps"):
        assert rate(o for o in silent if o.street == kind) <= 0.05
    ordinary = [o for o in silent if o.street != "alarm"]
    assert rate(ordinary) == pytest.approx(MEASURED.false_alarms, abs=0.002)
    assert rate(o for o in silent if o.street == "alarm") <= MEASURED.false_alarms_worst


def test_where_speech_is_is_known_by_its_level() -> None:
    speech = np.concatenate([babble(seed=1, seconds=6), np.zeros(6 * RATE_HZ)])
    truth = talking(speech)
    assert truth[:3].all()
    assert not truth[-3:].any()


def test_shares_are_corrected_by_hand() -> None:
    # Rogan and Gladen (1978): (0.30 - 0.05) / (0.85 - 0.05)
    assert corrected_share(0.30, 0.85, 0.05) == pytest.approx(0.3125)
    assert corrected_share(0.01, 0.85, 0.05) == 0.0
    assert corrected_share(0.99, 0.85, 0.05) == 1.0


def test_the_interval_of_a_share() -> None:
    # 20 min, nothing found: 80 looks of 15 s, Wilson's upper limit z²/(n + z²) = 0.04581, and
    # divided by the hits at 0 dB
    none = speech_share([Speech(np.zeros(1198, dtype=bool), 1200.0)])
    assert none is not None
    assert (none.detected_share, none.share.best, none.share.low) == (0, 0, 0)
    assert none.share.high == pytest.approx(0.04581 / MEASURED.hits_of_several, rel=1e-3)
    half = speech_share([Speech(np.arange(1198) % 2 == 0, 1200.0)])
    assert half is not None
    # Wilson's limits for a half of 80 are 0.5 ± 0.1070
    assert half.share.high == min(1.0, 0.6070 / MEASURED.hits_of_several)
    assert half.share.best is not None
    assert half.share.low < 0.5 < half.share.best < half.share.high
    assert speech_share([Speech(np.zeros(0, dtype=bool), 1.0)]) is None


def test_the_interval_covers_what_is_there() -> None:
    # simulated sites: bouts of talk of 30 s, found and missed as the study says
    rng = np.random.default_rng(11)
    covered = []
    for _ in range(200):
        share = rng.uniform(0.02, 0.6)
        talk = np.repeat(rng.random(40) < share, 30)
        hit = rng.uniform(MEASURED.hits_at_0_db, MEASURED.hits_at_10_db)
        found = np.where(talk, rng.random(1200) < hit, rng.random(1200) < MEASURED.false_alarms)
        answer = speech_share([Speech(found, 1200.0)])
        assert answer is not None
        covered.append(share in answer.share)
    assert np.mean(covered) >= 0.80


def test_a_sound_too_short_is_not_judged() -> None:
    assert len(found_in(np.zeros(2 * RATE_HZ))) == 0
    assert len(found_in(np.zeros(5 * RATE_HZ // 2))) == 1


def test_digital_silence_is_no_time_without_talk() -> None:
    road = MAKERS["road"](np.random.default_rng(300))
    talk = mixed(babble(seed=130, pitch_hz=130.0), road, 10.0)
    beside = np.concatenate([talk, np.zeros(5 * len(talk))])
    found = []
    for samples in (talk, beside):
        detector = SpeechDetector(RATE_HZ)
        detector.add(np.asarray(samples, dtype=np.float32)[:, None])
        found.append((detector.result(), detector.judged_s))
    (alone, _), (left, judged_s) = found
    # a window that sound and silence share may count to either side
    assert len(left.detected) == pytest.approx(len(alone.detected), abs=2)
    assert left.detected.sum() == pytest.approx(alone.detected.sum(), abs=2)
    assert left.duration_s == pytest.approx(alone.duration_s, abs=4)
    # every second is judged all the same, or seconds of other listeners would wait for ever
    assert judged_s == pytest.approx(len(beside) / RATE_HZ, abs=3)


def test_a_cafe_of_eight_that_talks_all_the_time_may_talk_all_the_time() -> None:
    """Voices of computation, each on its own time: the interval holds the truth, which is 1."""
    tables = sum(babble(seed, 60, 90.0 + 20.0 * seed) for seed in range(8))
    detector = SpeechDetector(RATE_HZ)
    detector.add(np.asarray(0.01 * tables, dtype=np.float32)[:, None])
    share = speech_share([detector.result()])
    assert share is not None
    assert share.share.high == 1.0
