"""Card, clips and days, against sums done by hand, published bit rates and chance itself."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audiolevel.planning.storage import (
    card_life,
    days_to_fill,
    mbit_per_s,
    recorded_share,
    storage_notices,
    together_share,
)
from audiolevel.report.words.cautions import notice_text
from audiolevel.report.words.quantities import days
from audiolevel.report.words.settings import card_text
from audiolevel.site.sections import AUDIO_KBIT_S, Storage

CARD = Storage(card_gb=100.0, recording_mbit_s=10.0, overhead_share=0.0)


@pytest.mark.parametrize(
    ("card_gb", "mbit_s", "hours"),
    [
        # by hand: 100 GB are 8e11 bit; at 10 Mbit/s that is 80,000 s
        (100, 10, 80_000 / 3600),
        # by hand: 32·10⁹ byte · 8 / 2.064·10⁶ bit/s = 124031 s
        (32, 2.064, 34.453),
        # by hand: G.711 alone, 32·10⁹ · 8 / 64000 = 4·10⁶ s
        (32, 0.064, 1111.11),
        (1000, 2, 1111.11),
        (1000, 4, 555.56),
        (1000, 8, 277.78),
    ],
)
def test_hours_of_a_card_recording_all_the_time(card_gb, mbit_s, hours):
    assert float(days_to_fill(card_gb, mbit_s)) * 24 == pytest.approx(hours, rel=1e-4)


def test_bit_rates_are_those_of_the_codecs():
    # RFC 3551: PCMU and PCMA 8000 Hz · 8 bit, section 4.5.14; G726-16 to -40, section 4.5.4; L16
    # is 16 bits a sample, section 4.5.11. ITU-T G.711, G.726.
    assert AUDIO_KBIT_S["G.711"] == 8 * 8
    assert [AUDIO_KBIT_S[f"G.726-{rate}"] for rate in (16, 24, 32, 40)] == [16, 24, 32, 40]
    assert [AUDIO_KBIT_S[f"PCM {rate} kHz"] for rate in (8, 16, 48)] == [128, 256, 768]
    # a day of G.711 is 691.2 MB
    assert AUDIO_KBIT_S["G.711"] * 1000 / 8 * 86400 == pytest.approx(691.2e6)


def test_sound_adds_to_the_picture():
    assert mbit_per_s(Storage(recording_mbit_s=2.0, audio_codec="G.711")) == pytest.approx(2.064)


def test_a_card_lasts_longer_where_the_trigger_rests_on_most_days():
    daily = card_life(CARD, (20.0, 10.0, 40.0), rearm_s=0.0)
    saturdays = card_life(CARD, (20.0, 10.0, 40.0), rearm_s=0.0, days_a_week=1)
    assert daily is not None
    assert saturdays is not None
    assert saturdays.days_kept == pytest.approx(7 * daily.days_kept)


def test_twenty_clips_of_half_a_minute_a_day_by_hand():
    # 20 clips · 30 s · 2.064 Mbit/s / 8 = 154.8 MB a day without overlap; 32 GB last 206.7 days.
    # The clips of Poisson firings overlap by half of rate · clip = 0.35 %.
    card = Storage(32.0, 2.0, before_s=10, after_s=20, audio_codec="G.711", overhead_share=0.0)
    found = card_life(card, (20.0, 10.0, 40.0), rearm_s=0.0)
    assert found is not None
    assert found.days_kept == pytest.approx(206.72, rel=0.004)
    assert found.days_kept > 206.72
    assert found.low_days == pytest.approx(206.72 / 2, rel=0.01)
    assert found.high_days == pytest.approx(206.72 * 2, rel=0.01)


def test_without_dead_time_the_share_is_that_of_poisson_clips():
    rate = np.array([0.0, 1.0, 60.0, 1000.0])
    assert recorded_share(rate, 25.0) == pytest.approx(1 - np.exp(-rate * 25 / 3600))


@pytest.mark.parametrize("rearm_s", [0.0, 5.0, 10.0, 30.0, 60.0])
@pytest.mark.parametrize("per_hour", [20.0, 55.0])
def test_share_of_simulated_firings(per_hour, rearm_s):
    """A slow independent union of clips, 150 days long."""
    rng = np.random.default_rng(7)
    clip_s, mean_s = 25.0, 3600.0 / per_hour
    intervals = rearm_s + rng.exponential(mean_s - rearm_s, 150 * 24 * int(per_hour))
    times = np.cumsum(intervals)
    recorded = np.zeros(int(times[-1]) + 60, dtype=bool)
    for time in times:
        recorded[round(time) : round(time + clip_s)] = True
    simulated = recorded[: int(times[-1])].mean()
    assert recorded_share(per_hour, clip_s, rearm_s) == pytest.approx(simulated, rel=0.01)


def test_a_busy_trigger_records_all_the_time_and_no_more():
    assert recorded_share(360.0, 25.0, 10.0) == 1.0
    assert recorded_share(1e6, 25.0, 10.0) == 1.0
    assert recorded_share(1e6, 25.0) == pytest.approx(1.0)
    # clips shorter than the dead time never overlap: at most 6 of 10 s
    assert recorded_share(1e6, 6.0, 10.0) == pytest.approx(0.6)


@given(st.floats(0, 1e5), st.floats(0, 1e5), st.floats(0, 600), st.floats(0, 600), st.floats(0, 1))
def test_shares_are_shares_and_grow_with_the_rate(one, other, clip_s, rearm_s, busy):
    low, high = recorded_share(sorted((one, other)), clip_s, rearm_s)
    assert 0 <= low <= high + 1e-9 <= 1 + 2e-9
    both = float(together_share(high, busy))
    assert max(high, busy) - 1e-9 <= both <= min(1.0, high + busy) + 1e-9


def test_hours_that_are_busy_together_merge_more():
    even = card_life(CARD, (2000.0, 2000.0, 2000.0), rearm_s=0.0)
    peaked = card_life(CARD, (2000.0, 2000.0, 2000.0), rearm_s=0.0, hours=[1] * 2 + [0] * 22)
    assert even is not None
    assert peaked is not None
    # by hand: 83.3 an hour all day; 1000 an hour for two of 24 hours
    assert even.recorded_share == pytest.approx(1 - math.exp(-2000 / 24 * 25 / 3600))
    assert peaked.recorded_share == pytest.approx((1 - math.exp(-1000 * 25 / 3600)) * 2 / 24)


def test_another_recording_is_part_of_the_sum_and_said_when_it_dominates():
    busy = card_life(
        Storage(100.0, 10.0, other_recording_share=1.0), (20.0, 5.0, 50.0), rearm_s=10.0
    )
    assert busy is not None
    assert busy.dominated_by_other
    assert busy.days_kept * 24 == pytest.approx(22.16, abs=0.05)
    found = storage_notices(busy, Storage(100.0, 10.0, other_recording_share=1.0), 7.0)
    assert found[0].code == "other recording"
    assert "100 % of the time" in notice_text(found[0])
    assert "22 h" in notice_text(found[0])
    # half of the time by another, half of the rest by clips: three quarters
    assert float(together_share(0.5, 0.5)) == 0.75


def test_a_small_other_recording_does_not_dominate():
    found = card_life(
        Storage(100.0, 10.0, other_recording_share=0.01), (2000, 1500, 2500), rearm_s=10.0
    )
    assert found is not None
    assert not found.dominated_by_other


def test_a_card_that_never_fills_and_a_count_that_is_only_a_limit():
    never = card_life(CARD, (0.0, 0.0, 0.0), rearm_s=10.0)
    assert never is not None
    assert never.days_kept == math.inf
    assert card_text(never) == "nothing fills it"
    limit = card_life(CARD, (math.nan, 0.0, 100.0), rearm_s=10.0)
    assert limit is not None
    assert math.isnan(limit.days_kept)
    assert limit.high_days == math.inf
    # by hand: 100 clips of 25 s are 2.9 % of a day; 80,000 s of recording fill the card
    assert limit.low_days == pytest.approx(80_000 / (100 * 25), rel=0.02)
    assert "at least" in card_text(limit)
    assert card_life(Storage(), (1.0, 1.0, 1.0), rearm_s=10.0) is None


def test_a_card_too_small_is_a_caution():
    small = Storage(8.0, 8.0)
    codes = [
        one.code
        for one in storage_notices(card_life(small, (2000, 1e3, 4e3), rearm_s=10.0), small, 7.0)
    ]
    assert codes == ["card"]
    roomy = Storage(512.0, 2.0)
    assert not storage_notices(card_life(roomy, (10, 5, 20), rearm_s=10.0), roomy, 7.0)


@pytest.mark.parametrize(
    ("length", "said"),
    [(0.3125, "7.5 h"), (3.14, "3.1 days"), (44.4, "44 days"), (math.inf, "10 years or more")],
)
def test_lengths_in_words(length, said):
    assert days(length) == said
