"""The review of a plan: what it needs, what it leaves out, and its names taken away."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import RecordingError
from audiolevel.metering.measurement import measure
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.privacy.audibility import SpeechAnalyser
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.review import make_review
from audiolevel.privacy.third_octaves import carried_bands
from audiolevel.site.sections import Microphone, Site
from tests.privacy.made_review import plan_and_analysis, review_of


def test_every_gain_has_every_vocal_effort() -> None:
    review = review_of()
    gains = {0.0, *(room.gain_db for room in review.plan.gains)}
    assert len(review.curves) == len(gains) * len(EFFORTS)
    assert [one.effort for one in review.at_gain(0.0)] == list(EFFORTS)
    reach = [one.farthest.words_m for one in review.at_gain(review.gain_db)]
    assert reach == sorted(reach)


def test_the_hours_that_nobody_heard_reach_farther_than_those_heard() -> None:
    review = review_of()
    # no start was given: nobody knows which hours were heard
    assert not review.listened.everywhen
    for curve in review.curves:
        assert curve.heard.words_m < curve.active.words_m <= curve.farthest.words_m
    assert review.recorded is not None
    # and minutes of speech are not said of hours that nobody heard
    assert review.recorded.speech is None


def test_where_talk_is_all_there_is_no_distance_is_known() -> None:
    plan, analysis = plan_and_analysis()
    nothing = np.zeros_like(analysis.bands.counts)
    only_talk = replace(analysis, bands=replace(analysis.bands, counts=nothing, spoken=900))
    review = make_review(plan, [only_talk])
    assert review.curves == ()
    assert review.places == ()
    assert "noise not known" in {one.code for one in review.warnings}
    # recorded minutes need no noise
    assert review.recorded is not None


def test_a_band_past_the_end_of_the_spectrum_is_not_carried() -> None:
    # 160 Hz to 3.15 kHz are fourteen third-octaves
    assert carried_bands(3500.0).sum() == 14
    assert carried_bands(24_000.0).all()


def test_without_a_calibration_no_distance_is_given() -> None:
    review = review_of(Site())
    assert review.curves == ()
    assert review.by_hour == {}
    causes = {one.cause for one in review.warnings if one.code == "uncalibrated"}
    assert causes == {"no radius"}


def test_an_assumed_calibration_is_noticed() -> None:
    review = review_of(Site().assuming(110.0))
    assumed = next(one for one in review.warnings if one.code == "assumed calibration")
    assert assumed.facts["spl_at_full_scale_db"] == 110.0


def test_sixteen_kilohertz_is_noticed_as_a_narrow_band() -> None:
    narrow = next(one for one in review_of().warnings if one.code == "narrow band")
    assert narrow.facts["top_hz"] == 6300.0


def test_digital_silence_is_no_quiet_place(tmp_path: Path) -> None:
    samples = np.zeros((20 * 16_000, 1), np.float32)
    sf.write(tmp_path / "off.wav", samples, 16_000)
    site = Site(microphone=Microphone(spl_at_full_scale_db=110.0))
    analyser = SpeechAnalyser(16_000)
    analyser.add(samples)
    off = measure(tmp_path / "off.wav", gains=gains_to_simulate(site))
    review = make_review(plan_of(survey_of([off], site)), [analyser.result()])
    assert review.curves == ()
    assert review.share is None
    codes = {one.code for one in review.warnings}
    assert "silent" in codes
    # it is neither too short nor all talk
    assert not codes & {"speech not judged", "noise not known"}


def test_without_sound_there_is_nothing_to_judge() -> None:
    plan, _ = plan_and_analysis()
    with pytest.raises(RecordingError, match="give the sound"):
        make_review(plan, [])
