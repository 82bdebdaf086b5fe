"""The uniformly weighted ratio by hand, and the thresholds as published."""

import numpy as np
import pytest

from audiolevel.privacy import speech_security
from audiolevel.privacy.audibility import FOLLOWED_INDEX
from audiolevel.privacy.intelligibility import BANDS_HZ
from audiolevel.privacy.speech_security import uniform_ratio_db
from tests.reference import speech_security as published


def test_the_thresholds_are_those_published() -> None:
    assert speech_security.WORD_DB == published.WORD_THRESHOLD_DB
    assert speech_security.CADENCE_DB == published.CADENCE_THRESHOLD_DB
    assert speech_security.VOICE_DB == published.AUDIBILITY_THRESHOLD_DB
    assert speech_security.LOWEST_DB == published.CLIPPED_AT_DB
    assert published.SENTENCES_INDEX == FOLLOWED_INDEX
    # a word is caught at a worse ratio than cadence is lost, and that before the voice is
    assert published.WORD_THRESHOLD_DB > published.CADENCE_THRESHOLD_DB
    assert tuple(BANDS_HZ[:16].astype(int)) == published.BANDS_HZ


def test_the_mean_of_clipped_ratios_by_hand() -> None:
    speech, noise = np.zeros(18), np.full(18, 10.0)
    assert uniform_ratio_db(speech, noise) == pytest.approx(-10.0)
    # half of the sixteen bands far below the noise count −32 dB, not less
    noise[:8] = 90.0
    assert uniform_ratio_db(speech, noise) == pytest.approx((8 * -32 + 8 * -10) / 16)
    # 6.3 and 8 kHz are not among them
    noise[16:] = -80.0
    assert uniform_ratio_db(speech, noise) == pytest.approx((8 * -32 + 8 * -10) / 16)
    usable = np.ones(18, dtype=bool)
    usable[8:16] = False
    assert uniform_ratio_db(speech, noise, usable) == pytest.approx(-32.0)
    assert uniform_ratio_db(np.zeros((5, 18)), noise).shape == (5,)
