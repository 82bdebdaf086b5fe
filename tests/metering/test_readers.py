"""Readers: a stream that goes one way, several files as one."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.readers import SequenceReader, SoundFileReader


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """Three files of 10, 0 and 7 frames, whose samples count on."""
    paths = []
    for number, (first, stop) in enumerate(((0, 10), (10, 10), (10, 17))):
        paths.append(tmp_path / f"{number}.wav")
        sf.write(paths[-1], np.arange(first, stop) / 32, 8000, subtype="FLOAT")
    return paths


def test_several_files_are_read_and_sought_as_one(files: list[Path]) -> None:
    def opener(path: Path) -> SoundFileReader:
        return SoundFileReader(sf.SoundFile(path))

    openers = [lambda path=path: opener(path) for path in files]
    reader = SequenceReader(openers, [10, 0, 7])
    assert (reader.read(12)[:, 0] * 32).tolist() == list(range(12))
    assert (reader.read(99)[:, 0] * 32).tolist() == list(range(12, 17))
    assert reader.read(5).shape == (0, 1)
    for at in (3, 11, 9, 0, 10):
        reader.seek(at)
        assert (reader.read(4)[:, 0] * 32).tolist() == list(range(at, at + 4))
    reader.close()


def test_a_stream_goes_onward_only_and_stays_open(files: list[Path]) -> None:
    with sf.SoundFile(files[0]) as file:
        stream = SoundFileReader(file, keep_open=True)
        stream.seek(4)
        assert (stream.read(2)[:, 0] * 32).tolist() == [4, 5]
        stream.close()
        assert not file.closed
    whole = SoundFileReader(sf.SoundFile(files[0]))
    whole.close()
