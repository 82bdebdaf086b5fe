"""A recording in spans is the recording as a whole, a channel is as if alone."""

import pickle
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from scipy.stats import norm

from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import joined, measure
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.row_gatherer import Span
from audiolevel.metering.visit import Visit


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("piece_s", [40, 61])
def test_spans_join_to_the_whole(tmp_path: Path, channels: int, piece_s: int) -> None:
    rng = np.random.default_rng(23)
    level = np.repeat(10 ** np.cumsum(rng.normal(0, 0.15, 2000) - 0.0002), 800)
    level = 0.25 * level / level.max() * rng.uniform(0.5, 8, len(level)) ** 0.3
    wave = rng.normal(0, 1, (len(level), channels)) * level[:, None]
    path = tmp_path / "a.wav"
    sf.write(path, np.clip(wave, -1, 1)[:-77], 8000)
    whole = measure(path)
    total = int(np.ceil(whole.duration_s))
    spans = [Span(at, min(at + piece_s, total)) for at in range(0, total, piece_s)]
    one = joined([measure(path, span=span) for span in spans])
    assert one.duration_s == pytest.approx(whole.duration_s, abs=1e-9)
    for name in ("laeq_db", "lceq_db", "lzeq_db", "lafmax_db", "lasmax_db", "lcpeak_db"):
        assert getattr(one.levels, name) == pytest.approx(getattr(whole.levels, name), abs=0.01)
    for name, value in whole.levels.percentiles_db.items():
        assert one.levels.percentiles_db[name] == pytest.approx(value, abs=0.01)
    part, all_of_it = one.levels.clipping, whole.levels.clipping
    assert part.clipped_share == pytest.approx(all_of_it.clipped_share, rel=1e-9)
    assert part.longest_run_s == all_of_it.longest_run_s > 0.05
    assert one.rises == whole.rises
    assert one.onsets is not None
    assert whole.onsets is not None
    assert len(one.onsets) == len(whole.onsets)
    assert one.onsets.start_s.tolist() == pytest.approx(whole.onsets.start_s.tolist())
    assert len(one.channel_levels) == (channels if channels > 1 else 0)
    for mine, other in zip(one.channel_levels, whole.channel_levels, strict=True):
        assert mine.laeq_db == pytest.approx(other.laeq_db, abs=0.01)
    assert np.array_equal(one.second_lafmax_db, whole.second_lafmax_db)


@pytest.mark.parametrize("channel", [1, 2])
def test_the_other_channel_does_not_spoil_the_one_listened_to(channel: int) -> None:
    """The second clips; at +30 dB the first does too, beyond what is put up with."""
    rng = np.random.default_rng(24)
    wave = np.clip(rng.normal(0, 1, (20 * 8000, 2)) * [0.03, 0.6], -1, 1)
    gains = Gains((0.0, 6.0, 30.0), clipped_share_limit=0.2)
    of_two = measure(Visit(wave, rate_hz=8000, channel=channel), gains=gains)
    alone = measure(recording_of_array(wave[:, channel - 1], 8000), gains=gains)
    assert of_two.levels == alone.levels
    assert of_two.half_scale_share == alone.half_scale_share
    # |x| > ½ of full scale: 2·Q(0.5/0.6) of a normal distribution, and next to none of the first
    normal = 0.0 if channel == 1 else 2 * norm.sf(0.5 / 0.6)
    assert of_two.half_scale_share == pytest.approx(normal, abs=0.005)
    for one, other in zip(of_two.gains, alone.gains, strict=True):
        assert (one.clipped_share, one.given_up) == (other.clipped_share, other.given_up)
    assert of_two.gains[2].given_up


def test_a_measurement_and_its_cautions_reach_another_process(tmp_path: Path) -> None:
    wave = np.clip(np.random.default_rng(25).normal(0, 1, (3 * 8000, 2)), -1, 1) * [1, 0]
    sf.write(tmp_path / "a.wav", wave, 8000)
    found = measure(tmp_path / "a.wav", gains=Gains((0.0, 6.0)))
    cautions = quality_notices(found, Scale())
    assert {"clipped", "channel dead"} <= {one.code for one in cautions}
    there, told = pickle.loads(pickle.dumps((found, cautions)))
    assert there.levels == found.levels
    assert there.channel_levels == found.channel_levels
    assert there.laf is not None
    assert found.laf is not None
    assert np.array_equal(there.laf, found.laf)
    assert told == cautions
