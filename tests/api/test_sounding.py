"""Sounds from Python: the list, and one made to be heard."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.api.sounding import render_gain_test


def test_the_catalogue_is_listed_with_a_source_for_each() -> None:
    listed = al.catalogue()
    objects = listed.to_object()["sounds"]
    assert [one["name"] for one in objects] == [sound.name for sound in listed.sounds]
    assert all(one["source"] for one in objects)
    assert max(map(len, listed.to_text().splitlines())) <= 80


def test_a_rendered_horn_has_its_level_and_falls_with_distance(tmp_path: Path) -> None:
    # the table: 98 dB(A) at 7 m; free field: 6.02 dB less at 14 m
    site = tmp_path / "site.toml"
    site.write_text("[microphone]\nspl_at_full_scale_db = 130")
    found = {}
    for distance in (None, 14.0):
        path = tmp_path / f"{distance}.wav"
        made = al.render_sound("vehicle horn", path, distance_m=distance, rate_hz=16_000)
        samples, rate_hz = sf.read(path)
        assert rate_hz == 16_000
        assert samples == pytest.approx(made.samples, abs=2**-15)
        found[made.distance_m] = float(al.measure(path, site=site).levels.lafmax_db)
    assert found[7.0] == pytest.approx(98.0, abs=0.2)
    assert found[7.0] - found[14.0] == pytest.approx(20 * np.log10(2), abs=0.2)


def test_what_is_too_loud_for_the_file_is_cut_in_it_and_known_beside_it(tmp_path: Path) -> None:
    made = al.render_sound(
        "vehicle horn", tmp_path / "a.wav", rate_hz=16_000, spl_at_full_scale_db=80.0
    )
    assert np.abs(made.samples).max() > 2
    assert np.abs(sf.read(tmp_path / "a.wav")[0]).max() <= 1
    assert made.to_object()["peak_dbfs"] > 6
    assert max(map(len, made.to_text().splitlines())) <= 80


def test_a_sound_that_is_not_known_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(al.AudioLevelError, match="vehicle horm"):
        al.render_sound("vehicle horm", tmp_path / "a.wav")
    assert list(tmp_path.iterdir()) == []


def test_a_full_scale_that_is_no_number_renders_nothing(tmp_path: Path) -> None:
    with pytest.raises(al.AudioLevelError, match="spl_at_full_scale_db must be a number, not nan"):
        al.render_sound("vehicle horn", tmp_path / "a.wav", spl_at_full_scale_db=float("nan"))
    assert not list(tmp_path.iterdir())


def test_a_sound_has_the_name_of_what_it_is(tmp_path: Path) -> None:
    for name in ("g.mp3", "g"):
        with pytest.raises(al.AudioLevelError, match=f"{name}: sounds are written as WAV"):
            render_gain_test(tmp_path / name, rate_hz=8000)
    assert not list(tmp_path.iterdir())
    assert render_gain_test(tmp_path / "g.WAV", rate_hz=8000).path.endswith("g.WAV")
