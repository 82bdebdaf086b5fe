"""Sound tracks of video: the samples of another decoder, streamed, with jumps of time told."""

import shutil
import subprocess
import sys
import tracemalloc
from contextlib import closing
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from scipy.signal import lfilter

from audiolevel.ground.errors import PassingError, RecordingError
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import Part
from audiolevel.metering.sound_files import open_recording
from audiolevel.metering.video import VideoFile, is_video
from audiolevel.metering.visit import Visit
from tests.metering.made_video import remux, write_video

RATE = 16_000


def road(seconds: float, rate_hz: int = RATE, channels: int = 1) -> np.ndarray:
    """Noise whose level moves every half second, far from clipping."""
    rng = np.random.default_rng(5)
    steps = np.repeat(10 ** rng.uniform(-2.5, -1.2, int(2 * seconds) + 1), rate_hz // 2)
    shape = (round(seconds * rate_hz), channels)
    noise = rng.normal(0, 1, shape)
    # falls by 6 dB an octave above 500 Hz or so, as traffic does
    pole = np.exp(-2 * np.pi * 500 / rate_hz)
    traffic = lfilter([np.sqrt(1 - pole**2)], [1, -pole], noise, axis=0)
    return np.clip(steps[: shape[0], None] * traffic, -1, 1).squeeze()


def read_all(path: Path) -> np.ndarray:
    return np.concatenate(list(open_recording(path).blocks(RATE)))


@pytest.mark.parametrize(
    ("name", "container", "wav"),
    [
        ("a.mov", "mov", "ULAW"),
        ("a.mov", "mov", "ALAW"),
        ("a.mkv", "matroska", "PCM_16"),
        ("a.avi", "avi", "ULAW"),
        ("a.avi", "avi", "PCM_16"),
        ("a.mov", "mov", "PCM_24"),
        ("a.mov", "mov", "FLOAT"),
        ("a.avi", "avi", "PCM_U8"),
    ],
)
def test_g711_and_pcm_are_the_same_to_the_sample(
    tmp_path: Path, name: str, container: str, wav: str
) -> None:
    """The very bytes of a WAV in a video, decoded by another library than libsndfile."""
    sf.write(tmp_path / "a.wav", road(4), RATE, subtype=wav)
    remux(tmp_path / "a.wav", tmp_path / name, container)
    np.testing.assert_array_equal(read_all(tmp_path / name), read_all(tmp_path / "a.wav"))
    a, b = measure(tmp_path / name), measure(tmp_path / "a.wav")
    assert (a.levels, a.jumps, a.truncated) == (b.levels, (), False)
    assert a.recording is not None
    assert b.recording is not None
    assert a.recording.clip_amplitude == b.recording.clip_amplitude
    assert a.format_floor_db == b.format_floor_db


@pytest.mark.parametrize(
    ("name", "codec", "rate_hz", "by_libsndfile"),
    [("a.mkv", "libopus", 48_000, "ogg"), ("a.mp4", "libmp3lame", 32_000, "mp3")],
)
def test_the_packets_of_a_codec_read_by_another_decoder(
    tmp_path: Path, name: str, codec: str, rate_hz: int, by_libsndfile: str
) -> None:
    """The codec's own loss taken out: the very packets, decoded by libsndfile's libraries."""
    write_video(tmp_path / name, road(6, rate_hz), rate_hz, codec, bit_rate=96_000)
    other = remux(tmp_path / name, tmp_path / f"b.{by_libsndfile}", by_libsndfile)
    a, b = measure(tmp_path / name).levels, measure(other).levels
    for level in ("laeq_db", "lceq_db", "lafmax_db"):
        assert getattr(a, level) == pytest.approx(getattr(b, level), abs=0.1)
    assert a.percentiles_db["L50"] == pytest.approx(b.percentiles_db["L50"], abs=0.1)


@pytest.mark.parametrize(
    ("name", "codec", "rate_hz", "bit_rate", "within_db"),
    [
        # the loss of a codec at a bit rate that spares noise; G.726 has 4 bits a sample
        ("a.mp4", "aac", 48_000, 256_000, 0.1),
        ("a.mov", "aac", 16_000, 96_000, 0.15),
        ("a.ts", "aac", 48_000, 256_000, 0.1),
        ("a.mkv", "libopus", 48_000, 192_000, 0.1),
        ("a.avi", "adpcm_g726", 8_000, 32_000, 0.3),
    ],
)
def test_levels_are_those_of_the_sound_as_wav(
    tmp_path: Path, name: str, codec: str, rate_hz: int, bit_rate: int, within_db: float
) -> None:
    wave = road(6, rate_hz)
    write_video(tmp_path / name, wave, rate_hz, codec, bit_rate=bit_rate)
    sf.write(tmp_path / "a.wav", wave, rate_hz)
    a, b = measure(tmp_path / name), measure(tmp_path / "a.wav")
    assert a.levels.laeq_db == pytest.approx(b.levels.laeq_db, abs=within_db)
    assert a.duration_s == pytest.approx(b.duration_s, abs=0.1)
    assert not a.truncated
    assert a.jumps == ()


@pytest.mark.parametrize(("rate_hz", "bit_rate"), [(16_000, 32_000), (48_000, 128_000)])
def test_aac_is_what_another_decoder_makes_of_it(
    tmp_path: Path, rate_hz: int, bit_rate: int
) -> None:
    """FAAD2, a decoder of its own: what the level lacks the encoder has taken, not the reading."""
    faad = shutil.which("faad")
    if faad is None:
        pytest.skip("no faad on this machine")
    file = tmp_path / "a.m4a"
    write_video(
        file, road(10, rate_hz), rate_hz, "aac", container="mp4", bit_rate=bit_rate, picture=False
    )
    decoded = tmp_path / "faad.wav"
    subprocess.run([faad, "-q", "-o", str(decoded), str(file)], check=True, capture_output=True)
    a, b = measure(file).levels, measure(decoded).levels
    for name in ("laeq_db", "lceq_db", "lafmax_db"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), abs=0.02)


def test_two_channels_stay_apart(tmp_path: Path) -> None:
    wave = road(3, channels=2)
    wave[:, 1] *= 0.25
    write_video(tmp_path / "a.mov", wave, RATE, "pcm_s16le")
    one, two = (measure(Visit(tmp_path / "a.mov", channel=n)).levels.lzeq_db for n in (1, 2))
    assert one - two == pytest.approx(12.04, abs=0.2)


def test_a_part_and_a_stretch_are_those_of_the_whole(tmp_path: Path) -> None:
    write_video(tmp_path / "a.mkv", road(20), RATE, "pcm_s16le")
    whole = read_all(tmp_path / "a.mkv")
    recording = open_recording(tmp_path / "a.mkv")
    part = np.concatenate(list(recording.part(Part(2.5, 7.25)).blocks(RATE)))
    np.testing.assert_array_equal(part, whole[round(2.5 * RATE) : round(7.25 * RATE)])
    # onward, back to a place that was passed, and to the very beginning
    for at_s in (3.0, 16.0, 12.0, 0.5, 18.0, 0.0):
        first = round(at_s * RATE)
        found = np.concatenate(list(recording.part(Part(at_s, at_s + 1)).blocks()))
        np.testing.assert_array_equal(found, whole[first : first + RATE])


def test_a_lossy_stretch_is_that_of_the_whole(tmp_path: Path) -> None:
    write_video(tmp_path / "a.mp4", road(20, 48_000), 48_000, "aac", bit_rate=128_000)
    whole = read_all(tmp_path / "a.mp4")
    recording = open_recording(tmp_path / "a.mp4")
    for at_s in (15.0, 9.0, 2.0):
        first = round(at_s * 48_000)
        found = np.concatenate(list(recording.part(Part(at_s, at_s + 0.2)).blocks()))
        # decoders settle within a frame or two
        assert np.abs(found - whole[first : first + 9600]).max() < 1e-3


def test_jumps_of_the_time_stamps_are_told_and_not_filled(tmp_path: Path) -> None:
    write_video(tmp_path / "a.mkv", road(9), RATE, "pcm_s16le", gaps_s=[(3.0, 5.0), (6.0, 2.0)])
    measured = measure(tmp_path / "a.mkv")
    assert measured.duration_s == pytest.approx(9.0, abs=0.01)
    # at the end of the codec's frame in which they were put
    assert np.array(measured.jumps) == pytest.approx(np.array([[3, 5], [6, 2]]), abs=0.07)
    part = measure(Visit(tmp_path / "a.mkv", from_s=1.0, to_s=4.0))
    assert [round(at_s) for at_s, _ in part.jumps] == [2]


def test_clips_stuck_together_go_back_in_time_and_are_told(tmp_path: Path) -> None:
    """What a camera's export of two clips as one TS file looks like."""
    write_video(tmp_path / "a.ts", road(5, 48_000), 48_000, "aac", picture=False)
    clip = (tmp_path / "a.ts").read_bytes()
    (tmp_path / "b.ts").write_bytes(clip + clip)
    measured = measure(tmp_path / "b.ts")
    assert measured.duration_s == pytest.approx(10.0, abs=0.2)
    assert np.array(measured.jumps) == pytest.approx(np.array([[5, -5]]), abs=0.2)


@pytest.mark.parametrize(
    ("name", "metadata", "start", "by"),
    [
        ("cam_20260302_173005.mp4", {}, datetime(2026, 3, 2, 17, 30, 5), "name"),
        (
            "a.mp4",
            {"creation_time": "2026-03-02T16:30:05.000000Z"},
            datetime(2026, 3, 2, 16, 30, 5),
            "metadata",
        ),
        ("a.mp4", {"creation_time": "1970-01-01T00:00:00Z"}, None, ""),
        ("a.mp4", {}, None, ""),
    ],
)
def test_the_start_is_that_of_the_name_or_the_metadata(
    tmp_path: Path, name: str, metadata: dict[str, str], start: datetime | None, by: str
) -> None:
    write_video(tmp_path / name, road(1), RATE, "aac", metadata=metadata)
    measured = measure(tmp_path / name)
    assert (measured.start, measured.start_by) == (start, by)
    given = measure(Visit(tmp_path / name, start=datetime(2026, 1, 1)))
    assert (given.start, given.start_by) == (datetime(2026, 1, 1), "")


def test_a_file_that_breaks_off_is_measured_as_far_as_it_goes(tmp_path: Path) -> None:
    write_video(tmp_path / "a.mkv", road(10), RATE, "pcm_s16le")
    data = (tmp_path / "a.mkv").read_bytes()
    (tmp_path / "b.mkv").write_bytes(data[: len(data) // 2])
    measured = measure(tmp_path / "b.mkv")
    assert measured.truncated
    assert 3 < measured.duration_s < 6


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.mp4", b"", "is empty"),
        ("a.mp4", b"no video at all", "is no video or sound file that can be read"),
        ("a.ts", b"#EXTM3U\n#EXTINF:1,\nhttp://example.org/a.ts\n", "is no video"),
        ("a.mkv", b"ffconcat version 1.0\nfile a.wav\n", "is no video"),
    ],
)
def test_what_is_no_video_is_refused(tmp_path: Path, name: str, data: bytes, said: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(RecordingError, match=said):
        open_recording(tmp_path / name)


def test_a_codec_that_is_not_known_is_told(tmp_path: Path) -> None:
    write_video(tmp_path / "a.mkv", road(2), RATE, "pcm_s16le")
    data = (tmp_path / "a.mkv").read_bytes()
    assert b"A_PCM/INT/LIT" in data
    (tmp_path / "b.mkv").write_bytes(data.replace(b"A_PCM/INT/LIT", b"A_XYZ/INT/LIT"))
    with pytest.raises(RecordingError, match="is in a codec that is not known"):
        open_recording(tmp_path / "b.mkv")


def test_a_video_without_sound_is_told(tmp_path: Path) -> None:
    import av

    with av.open(str(tmp_path / "a.mp4"), "w") as out:
        pictures = out.add_stream("mpeg4", rate=5)
        pictures.width = pictures.height = 32
        pictures.pix_fmt = "yuv420p"
        out.mux(pictures.encode(av.VideoFrame(32, 32, "yuv420p")))
        out.mux(pictures.encode(None))
    with pytest.raises(RecordingError, match="has no sound track; was the microphone on"):
        open_recording(tmp_path / "a.mp4")


def test_without_the_extra_one_line_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.mp4").write_bytes(b"x")
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(PassingError, match=r"a\.mp4: .* pip install 'audiolevel\[video\]'"):
        open_recording(tmp_path / "a.mp4")


def test_names_of_video() -> None:
    assert is_video(Path("A.MP4"))
    assert not is_video(Path("a.wav"))


def test_memory_does_not_grow_with_the_length(tmp_path: Path) -> None:
    """Sixteen times the length, read in the same memory: nothing of a track is held."""
    peaks = []
    for name, seconds in (("a.mkv", 15), ("b.mkv", 240)):
        write_video(tmp_path / name, np.tile(road(15), seconds // 15), RATE, "pcm_s16le")
        with closing(VideoFile(tmp_path / name)) as file:
            tracemalloc.start()
            while len(file.read(RATE)):
                pass
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    assert peaks[1] < peaks[0] + 200_000


def test_more_channels_than_a_frame_holds_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Found by the search: a damaged file that spoke of 53 channels ended the process."""
    write_video(tmp_path / "two.mkv", road(2, RATE, 2), RATE, "pcm_s16le")
    assert measure(tmp_path / "two.mkv").channels == 2
    monkeypatch.setattr("audiolevel.metering.video._MOST_CHANNELS", 1)
    with pytest.raises(
        RecordingError, match=r"two\.mkv: its sound track has 2 channels; more than 1"
    ):
        measure(tmp_path / "two.mkv")
