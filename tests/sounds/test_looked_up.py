"""Sounds looked up, given a known level, and carried: band sums against the filtered waveform."""

from typing import Any

import numpy as np
import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.sounds.catalogue import SOUNDS, find, with_level
from audiolevel.sounds.propagation import Air
from audiolevel.sounds.synthesis import (
    lafmax_db,
    render,
)
from tests.sounds.bands import a_weighted_square, fast_level_db, received_db

NAMES = [sound.name for sound in SOUNDS]


@pytest.mark.parametrize("name", NAMES)
def test_the_band_sum_and_the_filtered_waveform_agree_at_a_distance(name: Any) -> None:
    sound, weather = find(name), Air(20.0, 50.0)
    for distance_m in (2.0, 50.0):
        near = lafmax_db(render(sound, 48_000) / 20e-6, 48_000)
        far = lafmax_db(render(sound, 48_000, distance_m=distance_m, air=weather) / 20e-6, 48_000)
        by_bands = received_db(sound, distance_m, weather) - sound.level_db
        assert far - near == pytest.approx(by_bands, abs=0.5)


def test_a_known_level_replaces_the_built_in_one() -> None:
    mine = with_level(find("normal voice"), 80.0, at_m=2.0)
    pressure = render(mine, 48_000, distance_m=4.0, air=Air(20.0, 50.0))
    assert np.max(fast_level_db(a_weighted_square(pressure))) == pytest.approx(73.97, abs=0.2)
    assert mine.certainty == "user"


def test_names_are_found_whatever_the_capitals_and_suggested_when_wrong() -> None:
    assert find("  Breaking  Glass ").name == "breaking glass"
    with pytest.raises(SettingError, match="did you mean 'breaking glass'"):
        find("braking glas")
    with pytest.raises(SettingError, match="known: vehicle horn"):
        find("zzzzzz")


@pytest.mark.parametrize(
    ("call", "key"),
    [
        (lambda: render(find("shout"), 100), "rate_hz"),
        (lambda: render(find("shout"), 16_000, distance_m=np.nan), "distance_m"),
    ],
)
def test_what_is_no_number_is_refused(call: Any, key: str) -> None:
    with pytest.raises(SettingError, match=key):
        call()
