"""Is the index the one the standard's committee gets?

Values: ANSI S3.5-1997 annex C and the test cases that the standard's working group published with
its programs, and values on which three independent open implementations agree (R's SII package,
an open Python one, and mosqito). The tolerance is 0.005; what is printed to more digits is held
tighter.
"""

from typing import Any

import numpy as np
import pytest

from audiolevel.metering.weighting import a_weighting_db
from audiolevel.privacy.intelligibility import (
    BANDS_HZ,
    BANDWIDTH_DB,
    EFFORTS,
    SPEECH_DB,
    _audibility,
    _masking_db,
    share_understood,
    sii_recorded,
)
from audiolevel.sounds.speech_levels import IMPORTANCE

QUIET = np.full(18, -50.0)
# reference internal noise spectrum level of a listener with normal hearing (table 3)
INTERNAL_NOISE_DB = np.array(
    [
        "0.6",
        "-1.7",
        "-3.9",
        "-6.1",
        "-8.2",
        "-9.7",
        "-10.8",
        "-11.9",
        "-12.5",
        "-13.5",
        "-15.4",
        "-17.7",
        "-21.2",
        "-24.2",
        "-25.9",
        "-23.6",
        "-15.8",
        "-7.1",
    ],
    dtype=float,
)


def sii(speech: Any, noise: Any, hearing_loss_db: Any = 0.0) -> Any:
    """The whole index, which the standard's cases are of: with an ear, and too loud for it."""
    speech, noise = np.asarray(speech, dtype=float), np.asarray(noise, dtype=float)
    disturbance = np.maximum(_masking_db(speech, noise), INTERNAL_NOISE_DB + hearing_loss_db)
    undistorted = np.clip(1.0 - (speech - SPEECH_DB["normal"] - 10.0) / 160.0, 0.0, 1.0)
    return _audibility(speech, disturbance) * undistorted @ IMPORTANCE


def flat(level: Any) -> Any:
    return np.full(18, float(level))


@pytest.mark.parametrize(
    ("effort", "expected"),
    [("normal", 0.995825), ("raised", 0.998255), ("loud", 0.968056), ("shout", 0.917698)],
)
def test_standard_speech_in_quiet(effort: str, expected: float) -> None:
    assert sii(SPEECH_DB[effort], QUIET) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(
    ("effort", "noise", "expected"),
    [
        ("normal", 0, 0.925162),
        ("normal", 10, 0.757302),
        ("normal", 20, 0.497357),
        ("normal", 30, 0.231599),
        ("normal", 40, 0.066319),
        ("raised", 30, 0.422159),
        ("raised", 40, 0.171717),
        ("loud", 30, 0.632626),
        ("loud", 40, 0.337386),
        ("shout", 30, 0.779003),
        ("shout", 40, 0.537197),
    ],
)
def test_standard_speech_in_flat_noise(effort: str, noise: int, expected: float) -> None:
    assert sii(SPEECH_DB[effort], flat(noise)) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(
    ("snr", "expected"),
    [(15, 0.971546), (6, 0.670317), (0, 0.466251), (-6, 0.261592), (-12, 0.056221)],
)
def test_noise_shaped_like_the_speech(snr: int, expected: float) -> None:
    speech = SPEECH_DB["normal"]
    assert sii(speech, speech - snr) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(
    ("effort", "noise", "metres", "expected"),
    [
        ("normal", -50, 2, 0.988921),
        ("normal", -50, 5, 0.974234),
        ("normal", -50, 10, 0.949964),
        ("normal", -50, 20, 0.819391),
        ("normal", 10, 2, 0.609726),
        ("normal", 10, 5, 0.382308),
        ("normal", 10, 10, 0.236515),
        ("normal", 10, 20, 0.123399),
        ("shout", 20, 1, 0.879517),
        ("shout", 20, 5, 0.768063),
        ("shout", 20, 10, 0.594686),
        ("shout", 20, 20, 0.411183),
    ],
)
def test_with_distance(effort: str, noise: int, metres: int, expected: float) -> None:
    speech = SPEECH_DB[effort] - 20 * np.log10(metres)
    assert sii(speech, flat(noise)) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(("band_level", "expected"), [(30, 0.912281), (40, 0.665237), (50, 0.3299)])
def test_pink_noise_given_as_band_levels(band_level: int, expected: float) -> None:
    assert sii(SPEECH_DB["normal"], band_level - BANDWIDTH_DB) == pytest.approx(expected, abs=1e-5)


def test_a_band_level_taken_for_a_spectrum_level_would_be_seen() -> None:
    # three independent programs: 0.665 when the bandwidth is subtracted; nearly nothing without
    assert sii(SPEECH_DB["normal"], flat(40)) < 0.1


def test_annex_c_and_the_working_groups_cases() -> None:
    # ANSI S3.5-1997 annex C.2: speech 54 dB, noise 40, 30, 20 dB in the lowest bands, then none
    noise = np.array([40.0, 30.0, 20.0] + [0.0] * 15)
    assert sii(flat(54), noise) == pytest.approx(0.8513749, abs=1e-6)
    for even, level, expected in (
        (0, -80, 0.9247666667),
        (80, 20, 0.6891314875),
        (40, -50, 0.9339307437),
    ):
        assert sii(flat(even), flat(level)) == pytest.approx(expected, abs=1e-6)
    speech = np.array([90, 5] + [40] * 12 + [-10] * 4)
    noise = np.array([10, -10, -10, 75] + [-10] * 10 + [10] * 4)
    loss = np.array([90] + [0] * 17)
    assert sii(speech, noise, loss) == pytest.approx(0.4453910059, abs=1e-6)


def test_a_hearing_loss_adds_to_the_internal_noise_and_not_to_the_noise() -> None:
    # 0.2184539; adding powers in place of taking the larger gives 0.1841
    assert sii(SPEECH_DB["normal"], flat(30), 40.0) == pytest.approx(0.2184539, abs=1e-6)


def test_mosqito_agrees() -> None:
    module = pytest.importorskip(
        "mosqito.sq_metrics.speech_intelligibility.sii_ansi.sii_ansi_freq",
        reason="mosqito is not installed",
    )
    rng = np.random.default_rng(5)
    # its table has 43.40 dB for loud speech at 400 Hz where the standard prints 43.30
    for effort, slack in (("normal", 1e-9), ("raised", 1e-9), ("loud", 5e-4), ("shout", 1e-9)):
        for _ in range(10):
            noise = rng.uniform(-20, 60, 18)
            theirs = module.sii_ansi_freq(noise, BANDS_HZ, "third_octave", effort)[0]
            assert sii(SPEECH_DB[effort], noise) == pytest.approx(theirs, abs=slack)


def test_the_tables_add_up() -> None:
    # table 3 prints overall levels 62.35, 68.34, 74.85 and 82.30 dB; its bands give within 0.1 dB
    for effort, overall in zip(EFFORTS, (62.35, 68.34, 74.85, 82.30), strict=True):
        band = 10 ** ((SPEECH_DB[effort] + BANDWIDTH_DB) / 10)
        assert 10 * np.log10(band.sum()) == pytest.approx(overall, abs=0.1)
    # A-weighted within 2 dB of the vocal efforts of ISO 9921:2003 annex A, 60, 66 and 72 dB(A)
    for effort, dba in zip(EFFORTS, (60, 66, 72), strict=False):
        band = 10 ** ((SPEECH_DB[effort] + BANDWIDTH_DB + a_weighting_db(BANDS_HZ)) / 10)
        assert 10 * np.log10(band.sum()) == pytest.approx(dba, abs=2)
    assert IMPORTANCE.sum() == pytest.approx(1, abs=1e-9)


def test_many_at_once_are_what_each_is_alone() -> None:
    rng = np.random.default_rng(1)
    speech, noise = rng.uniform(0, 60, (3, 4, 18)), rng.uniform(0, 60, (3, 4, 18))
    together = sii(speech, noise)
    assert together.shape == (3, 4)
    assert together[2, 1] == pytest.approx(float(sii(speech[2, 1], noise[2, 1])), abs=1e-12)


def test_a_recording_is_judged_without_ear_or_level() -> None:
    # 60 dB louder, speech and noise alike, is the same recording turned up; only the slope of the
    # masking, which flattens with level, differs
    speech, noise = SPEECH_DB["normal"] - 30, SPEECH_DB["normal"] - 35
    assert sii(speech, noise) <= sii_recorded(speech, noise)
    assert sii_recorded(speech - 60, flat(-np.inf)) == pytest.approx(1.0, abs=0.005)
    assert sii(speech - 60, flat(-np.inf)) == 0
    # a recording up to 3.4 kHz lacks the importance of the bands above
    carried = BANDS_HZ < 3400
    lacking = IMPORTANCE[~carried].sum()
    assert sii_recorded(speech, flat(-np.inf), carried) == pytest.approx(1 - lacking, abs=0.005)


def test_words_understood() -> None:
    # connected speech as Sherbecoe and Studebaker (2003) measured it
    assert share_understood([0.10, 0.30, 0.50, 1.0]) == pytest.approx([0.01, 0.60, 0.94, 1.0])
