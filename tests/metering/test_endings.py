"""Files that break off are told from whole ones, of the kinds whose reader does not say."""

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.endings import mp3_is_whole, ogg_is_whole, riff_is_whole
from audiolevel.metering.measurement import measure
from tests.metering.made_video import write_video


@pytest.fixture(scope="module")
def wave() -> np.ndarray:
    return np.random.default_rng(4).normal(0, 0.1, 44_100 * 5)


@pytest.mark.parametrize("subtype", ["VORBIS", "OPUS"])
def test_an_ogg_says_which_page_is_its_last(tmp_path: Path, wave: np.ndarray, subtype: str) -> None:
    path = tmp_path / "a.ogg"
    sf.write(path, wave, 48_000, format="OGG", subtype=subtype)
    assert ogg_is_whole(path)
    assert not measure(path).truncated
    data = path.read_bytes()
    for size in (len(data) - 1, len(data) // 2, 100, 0):
        path.write_bytes(data[:size])
        assert not ogg_is_whole(path)
    path.write_bytes(data[: len(data) // 2])
    assert measure(path).truncated
    # two streams, one after the other, are a file of their own right (RFC 3533, 4)
    path.write_bytes(data + data)
    assert ogg_is_whole(path)
    # pages that come again, or that are missing
    for damaged in (data[: len(data) // 2] + data[200:], data[:-9000] + data[-4000:]):
        path.write_bytes(damaged)
        assert not ogg_is_whole(path)


# what encoders write: rates of each version of MPEG, constant and variable bit rates
@pytest.mark.parametrize("rate_hz", [8000, 16_000, 22_050, 32_000, 44_100, 48_000])
@pytest.mark.parametrize("mode", ["CONSTANT", "VARIABLE"])
def test_the_frames_of_an_mp3_are_counted(
    tmp_path: Path, wave: np.ndarray, rate_hz: int, mode: str
) -> None:
    path = tmp_path / "a.mp3"
    sf.write(path, wave, rate_hz, bitrate_mode=mode)
    frames = sf.info(path).frames
    assert mp3_is_whole(path, frames)
    assert not measure(path).truncated
    data = path.read_bytes()
    path.write_bytes(data + b"\0" * 500)  # a little tail is no damage
    assert mp3_is_whole(path, frames)
    for size in (len(data) - 10, len(data) // 2, len(data) // 10):
        path.write_bytes(data[:size])
        assert not mp3_is_whole(path, frames)
    path.write_bytes(data[: len(data) // 2])
    assert measure(path).truncated


def test_a_tag_before_an_mp3_is_no_damage(tmp_path: Path, wave: np.ndarray) -> None:
    path = tmp_path / "a.mp3"
    sf.write(path, wave, 44_100)
    tag = b"ID3\x04\0\0" + bytes([0, 0, 2, 10])  # 266 bytes follow
    path.write_bytes(tag + bytes(266) + path.read_bytes())
    assert mp3_is_whole(path, len(wave))


def test_a_riff_is_as_long_as_it_says(tmp_path: Path) -> None:
    path = tmp_path / "a.avi"
    for length, whole in ((100, True), (92, True), (101, False)):
        path.write_bytes(b"RIFF" + struct.pack("<I", length) + bytes(100))
        assert riff_is_whole(path) is whole
    path.write_bytes(b"none")
    assert riff_is_whole(path)


def test_an_avi_that_breaks_off_is_told(tmp_path: Path, wave: np.ndarray) -> None:
    path = write_video(tmp_path / "a.avi", wave, 44_100, "pcm_s16le")
    assert not measure(path).truncated
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    assert measure(path).truncated


def test_the_decoder_s_own_words_stay_unsaid(
    tmp_path: Path, wave: np.ndarray, capfd: pytest.CaptureFixture[str]
) -> None:
    """The MPEG library writes to standard error by itself; one line is said there, and ours."""
    path = tmp_path / "a.mp3"
    sf.write(path, wave, 44_100)
    data = path.read_bytes()
    damages: list[Callable[[bytes], bytes]] = [
        lambda one: one[: len(one) // 2],
        lambda one: one[:20_000] + bytes(20_000) + one[40_000:],
    ]
    capfd.readouterr()
    for damage in damages:
        path.write_bytes(damage(data))
        assert measure(path).truncated
    assert capfd.readouterr().err == ""
