"""Planted faults are met in the samples of a minute, and noise alone is accused of none."""

from collections.abc import Callable
from dataclasses import asdict

import numpy as np
import pytest

from audiolevel.batch.faults import Heard, faults
from audiolevel.batch.sound_check import BANDS, SoundCheck, SoundFacts, mark_of
from tests.batch.test_overview import record_with
from tests.studies.folder_study import RATE_HZ, street

Wave = np.ndarray


def check(wave: Wave) -> SoundFacts:
    one = SoundCheck(RATE_HZ)
    # blocks of any length
    for block in np.array_split(np.asarray(wave, dtype=np.float32)[:, None], 7):
        one.add(block)
    return one.result()


def _dc(wave: Wave) -> Wave:
    return wave + 0.05


def _hum(wave: Wave) -> Wave:
    time_s = np.arange(len(wave)) / RATE_HZ
    return wave + wave.std() * sum(np.sin(2 * np.pi * hz * time_s) / 2 for hz in (50, 100, 150))


def _stuck(wave: Wave) -> Wave:
    # a buffer of 61 ms, a length that no power of two is
    out, size = wave.copy(), 976
    out[20 * RATE_HZ : 20 * RATE_HZ + 8 * size] = np.tile(wave[20 * RATE_HZ :][:size], 8)
    return out


def _slip(wave: Wave) -> Wave:
    out = wave.copy()
    out[31 * RATE_HZ :] *= 10 ** (8.0 / 20)
    return out


_LEVELS = dict.fromkeys(("L50", "L90", "L95", "L99"), -50.0)


def test_clean_minutes_are_accused_of_nothing() -> None:
    for visit in range(4):
        facts = check(street(visit, visit, 7))
        assert facts.dc < 0.001
        assert facts.hum_db < 8.0
        assert (facts.stuck, facts.step_db) == (0, 0.0)


@pytest.mark.always
@pytest.mark.parametrize(
    ("plant", "kind"),
    [(_dc, "direct current"), (_hum, "hum"), (_stuck, "stuck"), (_slip, "gain step")],
)
def test_what_is_planted_is_found_and_nothing_else(
    plant: Callable[[Wave], Wave], kind: str
) -> None:
    # the second site of the study is a quiet one
    facts = check(plant(street(1, 1, 7)))
    sound = {**asdict(facts), "dropouts": 0, "repeats": 0}
    found = faults([Heard(record_with("a.wav", -40.0), sound)])
    assert [one.kind for one in found] == [kind]
    if kind == "gain step":
        assert facts.step_db == pytest.approx(8.0, abs=2.0)
        assert facts.step_at_s == 31.0
    if kind == "hum":
        assert facts.hum_hz == 50


def test_a_mark_is_the_level_of_each_second_in_third_octaves() -> None:
    """A tone of 1 kHz at half of full scale: all of it in one band, and steady."""
    tone = 0.5 * np.sin(2 * np.pi * 1000.0 * np.arange(5 * RATE_HZ) / RATE_HZ)
    levels = mark_of(check(tone).mark)
    assert levels.shape == (5, BANDS)
    assert (levels.argmax(axis=1) == 10).all()
    assert np.ptp(levels[:, 10]) < 0.02


def test_the_same_sound_is_known_again_from_another_moment_on() -> None:
    waves = {f"{visit}.wav": street(0, visit, 7) for visit in range(6)}
    waves["copy.wav"] = waves["3.wav"].copy()
    waves["later.wav"] = waves["5.wav"][int(7.4 * RATE_HZ) :]
    heard = [
        Heard(
            record_with(path, -40.0, percentiles_db=_LEVELS),
            {**asdict(check(wave)), "dropouts": 0, "repeats": 0},
        )
        for path, wave in waves.items()
    ]
    twice = {one.path: one.facts for one in faults(heard) if one.kind == "twice"}
    assert {path: facts["of"] for path, facts in twice.items()} == {
        "copy.wav": "3.wav",
        "later.wav": "5.wav",
    }
    assert twice["later.wav"]["later_s"] == pytest.approx(7.4, abs=0.6)


def test_half_the_speed_and_another_gain_are_held_against_their_site() -> None:
    from tests.studies.folder_study import _half_speed

    heard = []
    for visit in range(12):
        wave = street(0, visit, 7)
        wave = _half_speed(wave, np.random.default_rng(0)) if visit == 4 else wave
        by_db = -6.0 if visit == 9 else 0.1 * visit
        sound = {
            **asdict(check(wave * 10 ** (by_db / 20))),
            "dropouts": 0,
            "repeats": 0,
        }
        levels = dict.fromkeys(("L50", "L90", "L95", "L99"), -50.0 + by_db)
        heard.append(Heard(record_with(f"{visit:02d}", -40.0, percentiles_db=levels), sound))
    found = {one.path: one for one in faults(heard)}
    assert {path: one.kind for path, one in found.items()} == {"04": "rate", "09": "level"}
    assert found["04"].facts["times"] == 2.0
    # the middle of the others lies at +0.55 dB
    assert found["09"].facts["by_db"] == pytest.approx(-6.6, abs=0.15)
    assert found["09"].facts["recordings"] == 12
