"""Onsets beyond docs/conformance.md: merging, slow sounds, streams, streets."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from audiolevel.metering.measurement import measure
from audiolevel.metering.meter import time_weighted
from audiolevel.metering.onsets import OnsetFinder, find_onsets, prominence


@pytest.mark.parametrize(
    ("rate", "difference", "p"),
    [
        # ISO/PAS 1996-3:2022 formula (2), worked by hand
        (10, 10, 5.0),
        (20, 10, 5.9031),
        (50, 12, 7.2553),
        (100, 30, 8.9542),
        (250, 40, 10.3979),
    ],
)
def test_prominence(rate: float, difference: float, p: float) -> None:
    assert float(prominence(rate, difference)) == pytest.approx(p, abs=1e-4)


@pytest.mark.parametrize("interval_s", [0.01, 0.02, 0.025])
def test_a_ramp_is_one_onset_at_any_allowed_interval(interval_s: float) -> None:
    time = np.arange(0, 2, interval_s)
    found = find_onsets(np.interp(time, [0.5, 0.8], [40, 70]), interval_s=interval_s)
    assert len(found) == 1
    assert found.level_difference_db[0] == pytest.approx(30)
    assert found.start_s[0] == pytest.approx(0.5, abs=interval_s)


@pytest.mark.parametrize("rate_db_per_s", [5.0, 9.0, 10.0])
def test_ten_decibels_a_second_and_less_is_no_onset(rate_db_per_s: float) -> None:
    assert len(find_onsets(50 + rate_db_per_s * 0.01 * np.arange(300))) == 0


def test_neighbours_merge_over_40_ms_but_not_over_100() -> None:
    def pair(gap_rows: int) -> np.ndarray:
        first = 40 + 1.5 * np.arange(1, 11)
        return np.concatenate(
            [np.full(50, 40.0), first, np.full(gap_rows, 55.0), first + 15, np.full(30, 70.0)]
        )

    assert find_onsets(pair(4)).level_difference_db.tolist() == pytest.approx([30])
    assert find_onsets(pair(10)).level_difference_db.tolist() == pytest.approx([15, 15])


def test_neighbours_do_not_merge_over_a_deep_dip() -> None:
    history = np.concatenate(
        [np.full(20, 40.0), [45, 50, 55], [50, 45, 40], [45, 50, 55], np.full(20, 55.0)]
    )
    assert len(find_onsets(history)) == 2


def test_a_slow_pass_by_is_not_sudden() -> None:
    """A car at 14 m/s passes at 10 m: its level follows 1/(1 + (vt/d)²), at most 6 dB/s."""
    time = np.arange(-10, 10, 0.001)
    passing = 1e-3 / (1 + (14 * time / 10) ** 2) + 1e-6
    level = 10 * np.log10(time_weighted(passing)[9::10])
    found = find_onsets(level[100:])
    assert len(found.of_at_least(6)) == 0


@pytest.mark.parametrize("size", [1, 7, 100, 999])
def test_a_stream_finds_the_onsets_of_the_whole(size: int) -> None:
    history = np.cumsum(np.random.default_rng(7).normal(0, 0.2, 20_000))
    whole, finder = find_onsets(history, first_s=0.01), OnsetFinder()
    for at in range(0, len(history), size):
        finder.add(history[at : at + size])
    found = finder.onsets()
    assert len(found) == len(whole) > 1000
    assert np.allclose(found.start_s, whole.start_s)
    assert np.allclose(found.onset_rate_db_per_s, whole.onset_rate_db_per_s)


def test_real_street_onsets_agree_with_a_slow_reading_of_the_definition(recordings: Path) -> None:
    from audiolevel.metering.gain import Gains

    heard = measure(recordings / "street_long.wav", gains=Gains([0.0]))
    assert heard.laf is not None
    level = heard.laf / 100
    onsets, k = [], 0
    while k < len(level) - 1:  # every gradient in turn
        if level[k + 1] - level[k] > 0.1 + 1e-6:
            end = k
            while end < len(level) - 1 and level[end + 1] - level[end] > 0.1 + 1e-6:
                end += 1
            onsets.append((k, end))
            k = end
        k += 1
    joined = [onsets[0]]
    for previous, (start, end) in pairwise(onsets):
        p_start, p_end = previous
        steep = level[start] - level[p_start] > 0.1 * (start - p_start) + 1e-6
        steep &= level[end] - level[p_end] > 0.1 * (end - p_end) + 1e-6
        if start - p_end < 5 and steep:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    assert heard.onsets is not None
    assert len(heard.onsets) == len(joined)
    expected = [round(level[end] - level[start], 2) for start, end in joined]
    assert heard.onsets.level_difference_db.tolist() == pytest.approx(expected, abs=1e-6)
    slopes = [np.polyfit(np.arange(e - s + 1) * 0.01, level[s : e + 1], 1)[0] for s, e in joined]
    assert heard.onsets.onset_rate_db_per_s.tolist() == pytest.approx(slopes, rel=1e-6)
