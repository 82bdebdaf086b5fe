"""A recording in spans is the recording as a whole."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.measurement import Span, joined, measure


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
