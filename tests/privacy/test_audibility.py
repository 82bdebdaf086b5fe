"""Index and radius on sites whose noise is known."""

import math
from typing import Any

import numpy as np
import pytest

from audiolevel.privacy.audibility import UNDERSTOOD_INDEX, ListeningModel, understanding
from audiolevel.privacy.intelligibility import EFFORTS, SPEECH_DB
from audiolevel.privacy.third_octaves import BandLevels, usable_bands
from audiolevel.site import Microphone, Place, Site


def model_of(
    spectrum_db: Any,
    *,
    site: Any = None,
    rate_hz: int = 48_000,
    full_db: float = 99.9,
    floor_db: float = -200.0,
) -> Any:
    """A site whose noise is the same at all times: `spectrum_db` per hertz in every band."""
    band_db = spectrum_db + 15.65 + np.arange(18) - full_db  # table 3's bandwidth adjustment
    counts = np.zeros((25, 18, 360), dtype=np.int64)
    counts[24, np.arange(18), np.floor((band_db + 160) / 0.5).astype(int)] = 1000
    bands = BandLevels(counts, usable_bands(rate_hz))
    return ListeningModel(bands, site or Site(), full_db, format_floor_db=floor_db, rate_hz=rate_hz)


@pytest.mark.parametrize(
    ("effort", "spectrum", "metres", "expected"),
    # three independent programs, free field without the absorption of the air
    [
        ("normal", 10, 1, 0.757302),
        ("normal", 10, 5, 0.382308),
        ("normal", 10, 10, 0.236515),
        ("normal", 10, 20, 0.123399),
    ],
)
def test_index_with_distance(effort: str, spectrum: int, metres: int, expected: float) -> None:
    site = model_of(float(spectrum))
    noise = site.noise_db(50, 0.0)
    assert noise == pytest.approx(np.full(18, 10.0), abs=1e-6)
    found = site.index(effort, np.array([metres]), noise, site.bands.usable)[0]
    # 19 m of air take 2.2 dB at 8 kHz (116.9 dB/km) and 0.07 dB at 1 kHz: a little less is left
    assert expected - 0.012 <= found <= expected + 1e-4


def test_the_radius_is_where_the_index_falls_to_its_limit() -> None:
    site = model_of(15.0)
    noise = site.noise_db(90, 0.0)
    radii = [site.radius_m(effort, noise) for effort in EFFORTS]
    assert radii == sorted(radii)
    for effort, radius in zip(EFFORTS, radii, strict=True):
        index = site.index(effort, np.array([radius]), noise, site.bands.usable)[0]
        assert index == pytest.approx(UNDERSTOOD_INDEX, abs=1e-3)
    # noise of a speech-like slope 6 dB lower doubles it in the free field, the air takes a little
    further = site.radius_m("raised", noise - 6.02)
    assert 1.85 * radii[1] < further <= 2.02 * radii[1]


def test_a_loud_site_has_no_radius_and_a_silent_one_no_end() -> None:
    assert model_of(80.0).radius_m("normal", np.full(18, 80.0)) == 0.0
    assert math.isinf(model_of(-60.0).radius_m("shout", np.full(18, -60.0)))


def test_a_low_gain_hides_talk_in_the_converter_s_noise() -> None:
    site = Site(microphone=Microphone(spl_at_full_scale_db=99.9, converter_noise_dbfs=-69.9))
    model = model_of(5.0, site=site)
    radii = [model.curve(gain, "normal").radius_m.best for gain in (-36.0, -24.0, 0.0, 12.0)]
    assert radii == sorted(radii)
    assert radii[0] < 0.2 * radii[2]
    # white noise of 30 dB(A): A weighting passes 41.3 dB of 20 kHz (its noise bandwidth, 13.5 kHz)
    noise = model.noise_db(50, -36.0)
    assert noise[8] == pytest.approx(30 - 41.3 + 36, abs=0.4)


def test_the_capsule_s_noise_is_in_the_recording_at_every_gain() -> None:
    plain = Site(microphone=Microphone(spl_at_full_scale_db=99.9))
    noisy = Site(microphone=Microphone(spl_at_full_scale_db=99.9, self_noise_dba=45.0))
    for gain_db in (-12.0, 0.0, 12.0):
        one, other = (model_of(25.0, site=site).noise_db(50, gain_db) for site in (plain, noisy))
        assert np.array_equal(one, other)


def test_a_narrow_recording_carries_less() -> None:
    # noise that falls with frequency like the voice itself: every band counts
    spectrum = SPEECH_DB["normal"] - 30
    wide, narrow = model_of(spectrum), model_of(spectrum, rate_hz=8000)
    noise = wide.noise_db(50, 0.0)
    assert narrow.radius_m("normal", noise) < wide.radius_m("normal", noise)


def test_places_are_the_site_files() -> None:
    site = Site(place=(Place("bench", 3.0), Place("stop", 30.0)))
    near, far = model_of(15.0, site=site).places(0.0)
    assert (near.name, far.distance_m) == ("bench", 30.0)
    assert all(near.quiet[effort] > far.quiet[effort] for effort in EFFORTS)


def test_words_for_an_index() -> None:
    # connected speech: 90 % of the words at 0.45, 60 % at 0.30, 20 % at 0.20
    assert [
        understanding(x).value for x in (0.5, 0.45, 0.44, 0.30, 0.29, 0.20, 0.19, 0.05, 0.04)
    ] == (["all"] * 2 + ["most"] * 2 + ["some"] * 2 + ["few"] * 2 + ["none"])
