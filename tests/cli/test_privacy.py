"""The command `privacy`: what it says, what it refuses, and that nothing it writes holds sound."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.privacy.intelligibility import EFFORTS
from tests.studies.made_voice import babble
from tests.studies.speech_study import mixed
from tests.studies.street_noises import MAKERS, RATE_HZ


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Eighty seconds of a road at 16 kHz, ten seconds of talk in it, and its site file."""
    folder = tmp_path_factory.mktemp("privacy")
    road = np.concatenate([MAKERS["road"](np.random.default_rng(k)) for k in range(8)])
    road /= np.abs(road).max()
    quiet = 0.05 * road
    quiet[20 * RATE_HZ : 30 * RATE_HZ] = mixed(
        babble(seed=1), quiet[20 * RATE_HZ : 30 * RATE_HZ], 10.0
    )
    sf.write(folder / "secret_name.wav", np.clip(quiet, -1, 1), RATE_HZ)
    (folder / "site.toml").write_text(
        """
[microphone]
spl_at_full_scale_db = 110
[[wanted]]
sound = "vehicle horn"
distance_m = 10
[[place]]
name = "bench"
distance_m = 3
""",
        encoding="utf-8",
    )
    return folder


def run(*arguments: Any) -> Any:
    return CliRunner().invoke(main, ["privacy", *map(str, arguments)])


@pytest.fixture(scope="module")
def reviewed(street: Path) -> Any:
    out = street / "out"
    done = run(
        street / "secret_name.wav",
        *("--site", street / "site.toml", "--out", out, "--date", "2026-03-02"),
        *("--start", "2026-03-02T09:30", "--full"),
    )
    assert done.exit_code == 0, done.output
    return done.stdout, json.loads((out / "privacy.json").read_text()), out


@pytest.mark.always
def test_the_object_has_the_keys_that_are_fixed(reviewed: tuple[str, dict[str, Any], Path]) -> None:
    _, found, _ = reviewed
    assert set(found["radius_m"]) == set(EFFORTS)
    first = found["intelligibility"][0]
    assert {"gain_db", "effort", "distance_m", "sii"} <= set(first)
    gains = {one["gain_db"] for one in found["intelligibility"]}
    assert len(found["intelligibility"]) == len(gains) * 4 * 12
    assert {"recorded_min_per_day", "speech_min_per_day"} <= set(found["captured"])
    assert {"text", "speech_min_per_day", "detection"} <= set(found["measures"][0])
    assert found["speech_share_low"] <= found["speech_share"] <= found["speech_share_high"]
    # ten of 80 seconds hold talk; a window holds 2.8 s
    assert 8 / 80 < found["speech_found_share"] < 14 / 80
    assert found["places"][0]["name"] == "bench"
    assert found["radius_by_hour_m"][0]["hour"] == 9


def test_measures_stand_beside_what_they_cost(reviewed: tuple[str, dict[str, Any], Path]) -> None:
    _, found, _ = reviewed
    by_text = {one["text"]: one for one in found["measures"]}
    high = by_text["as recommended"]["recorded_high_min_per_day"]
    for text in ("a level 6 dB higher", "clips of 12.5 s in place of 25 s"):
        assert by_text[text]["recorded_high_min_per_day"] <= high
    assert by_text["fire on the level, store no sound"]["recorded_high_min_per_day"] == 0
    assert any(text.startswith("low-pass") for text in by_text)
    assert 0 <= by_text["a level 6 dB higher"]["detection"] <= 1


def test_the_text_fits_and_says_what_it_must(reviewed: tuple[str, dict[str, Any], Path]) -> None:
    text, _, _ = reviewed
    assert max(map(len, text.splitlines())) <= 80
    for needed in (
        "no legal advice",
        "no proof of privacy",
        "about 60 % understood at an index of 0.30",
        "bench",
        "2026-03-02",
        "Retention",
        "It finds 99 % of speech",
    ):
        assert needed.lower() in " ".join(text.split()).lower(), needed


def test_what_is_written_holds_no_sound(reviewed: tuple[str, dict[str, Any], Path]) -> None:
    _, _, out = reviewed
    names = {path.name for path in out.iterdir()}
    assert names == {
        "privacy.json",
        "privacy.txt",
        "privacy.md",
        "assessment.md",
        "privacy.html",
        "privacy.png",
        "rings.png",
        "rings.alt.txt",
        "privacy.alt.txt",
    }
    for path in out.iterdir():
        if path.suffix != ".png":
            path.read_text(encoding="utf-8")
        with pytest.raises(sf.LibsndfileError):
            sf.info(path)


def test_the_same_input_gives_the_same_bytes(
    street: Path, reviewed: tuple[str, dict[str, Any], Path]
) -> None:
    again = street / "again"
    run(
        street / "secret_name.wav",
        *("--site", street / "site.toml", "--out", again, "--date", "2026-03-02"),
        *("--start", "2026-03-02T09:30"),
    )
    for path in reviewed[2].iterdir():
        assert path.read_bytes() == (again / path.name).read_bytes(), path.name


def test_names_can_be_left_out(street: Path) -> None:
    out = street / "hidden"
    recording = street / "secret_name.wav"
    # the two halves of it, as two recordings
    done = run(
        *(recording, recording, "--redact", "--site", street / "site.toml", "--out", out),
        *("--json", street / "hidden.json", "--to", "20", "--from", "0", "--from", "20"),
        *("--to", "40"),
    )
    assert done.exit_code == 0, done.output
    everything = done.stdout + (street / "hidden.json").read_text()
    everything += "".join(path.read_text("utf-8", "ignore") for path in out.iterdir())
    assert "secret" not in everything
    assert str(street) not in everything
    assert "recording 2" in everything


def test_without_a_calibration_no_distance_is_claimed(street: Path) -> None:
    done = run(street / "secret_name.wav", "--json", "-")
    found = json.loads(done.stdout)
    assert found["intelligibility"] == []
    assert found["radius_m"] == {}
    text = next(one["text"] for one in found["warnings"] if one["code"] == "uncalibrated")
    assert "--assume-full-scale-db" in text
    assert found["speech_share"] is not None


def test_an_assumed_calibration_is_called_one(street: Path) -> None:
    done = run(street / "secret_name.wav", "--assume-full-scale-db", "110", "--json", "-")
    found = json.loads(done.stdout)
    assert found["calibration_assumed"]
    assert any(one["code"] == "assumed calibration" for one in found["warnings"])
    normal, raised = (found["radius_heard_m"][voice]["sentences"] for voice in ("normal", "raised"))
    assert raised > normal > 0


def test_a_level_history_is_refused(street: Path) -> None:
    history = street / "levels.csv"
    CliRunner().invoke(
        main, ["measure", str(street / "secret_name.wav"), "--history", str(history)]
    )
    done = run(history)
    assert done.exit_code == 1
    assert "level history" in done.output
    assert len(done.output.splitlines()) == 1


def test_speech_alone_street_alone_and_six_seconds_give_sensible_sheets(
    street: Path, tmp_path: Path
) -> None:
    road = 0.05 * np.concatenate([MAKERS["road"](np.random.default_rng(k)) for k in range(2)])
    talk = 0.1 * babble(seed=2)
    sheets = {}
    for name, wave in (("talk", np.tile(talk, 4)), ("road", road), ("six", road[: 6 * RATE_HZ])):
        sf.write(tmp_path / f"{name}.wav", np.clip(wave / np.abs(wave).max() / 3, -1, 1), RATE_HZ)
        done = run(tmp_path / f"{name}.wav", "--site", street / "site.toml", "--json", "-")
        assert done.exit_code == 0, done.output
        sheets[name] = json.loads(done.stdout)
    # talk is no noise that hides talk: nothing else was heard, so nothing is known
    assert sheets["talk"]["radius_m"] == {}
    assert "noise not known" in {one["code"] for one in sheets["talk"]["warnings"]}
    assert sheets["road"]["radius_m"]["normal"]["word"] > 0
    # six seconds tell neither a distance nor minutes of speech
    assert sheets["six"]["radius_m"] == {}
    for found in sheets.values():
        assert found["captured"] is None or found["captured"]["speech_min_per_day"] is None


def test_a_walk_test_is_compared(street: Path, tmp_path: Path) -> None:
    form = tmp_path / "walk.csv"
    form.write_text("distance_m,voice,words_read,words_understood\n290,normal,20,19\n")
    words = (street / "secret_name.wav", "--site", street / "site.toml")
    done = run(*words, "--walk-test", form, "--json", "-")
    assert done.exit_code == 0, done.output
    (row,) = json.loads(done.stdout)["walk_test"]
    assert row["verdict"] == "farther"
    form.write_text("distance_m,voice\n")
    refused = run(*words, "--walk-test", form)
    assert refused.exit_code == 1
    assert "no column words_read" in refused.stderr
