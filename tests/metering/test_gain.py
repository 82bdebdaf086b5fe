"""Other gains: shifts, clipping as of the clipped wave itself, and the microphone's own noise."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import SettingError
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import measure
from audiolevel.metering.own_noise import OwnNoise

RATE = 16000


@pytest.fixture(scope="module")
def rumbling_street(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty seconds of rumble with a few loud moments, as 32-bit float."""
    rng = np.random.default_rng(11)
    noise = rng.normal(0, 0.02, 40 * RATE)
    time = np.arange(len(noise)) / RATE
    noise += 0.25 * np.sin(2 * np.pi * 30 * time) * (np.sin(2 * np.pi * time / 13) > 0.3)
    for at in (9, 22, 31):
        noise[at * RATE : at * RATE + 3000] += rng.normal(0, 0.2, 3000)
    path = tmp_path_factory.mktemp("gain") / "street.wav"
    sf.write(path, np.clip(noise, -1, 1), RATE, subtype="FLOAT")
    return path


@pytest.mark.parametrize("gain_db", [6.0, 12.0, 20.0])
def test_a_gain_that_clips_is_what_measuring_the_clipped_wave_gives(
    rumbling_street: Path, tmp_path: Path, gain_db: float
) -> None:
    simulated = measure(rumbling_street, gains=Gains([gain_db])).gains[0]
    wave, _ = sf.read(rumbling_street, dtype="float32")
    clipped = np.clip(wave * np.float32(10 ** (gain_db / 20)), -1, 1)
    direct_path = tmp_path / "clipped.wav"
    sf.write(direct_path, clipped, RATE, subtype="FLOAT")
    direct = measure(direct_path, gains=Gains([0.0]))
    assert simulated.laf is not None
    assert direct.laf is not None
    assert simulated.clipped_share > 0
    off = np.abs(simulated.laf.astype(int) - direct.laf.astype(int))
    assert off[100:].max() <= 2  # hundredths of a dB, from the first armed row on
    assert simulated.clipped_share == pytest.approx(
        np.mean(np.abs(wave) * 10 ** (gain_db / 20) > 1), rel=1e-3
    )


def test_past_clipping_a_gain_is_no_shift(rumbling_street: Path) -> None:
    heard = measure(rumbling_street, gains=Gains([-12.0, 20.0]))
    assert heard.laf is not None
    low, high = heard.gains
    assert low.shifted
    assert low.laf is not None
    assert np.array_equal(low.laf, heard.laf - 1200)
    assert not high.shifted
    assert high.laf is not None
    assert (heard.laf + 2000 - high.laf).max() > 300


def test_a_gain_is_given_up_once_its_clipping_is_past_the_limit(rumbling_street: Path) -> None:
    kept = measure(rumbling_street, gains=Gains([20.0]))
    dropped = measure(rumbling_street, gains=Gains([20.0], clipped_share_limit=0.001))
    assert dropped.gains[0].laf is None
    assert dropped.gains[0].clipped_share == kept.gains[0].clipped_share


def test_a_stated_converter_s_noise_is_added_at_a_lower_gain_and_taken_away_at_a_higher(
    rumbling_street: Path,
) -> None:
    gains = [-24.0, 0.0, 12.0]
    plain = measure(rumbling_street, gains=Gains(gains)).gains
    noisy = measure(rumbling_street, gains=Gains(gains, OwnNoise(None, -70.0, stated=True))).gains
    lower, same, higher = (
        np.median(one.laf.astype(float) - other.laf.astype(float)) / 100
        for one, other in zip(noisy, plain, strict=True)
        if one.laf is not None and other.laf is not None
    )
    assert same == 0.0
    # its own level at −24 dB beside −70 dB FS, of which the recording holds 10^-2.4 already
    assert plain[0].laf is not None
    site_db = np.median(plain[0].laf) / 100
    added = 10 * np.log10(1 + 10 ** ((-70 - site_db) / 10) * (1 - 10**-2.4))
    assert lower == pytest.approx(added, abs=0.02)
    assert added > 0.1
    # 12 dB up the site drowns what is taken away, to the hundredth
    assert -0.1 < higher <= 0.0


def test_more_gains_than_any_camera_has_are_refused() -> None:
    assert len(Gains([0.0] * 64).gains_db) == 64
    with pytest.raises(SettingError, match="at most 64"):
        Gains([0.0] * 65)
