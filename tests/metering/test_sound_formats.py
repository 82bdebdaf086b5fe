"""What formats can hold, by their definitions."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.sound_formats import (
    LOSSY,
    bits_of,
    bytes_of,
    clip_amplitude,
    format_floor_db,
)


def test_the_highest_number_of_a_format_is_clipped_and_the_next_is_not() -> None:
    # ITU-T G.711: the last two decision values of the decoder, of 32768
    for subtype, top, next_below in (("ULAW", 32124, 31100), ("ALAW", 32256, 31232)):
        assert next_below / 32768 < clip_amplitude(subtype) < top / 32768
    assert 32766 / 32768 < clip_amplitude("PCM_16") < 32767 / 32768
    assert clip_amplitude("FLOAT") == 1.0
    assert all(clip_amplitude(one) < 1 for one in ("VORBIS", "OPUS", "MPEG_LAYER_III"))


def test_the_floor_is_that_of_an_ideal_quantiser() -> None:
    # noise of Δ²/12 against a sine of full scale: 10 lg(1.5 · 4^bits)
    for bits in (8, 16, 24):
        assert format_floor_db(bits) == pytest.approx(-10 * np.log10(1.5 * 4**bits), abs=0.02)
    assert (bits_of("PCM_U8"), bits_of("PCM_24"), bits_of("ULAW"), bits_of("unknown")) == (
        *(8, 24, 14),
        16,
    )
    assert "VORBIS" in LOSSY


def test_a_sample_takes_as_many_bytes_as_its_file_has(tmp_path: Path) -> None:
    for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW"):
        sizes = []
        for frames in (1000, 2000):
            sf.write(tmp_path / "a.wav", np.zeros(frames), 8000, subtype=subtype)
            sizes.append((tmp_path / "a.wav").stat().st_size)
        assert sizes[1] - sizes[0] == 1000 * bytes_of(subtype)
