"""What would be recorded of people: radius, minutes, measures, the sheet, and nothing more."""

import ast
import json
import math
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from shutil import which

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.planning.storage import share_of_day
from audiolevel.privacy.audibility import UNDERSTOOD_INDEX, Scene, understood
from audiolevel.privacy.intelligibility import BANDS_HZ, EFFORTS, SPEECH_DB
from audiolevel.privacy.recorded_time import captured
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.privacy.third_octaves import BandLevels, BandListener, carried_bands
from audiolevel.site import Microphone, Place, Site
from tests.study.made_voice import babble
from tests.study.speech_study import PROMPTS, mixed
from tests.study.street_noises import MAKERS, RATE_HZ

PACKAGE = Path(__file__).parents[2] / "audiolevel"

# --- bands ---------------------------------------------------------------------------------------


def listened(samples, rate_hz, start=None, size=480_000):
    listener = BandListener(rate_hz, start)
    block = np.asarray(samples, dtype=np.float32).reshape(len(samples), -1)
    for at in range(0, len(block), size):
        listener.add(block[at : at + size])
    return listener.heard()


def test_a_full_scale_sine_reads_nought_in_its_band_alone():
    time_s = np.arange(5 * 16_000) / 16_000
    level = listened(np.sin(2 * np.pi * 1000 * time_s), 16_000).exceeded_db(50)
    assert level[8] == pytest.approx(0.0, abs=0.3)
    assert np.nanmax(np.delete(level, 8)) < -60


@pytest.mark.parametrize("rate_hz", [8000, 16_000, 44_100])
def test_white_noise_rises_a_decibel_a_band(rate_hz):
    # density of white noise of rms 0.1: -20 + 3.01 - 10 lg(rate / 2) dB FS per hertz, and the
    # width of an exact third-octave is (10^0.05 - 10^-0.05) of its midband
    noise = 0.1 * np.random.default_rng(1).standard_normal(30 * rate_hz)
    level = listened(noise, rate_hz).exceeded_db(50)
    midband = 1000.0 * 10 ** (np.arange(-8, 10) / 10)
    width = midband * (10**0.05 - 10**-0.05)
    expected = -20 + 3.01 - 10 * np.log10(rate_hz / 2) + 10 * np.log10(width)
    carried = carried_bands(rate_hz)
    assert carried.sum() == {8000: 14, 16_000: 17, 44_100: 18}[rate_hz]
    # the median of few lines' power lies a little under its mean
    assert np.abs(level - expected)[carried][2:].max() < 1.0
    assert np.isnan(level[~carried]).all()


def test_band_levels_agree_with_other_filters():
    from pyoctaveband import octavefilter

    noise = MAKERS["road"](np.random.default_rng(8)) * 0.05
    theirs, centres = octavefilter(noise, RATE_HZ, fraction=3, limits=[150, 6500])
    ours = listened(noise, RATE_HZ)
    # mean power from the histogram's middles, against the filters' Leq re rms 1 (20 µPa there)
    middle = -160 + 0.25 + 0.5 * np.arange(ours.counts.shape[2])
    counts = ours.counts.sum(axis=0)
    power = (counts * 10 ** (middle / 10)).sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
    mean_db = 10 * np.log10(power[:17])
    offset = 20 * np.log10(20e-6) + 3.01
    assert len(centres) == 17
    assert np.abs(np.asarray(theirs) + offset - mean_db)[1:].max() < 0.6


def test_percentiles_hours_and_blocks():
    rng = np.random.default_rng(2)
    quiet, loud = 0.001, 0.1
    samples = np.concatenate([rng.standard_normal(120 * 8000) * a for a in (quiet, loud)])
    start = datetime(2026, 3, 2, 7, 58)
    whole = listened(samples, 8000, start)
    assert whole.hours == [7, 8]
    difference = whole.exceeded_db(10) - whole.exceeded_db(90)
    assert np.nanmedian(difference) == pytest.approx(40, abs=3)
    by_hour = whole.exceeded_db(50, 8) - whole.exceeded_db(50, 7)
    assert np.nanmedian(by_hour) == pytest.approx(40, abs=0.6)
    assert np.isnan(whole.exceeded_db(50, 12)).all()
    pieces = listened(samples, 8000, start, size=12_345)
    assert np.array_equal(pieces.counts, whole.counts)
    both = whole.with_other(pieces)
    assert np.array_equal(both.counts, 2 * whole.counts)


# --- who could be understood ---------------------------------------------------------------------


def scene(spectrum_db, *, site=None, rate_hz=48_000, full_db=99.9, floor_db=-200.0):
    """A site whose noise is the same at all times: `spectrum_db` per hertz in every band."""
    band_db = spectrum_db + 15.65 + np.arange(18) - full_db  # table 3's bandwidth adjustment
    counts = np.zeros((25, 18, 360), dtype=np.int64)
    counts[24, np.arange(18), np.floor((band_db + 160) / 0.5).astype(int)] = 1000
    bands = BandLevels(counts, carried_bands(rate_hz))
    return Scene(bands, site or Site(), full_db, format_floor_db=floor_db, rate_hz=rate_hz)


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
def test_index_with_distance(effort, spectrum, metres, expected):
    site = scene(float(spectrum))
    noise = site.noise_db(50, 0.0)
    assert noise == pytest.approx(np.full(18, 10.0), abs=1e-6)
    found = site.index(effort, np.array([metres]), noise, site.bands.carried)[0]
    # 19 m of air take 2.2 dB at 8 kHz (116.9 dB/km) and 0.07 dB at 1 kHz: a little less is left
    assert expected - 0.012 <= found <= expected + 1e-4


def test_the_radius_is_where_the_index_falls_to_its_limit():
    site = scene(15.0)
    noise = site.noise_db(90, 0.0)
    radii = [site.radius_m(effort, noise) for effort in EFFORTS]
    assert radii == sorted(radii)
    for effort, radius in zip(EFFORTS, radii, strict=True):
        index = site.index(effort, np.array([radius]), noise, site.bands.carried)[0]
        assert index == pytest.approx(UNDERSTOOD_INDEX, abs=1e-3)
    # noise of a speech-like slope 6 dB lower doubles it in the free field, the air takes a little
    further = site.radius_m("raised", noise - 6.02)
    assert 1.85 * radii[1] < further <= 2.02 * radii[1]


def test_a_loud_site_has_no_radius_and_a_silent_one_no_end():
    assert scene(80.0).radius_m("normal", np.full(18, 80.0)) == 0.0
    assert math.isinf(scene(-60.0).radius_m("shout", np.full(18, -60.0)))


def test_a_low_gain_hides_talk_in_the_microphones_noise():
    site = Site(microphone=Microphone(spl_at_full_scale_db=99.9, self_noise_dba=30.0))
    heard = scene(5.0, site=site)
    radii = [heard.carried(gain, "normal").radius_m for gain in (-36.0, -24.0, 0.0, 12.0)]
    assert radii == sorted(radii)
    assert radii[0] < 0.2 * radii[2]
    # white noise of 30 dB(A): A weighting passes 41.3 dB of 20 kHz (its noise bandwidth, 13.5 kHz)
    noise = heard.noise_db(50, -36.0)
    assert noise[8] == pytest.approx(30 - 41.3 + 36, abs=0.4)


def test_a_narrow_recording_carries_less():
    # noise that falls with frequency like the voice itself: every band counts
    spectrum = SPEECH_DB["normal"] - 30
    wide, narrow = scene(spectrum), scene(spectrum, rate_hz=8000)
    noise = wide.noise_db(50, 0.0)
    assert narrow.radius_m("normal", noise) < wide.radius_m("normal", noise)


def test_places_are_the_site_files():
    site = Site(place=(Place("bench", 3.0), Place("stop", 30.0)))
    near, far = scene(15.0, site=site).places(0.0)
    assert (near.name, far.distance_m) == ("bench", 30.0)
    assert all(near.index[effort] > far.index[effort] for effort in EFFORTS)


def test_words_for_an_index():
    # connected speech: 90 % of the words at 0.45, 60 % at 0.30, 20 % at 0.20
    assert [understood(x) for x in (0.5, 0.45, 0.44, 0.30, 0.29, 0.20, 0.19, 0.05, 0.04)] == (
        ["all"] * 2 + ["most"] * 2 + ["some"] * 2 + ["few"] * 2 + ["none"]
    )


# --- minutes a day -------------------------------------------------------------------------------


def test_clips_that_overlap_are_one():
    # by drawing: 2,000 firings a day at random, clips of 30 s laid over each other
    rng = np.random.default_rng(3)
    seconds = np.zeros(200 * 86_400, dtype=bool)
    for at in rng.integers(0, len(seconds), 200 * 2000):
        seconds[at : at + 30] = True
    assert float(share_of_day(2000, 30)) == pytest.approx(seconds.mean(), abs=0.003)
    # by hand: 20 clips of 30 s hardly overlap, 600 s of 86,400
    assert float(share_of_day(20, 30)) * 86_400 == pytest.approx(600, rel=0.004)
    assert float(share_of_day(0, 30)) == 0.0


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    """Two minutes of a road at 16 kHz, ten seconds of talk in it, and its site file."""
    folder = tmp_path_factory.mktemp("privacy")
    road = np.concatenate([MAKERS["road"](np.random.default_rng(k)) for k in range(12)])
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


def run(*arguments):
    return CliRunner().invoke(main, ["privacy", *map(str, arguments)])


@pytest.fixture(scope="module")
def told(street):
    out = street / "out"
    done = run(
        street / "secret_name.wav",
        *("--site", street / "site.toml", "--out", out, "--date", "2026-03-02"),
        *("--start", "2026-03-02T09:30"),
    )
    assert done.exit_code == 0, done.output
    return done.output, json.loads((out / "privacy.json").read_text()), out


def test_the_object_has_the_keys_that_are_fixed(told):
    _, found, _ = told
    assert set(found["radius_m"]) == set(EFFORTS)
    first = found["intelligibility"][0]
    assert {"gain_db", "effort", "distance_m", "sii"} <= set(first)
    gains = {one["gain_db"] for one in found["intelligibility"]}
    assert len(found["intelligibility"]) == len(gains) * 4 * 12
    assert {"recorded_min_per_day", "speech_min_per_day"} <= set(found["captured"])
    assert {"text", "speech_min_per_day", "detection"} <= set(found["measures"][0])
    assert found["speech_share_low"] <= found["speech_share"] <= found["speech_share_high"]
    # ten of 120 seconds hold talk; a window holds 2.8 s
    assert 8 / 120 < found["speech_found_share"] < 14 / 120
    assert found["places"][0]["name"] == "bench"
    assert found["radius_by_hour_m"][0]["hour"] == 9


def test_measures_stand_beside_what_they_cost(told):
    _, found, _ = told
    by_text = {one["text"]: one for one in found["measures"]}
    high = by_text["as recommended"]["speech_high_min_per_day"]
    for text in ("a level 6 dB higher", "clips of 12.5 s in place of 25 s"):
        assert by_text[text]["speech_high_min_per_day"] < high
    assert by_text["fire on the level, store no sound"]["speech_high_min_per_day"] == 0
    assert any(text.startswith("low-pass") for text in by_text)
    assert any("instead of threshold" in text for text in by_text)
    assert 0 <= by_text["a level 6 dB higher"]["detection"] <= 1


def test_the_text_fits_and_says_what_it_must(told):
    text, _, _ = told
    assert max(map(len, text.splitlines())) <= 80
    for needed in (
        "no legal advice",
        "no proof of privacy",
        "about 60 % understood at an index of 0.30",
        "bench",
        "2026-03-02",
        "Retention",
        "Questions for the reviewer",
        "It finds 99 % of speech",
    ):
        assert needed.lower() in " ".join(text.split()).lower(), needed


def test_what_is_written_holds_no_sound(told):
    _, _, out = told
    names = {path.name for path in out.iterdir()}
    assert names == {
        "privacy.json",
        "privacy.txt",
        "privacy.md",
        "privacy.png",
        "privacy.alt.txt",
    }
    for path in out.iterdir():
        if path.suffix != ".png":
            path.read_text(encoding="utf-8")
        with pytest.raises(sf.LibsndfileError):
            sf.info(path)


def test_the_same_input_gives_the_same_bytes(street, told):
    again = street / "again"
    run(
        street / "secret_name.wav",
        *("--site", street / "site.toml", "--out", again, "--date", "2026-03-02"),
        *("--start", "2026-03-02T09:30"),
    )
    for path in told[2].iterdir():
        assert path.read_bytes() == (again / path.name).read_bytes(), path.name


def test_names_can_be_left_out(street):
    out = street / "hidden"
    recording = street / "secret_name.wav"
    done = run(
        *(recording, recording, "--redact", "--site", street / "site.toml", "--out", out),
        *("--json", street / "hidden.json"),
    )
    assert done.exit_code == 0
    everything = done.output + (street / "hidden.json").read_text()
    everything += "".join(path.read_text("utf-8", "ignore") for path in out.iterdir())
    assert "secret" not in everything
    assert str(street) not in everything
    assert "recording 2" in everything


def test_without_a_calibration_no_distance_is_claimed(street):
    done = run(street / "secret_name.wav", "--json", "-")
    found = json.loads(done.stdout)
    assert found["intelligibility"] == []
    assert found["radius_m"] == {}
    text = next(one["text"] for one in found["warnings"] if one["code"] == "uncalibrated")
    assert "--assume-full-scale-db" in text
    assert found["speech_share"] is not None


def test_an_assumed_calibration_is_called_one(street):
    done = run(street / "secret_name.wav", "--assume-full-scale-db", "110", "--json", "-")
    found = json.loads(done.stdout)
    assert found["calibration_assumed"]
    assert any(one["code"] == "assumed calibration" for one in found["warnings"])
    assert found["radius_m"]["shout"] > found["radius_m"]["normal"] > 0


def test_a_level_history_is_refused(street):
    history = street / "levels.csv"
    CliRunner().invoke(
        main, ["measure", str(street / "secret_name.wav"), "--history", str(history)]
    )
    done = run(history)
    assert done.exit_code == 1
    assert "level history" in done.output
    assert len(done.output.splitlines()) == 1


def test_minutes_multiply_rate_and_share():
    share = SpeechShare(0.1, 0.1, 0.05, 0.2, 100, 0.95)

    class Prediction:
        per_day = np.array([40.0])
        rate_low_per_day, rate_high_per_day = np.array([10.0]), np.array([100.0])
        method = np.array(["counted"])
        by_hour = None

    class Curve:
        prediction = Prediction()

    class Option:
        curve, row = Curve(), 0

    site = replace(Site(), storage=replace(Site().storage, before_s=5.0, after_s=20.0))
    found = captured(Option(), site, share)
    # by hand: 40 × 25 s = 16.67 min, less what overlaps (0.6 %)
    assert found.recorded.best == pytest.approx(16.67, rel=0.01)
    assert found.speech.best == pytest.approx(found.recorded.best * 0.1)
    assert found.speech.low == pytest.approx(found.recorded.low * 0.05)
    assert found.speech.high == pytest.approx(found.recorded.high * 0.2)
    busy = replace(site, storage=replace(site.storage, other_recording_share=0.5))
    assert captured(Option(), busy, share).recorded.best == pytest.approx(720 + 16.57 / 2, rel=0.01)


# --- nothing more --------------------------------------------------------------------------------


def test_the_package_cannot_reach_a_network():
    banned = {"socket", "ssl", "urllib", "http", "ftplib", "smtplib", "asyncio", "requests"}
    banned |= {"urllib3", "httpx", "aiohttp", "xmlrpc", "socketserver", "webbrowser"}
    paths = sorted(PACKAGE.rglob("*.py"))
    assert len(paths) > 30
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            assert not banned & {name.split(".")[0] for name in names}, path


def test_only_made_sounds_are_ever_written():
    # one function writes sound, and only the command that renders computed sounds calls it
    users = {
        path.name
        for path in PACKAGE.rglob("*.py")
        if "write_sound" in path.read_text(encoding="utf-8")
    }
    assert users <= {"recordings.py", "sounds.py"}
    writers = {
        path.name
        for path in PACKAGE.rglob("*.py")
        if any(call in path.read_text(encoding="utf-8") for call in ("sf.write", "wavfile"))
    }
    assert writers <= {"recordings.py"}


@pytest.mark.skipif(
    not (which("espeak-ng") or PROMPTS.is_dir()),
    reason="neither espeak-ng nor recorded prompts are installed",
)
def test_a_history_tells_no_more_of_speech_than_one_band_of_noise(tmp_path):
    # Shannon et al., Science 270 (1995) 303-304: four bands are nearly perfect, one says little
    from tests.study.history_study import scores

    found = scores(tmp_path, seconds=30)
    one, two, four = (found[f"vocoder of {n}"] for n in (1, 2, 4))
    assert one < two < four
    assert found["all columns"] < one + (two - one) / 3
    assert found["all columns, not held for a second"] > one + (two - one) / 2
    assert len(BANDS_HZ) == 18


def test_the_page_shows_what_the_command_says():
    from tests import privacy_page

    assert privacy_page.shown() == privacy_page.sheet()
