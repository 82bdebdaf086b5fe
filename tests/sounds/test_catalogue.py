"""The table of built-in sounds against its sources."""

import numpy as np
import pytest

from audiolevel.sounds.catalogue import SOUNDS, find, with_level
from audiolevel.sounds.synthesis import (
    render,
)
from tests.sounds.bands import a_weighted_square, received_db

NAMES = [sound.name for sound in SOUNDS]


def test_voices_agree_with_iso_9921_within_its_own_steps() -> None:
    # ISO 9921:2003, annex A: normal 60, raised 66, loud 72 dB(A) at 1 m, in steps of 6 dB; a
    # shout is 'very loud', 78 dB(A), or more.
    for name, level_db in (("normal voice", 60), ("raised voice", 66), ("loud voice", 72)):
        assert find(name).level_db == pytest.approx(level_db, abs=3.0)
    assert find("shout").level_db > 78.0


def test_the_pattern_costs_4_26_db_of_the_steady_level() -> None:
    # Sounding for 37.5 % of the time: LAeq = Lon + 10 lg 0.375 = Lon - 4.26 dB.
    square = a_weighted_square(render(find("smoke alarm"), 48_000))
    steady_db = 10.0 * np.log10(np.mean(square[24_000 + 4_800 : 24_000 + 19_200]))
    laeq_db = 10.0 * np.log10(square.sum() / (8 * 48_000))
    assert laeq_db - steady_db == pytest.approx(-4.26, abs=0.05)


def test_the_horn_lies_between_what_rules_ask_of_vehicle_and_device() -> None:
    # A device of 105 to 118 dB(A) at 2 m gives 94.1 to 107.1 at 7 m in the free field
    # (20 lg 3.5 = 10.88 dB); UN Regulation No. 28 asks the vehicle for 93 there.
    horn = find("vehicle horn")
    assert horn.at_m == 7.0
    low, high = (received_db(with_level(horn, level, at_m=2.0), 7.0) for level in (105.0, 118.0))
    assert low == pytest.approx(94.1, abs=0.1)
    assert high == pytest.approx(107.1, abs=0.1)
    assert 93.0 < horn.level_db < (low + high) / 2
    # the least that is allowed lies within two deviations of the next horn
    spread = np.hypot(horn.event_spread_db, horn.mean_spread_db)
    assert horn.level_db - 2 * spread < 93.0


def test_the_smoke_alarm_is_no_quieter_than_its_standard_asks() -> None:
    # EN 14604: at least 85 dB(A) at 3 m
    alarm = find("smoke alarm")
    assert alarm.at_m == 3.0
    assert alarm.level_db - alarm.event_spread_db >= 85.0


def test_every_sound_names_its_sources() -> None:
    assert len(set(NAMES)) == len(NAMES) == 10
    for sound in SOUNDS:
        assert sound.source, sound.name
        assert sound.shape_source, sound.name
        assert sound.spread_source, sound.name
        assert sound.event_spread_db > 0
        assert sound.mean_spread_db > 0
        low_db, high_db = sound.range_db
        assert low_db <= sound.level_db <= high_db
        if sound.certainty in ("from memory", "common practice"):
            assert any(word in sound.source for word in ("memory", "practice", "without a study"))
