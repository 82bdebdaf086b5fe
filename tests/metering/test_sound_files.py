"""What can be read, and what is refused in one line."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import AudioLevelError, RecordingError
from audiolevel.metering.sound_files import open_recording, read_whole, write_sound

RATE = 16000
WAVE = 0.5 * np.sin(np.arange(3 * RATE) * 0.3)


@pytest.mark.parametrize(
    ("name", "subtype", "within"),
    [
        ("a.wav", "PCM_16", 1e-4),
        ("a.wav", "PCM_24", 1e-6),
        ("a.wav", "FLOAT", 1e-7),
        ("a.wav", "DOUBLE", 1e-7),
        ("a.wav", "ULAW", 0.03),
        ("a.wav", "ALAW", 0.03),
        ("a.wav", "PCM_U8", 0.01),
        ("a.rf64", "PCM_16", 1e-4),
        ("a.flac", "PCM_16", 1e-4),
        ("a.ogg", "VORBIS", 0.1),
        ("a.ogg", "OPUS", 0.1),
        ("a.mp3", None, 0.1),
    ],
)
def test_every_format_comes_back(
    tmp_path: Path, name: str, subtype: str | None, within: float
) -> None:
    path = tmp_path / name
    sf.write(path, WAVE, RATE, subtype=subtype, format="RF64" if "rf64" in name else None)
    recording = open_recording(path)
    assert (recording.rate_hz, recording.channels) == (RATE, 1)
    assert not recording.truncated
    heard = np.concatenate(list(recording.blocks()))[:, 0]
    assert len(heard) == pytest.approx(len(WAVE), abs=1200)  # MP3 pads by a frame
    middle = slice(RATE, 2 * RATE)
    assert np.sqrt(np.mean(heard[middle] ** 2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.01)
    if len(heard) == len(WAVE) and within < 0.1:
        assert np.abs(heard - WAVE)[middle].max() < within


def _refused(path: Path, match: str) -> None:
    with pytest.raises(RecordingError, match=match) as caught:
        list(open_recording(path).blocks())
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_bad_input_is_refused_in_one_line_that_says_what_to_do(tmp_path: Path) -> None:
    _refused(tmp_path / "missing.wav", "no such file; check")
    _refused(tmp_path, "is a folder; name a sound file")
    empty = tmp_path / "empty.wav"
    empty.touch()
    _refused(empty, "is empty; copy or record")
    words = tmp_path / "words.wav"
    words.write_text("these are not samples")
    _refused(words, "not a sound file that can be read; export")
    silent = tmp_path / "none.wav"
    sf.write(silent, np.zeros(0), RATE)
    _refused(silent, "no samples; record again")
    slow = tmp_path / "slow.wav"
    sf.write(slow, WAVE, 7999)
    _refused(slow, "7999 Hz is not supported; export it at 8000 to 192000")
    fast = tmp_path / "fast.wav"
    sf.write(fast, WAVE, 192001)
    _refused(fast, "192001 Hz is not supported")


def test_not_a_number_is_refused_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "nan.wav"
    bad = WAVE.copy()
    bad[20_000] = np.nan
    sf.write(path, bad, RATE, subtype="FLOAT")
    _refused(path, r"sample 20000 \(at 1.250 s\) is not a number")
    bad[20_000] = np.inf
    sf.write(path, bad, RATE, subtype="FLOAT")
    _refused(path, r"at 1.250 s")


@pytest.mark.parametrize("name", ["cut.wav", "cut.flac"])
def test_a_file_that_breaks_off_is_read_as_far_as_it_goes(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    noise = np.random.default_rng(2).uniform(-0.5, 0.5, 3 * RATE)
    sf.write(path, noise, RATE, subtype="PCM_16")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    recording = open_recording(path)
    heard = sum(len(block) for block in recording.blocks())
    assert 0.4 * len(noise) < heard < 0.6 * len(noise)
    assert recording.truncated or heard < recording.frames


@pytest.mark.parametrize(("subtype", "top"), [("ULAW", 32124), ("ALAW", 32256), ("PCM_16", 32767)])
def test_full_scale_is_what_the_format_can_hold(tmp_path: Path, subtype: str, top: int) -> None:
    # largest values of ITU-T G.711 Tables 1a (A-law: 4032 of 4096) and 2a (µ-law: 8031 of 8192)
    path = tmp_path / "loud.wav"
    sf.write(path, np.clip(4 * WAVE, -1, 1), 8000, subtype=subtype)
    recording = open_recording(path)
    peak = float(np.abs(next(recording.blocks())).max())
    assert peak >= recording.clip_amplitude > (top - 2) / 32768


def test_a_short_sound_is_read_whole_and_a_long_one_refused(tmp_path: Path) -> None:
    path = tmp_path / "two.wav"
    sf.write(path, np.stack([WAVE, 0 * WAVE], axis=1), RATE, subtype="FLOAT")
    samples, rate_hz = read_whole(path)
    # the mean of a channel and a silent one is half of it
    assert rate_hz == RATE
    assert samples == pytest.approx(WAVE / 2, abs=1e-7)
    sf.write(path, np.zeros(61 * 8000), 8000)
    with pytest.raises(RecordingError, match="longer than 60 s; cut out one occurrence"):
        read_whole(path)


def test_a_sound_is_written_in_24_bits_and_replaces_none(tmp_path: Path) -> None:
    path = tmp_path / "made.wav"
    write_sound(path, WAVE, RATE)
    assert sf.info(path).subtype == "PCM_24"
    assert sf.read(path)[0] == pytest.approx(WAVE, abs=2.0**-23)
    before = path.read_bytes()
    with pytest.raises(AudioLevelError, match=r"made\.wav"):
        write_sound(path, 0 * WAVE, RATE)
    assert path.read_bytes() == before
