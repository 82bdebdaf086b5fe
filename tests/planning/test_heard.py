"""Digital silence is no time that anybody listened: a plan is that of the sound alone."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from audiolevel.ground.arrays import Array
from audiolevel.metering.measurement import Measurement
from audiolevel.planning.heard import heard_part, is_silent, silence_notices
from audiolevel.planning.placement import moment_weights, placing_stretches
from audiolevel.planning.prediction import swept_with
from audiolevel.planning.survey import survey_of
from audiolevel.triggers.trigger import Trigger
from tests.made_street import RATE_HZ, SITE, heard, wave_of

SECONDS = 120.0
TEN = datetime(2026, 3, 3, 10, 0)


@pytest.fixture(scope="module")
def sound() -> Measurement:
    return heard(wave=wave_of(SECONDS, 1))


@pytest.fixture(scope="module")
def late() -> Measurement:
    """Four minutes of silence before the same sound."""
    silence = np.zeros(240 * RATE_HZ)
    return heard(wave=np.concatenate([silence, wave_of(SECONDS, 1)]), name="late.wav")


def test_what_is_left_has_the_levels_of_the_sound(sound: Measurement, late: Measurement) -> None:
    left = heard_part(late)
    # the first second after silence settles the meter and is not counted
    assert left.heard_s == pytest.approx(SECONDS - 1.0, abs=0.02)
    assert left.duration_s == 240.0 + SECONDS
    assert left.rows == late.rows == len(late.laf if late.laf is not None else ())
    for name in ("L10", "L50", "L90"):
        own, other = (one.levels.percentiles_db[name] for one in (left, sound))
        assert own == pytest.approx(other, abs=0.2)
    assert left.levels.laeq_db == pytest.approx(sound.levels.laeq_db, abs=0.1)
    assert left.levels.lafmin_db == pytest.approx(sound.levels.lafmin_db, abs=1.0)
    assert late.levels.percentiles_db["L50"] < -190
    # nothing to leave out, or nothing but silence: as it was
    assert heard_part(sound) is sound
    silent = heard(wave=np.zeros(60 * RATE_HZ))
    assert is_silent(silent)
    assert heard_part(silent) is silent


def test_the_share_of_clipped_samples_is_that_of_the_sound() -> None:
    loud = np.clip(40 * wave_of(60.0, 2), -1, 1)
    alone = heard(wave=loud)
    after = heard(wave=np.concatenate([np.zeros(180 * RATE_HZ), loud]))
    left = heard_part(after)
    assert after.gains[2].clipped_share < 0.3 * alone.gains[2].clipped_share
    assert left.levels.clipping.clipped_share == pytest.approx(
        alone.levels.clipping.clipped_share, rel=0.02
    )
    for one, other in zip(left.gains, alone.gains, strict=True):
        assert one.clipped_share == pytest.approx(other.clipped_share, rel=0.02)
    assert left.half_scale_share == pytest.approx(alone.half_scale_share, rel=0.02)


@pytest.mark.parametrize("mode", ["threshold", "rise", "fall"])
def test_counts_a_day_are_those_of_the_sound_alone(
    sound: Measurement, late: Measurement, mode: str
) -> None:
    at_db = sound.levels.lafmax_db - 6 if mode == "threshold" else 6.0
    trigger = Trigger(mode, at_db)
    days = []
    for parts in ([sound], [late], [late, heard(wave=np.zeros(600 * RATE_HZ), name="off.wav")]):
        survey = survey_of(parts, SITE, place_wanted=False)
        levels = [laf for one in survey.measurements if (laf := one.gains[0].laf) is not None]
        counts, row = swept_with(survey, levels, trigger, 0.0)
        expected = counts.prediction.at(row)
        days.append((expected.seen, expected.rate))
    (seen, alone), (seen_late, late_day), (seen_beside, beside_day) = days
    assert alone.best is not None
    assert late_day.best is not None
    assert seen_late == seen_beside == seen
    # a second of two minutes was not listened to
    assert late_day.best == pytest.approx(alone.best, rel=0.03)
    assert late_day.high == pytest.approx(alone.high, rel=0.03)
    # a silent file beside it changes nothing at all
    assert beside_day == late_day


def test_hours_are_those_from_the_first_sound_on(late: Measurement) -> None:
    survey = survey_of([replace(late, start=TEN)], SITE, place_wanted=False)
    levels = [laf for one in survey.measurements if (laf := one.gains[0].laf) is not None]
    counts, _ = swept_with(survey, levels, Trigger("threshold", -30.0), 0.0)
    (visit,) = counts.visits
    assert visit.start == TEN + timedelta(seconds=241)
    assert visit.duration_s == pytest.approx(SECONDS - 1.0, abs=0.02)


def test_nothing_is_placed_in_silence(late: Measurement) -> None:
    survey = survey_of([late], SITE)
    weights = moment_weights(survey, placing_stretches(survey.measurements))
    assert weights is not None
    assert not weights[:24_100].any()
    assert weights[24_100:].all()


def _cautions(*waves: Array) -> list[tuple[str, str, str]]:
    parts = [heard(wave=wave, name=f"{i}.wav") for i, wave in enumerate(waves, 1)]
    survey = survey_of(parts, SITE, place_wanted=False)
    made = silence_notices(survey.left_out, survey.measurements)
    return [(one.code, one.cause, one.source) for one in made]


def test_the_caution_names_the_file() -> None:
    street, silence = wave_of(60.0, 1), np.zeros(30 * RATE_HZ)
    broken = np.concatenate([street, silence])
    assert _cautions(street, street) == []
    assert _cautions(street, silence) == [("not heard", "recording", "2.wav")]
    assert _cautions(silence, broken) == [
        ("not heard", "recording", "1.wav"),
        ("not heard", "stretches", "2.wav"),
    ]
    assert _cautions(broken) == [("not heard", "stretches", "")]
    # where nothing holds sound nothing is left out, and the caution is that of silence
    assert _cautions(silence, silence) == []
