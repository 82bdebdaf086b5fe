"""A recording handed on in blocks, parts and stretches, from a file and from memory."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import ArrayLike

from audiolevel.ground.errors import RecordingError
from audiolevel.metering.parts import Part
from audiolevel.metering.recordings import Recording, recording_of_array
from audiolevel.metering.sound_files import open_recording

RATE = 8000
COUNTING = (np.arange(5 * RATE) / 2**16).astype(np.float32)


def test_blocks_are_whole_seconds_and_join_to_the_whole(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (7 * 11025 + 123, 2))
    sf.write(path, noise, 11025, subtype="FLOAT")
    recording = open_recording(path)
    blocks = list(recording.blocks(about_frames=20_000))
    assert [len(block) % 11025 for block in blocks[:-1]] == [0] * (len(blocks) - 1)
    assert np.array_equal(np.concatenate(blocks), noise.astype(np.float32))


@pytest.fixture(params=["file", "memory"])
def counting(request: pytest.FixtureRequest, tmp_path: Path) -> Recording:
    """Five seconds whose samples count on, from a file and from memory."""
    if request.param == "memory":
        return recording_of_array(COUNTING, RATE)
    sf.write(tmp_path / "counting.wav", COUNTING, RATE, subtype="FLOAT")
    return open_recording(tmp_path / "counting.wav")


def test_blocks_begin_and_stop_where_they_are_asked_to(counting: Recording) -> None:
    asked = np.concatenate(list(counting.blocks(1, first_s=1, stop_s=4)))[:, 0]
    assert np.array_equal(asked, COUNTING[RATE : 4 * RATE])
    part = counting.part(Part(0.5, 4.75))
    assert part.duration_s == 4.25
    asked = np.concatenate(list(part.blocks(1, first_s=1, stop_s=3)))[:, 0]
    assert np.array_equal(asked, COUNTING[RATE * 3 // 2 : RATE * 7 // 2])


def test_who_measures_a_block_may_write_over_it() -> None:
    recording = recording_of_array(COUNTING, RATE)
    for block in recording.blocks():
        block[:] = 0
    assert np.array_equal(np.concatenate(list(recording.blocks()))[:, 0], COUNTING)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "said"),
    [
        (np.zeros((2, 2, 2)), RATE, r"shape \(frames,\) or \(frames, channels\)"),
        (np.zeros(0), RATE, "give samples"),
        ([0.0, np.nan], RATE, "sample 1 is not a number"),
        ([0.0, 0.1], 7999, "7999 Hz is not supported"),
    ],
)
def test_an_array_that_is_no_sound_is_refused(samples: ArrayLike, rate_hz: int, said: str) -> None:
    with pytest.raises(RecordingError, match=said):
        recording_of_array(samples, rate_hz)


def test_whole_numbers_are_of_their_width() -> None:
    # two's complement: the lowest number is full scale
    recording = recording_of_array(np.array([-(2**15), 2**14], np.int16), RATE)
    assert next(recording.blocks())[:, 0].tolist() == [-1.0, 0.5]
