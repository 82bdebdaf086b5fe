"""Sound files looked at, short ones read whole, and written.

A file is opened once to learn its rate, channels and length; what it holds is read later, by the
`Recording` that comes of it.

Entry points: `open_recording`, `read_whole`, `write_sound`.
"""

import os
import sys
from contextlib import closing
from pathlib import Path
from stat import S_ISDIR, S_ISREG

import numpy as np
import soundfile as sf

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import PassingError, RecordingError, SettingError
from audiolevel.ground.files import draft_of
from audiolevel.metering.endings import mp3_is_whole, ogg_is_whole, riff_is_whole
from audiolevel.metering.readers import opened_file
from audiolevel.metering.recordings import Recording, refuse_form
from audiolevel.metering.sound_formats import bits_of, clip_amplitude, format_floor_db
from audiolevel.metering.video import VideoFile, is_video

_LONGEST_SOUND_S = 60


def recording_of(source: str | os.PathLike[str] | Recording) -> Recording:
    """A recording that is open already, or the one that a path opens."""
    return source if isinstance(source, Recording) else open_recording(source)


def open_recording(path: str | os.PathLike[str]) -> Recording:
    """Look at a sound file: WAV, RF64, FLAC, Ogg Vorbis, Opus, MP3 and whatever else is readable.

    Parameters
    ----------
    path : path
        Of a sound file, or of a video (MP4, MOV, MKV, AVI, TS …) where the extra is installed; `-`
        is a WAV stream on standard input.

    Returns
    -------
    Recording

    Raises
    ------
    RecordingError
        The file is missing, empty, a folder, not a sound file, holds no samples, or has a
        sampling rate outside 8 to 192 kHz.
    """
    if os.fspath(path) == "-":
        return _standard_input()
    where = Path(path)
    _refuse_no_file(where)
    if is_video(where):
        return _video(where)
    with opened_file(where) as file:
        rate_hz, frames, subtype = int(file.samplerate), int(file.frames), str(file.subtype)
        channels, log = int(file.channels), str(file.extra_info)
    if frames == 0:
        raise RecordingError(f"{where}: holds no samples; record again")
    refuse_form(where, rate_hz, channels)
    return Recording(
        path=where,
        rate_hz=rate_hz,
        channels=channels,
        frames=frames,
        clip_amplitude=clip_amplitude(subtype),
        format_floor_db=format_floor_db(bits_of(subtype)),
        # libsndfile's log has this where a chunk announces more than there is
        truncated="(should be" in log or not _is_whole(where, subtype, frames),
        subtype=subtype,
    )


def _is_whole(where: Path, subtype: str, frames: int) -> bool:
    """Whether a file is all there, of those kinds whose reader does not say."""
    if subtype.startswith("MPEG_LAYER"):
        return mp3_is_whole(where, frames)
    return subtype not in ("VORBIS", "OPUS") or ogg_is_whole(where)


def _video(where: Path) -> Recording:
    with closing(VideoFile(where)) as file:
        refuse_form(where, file.samplerate, file.channels)
        start, by = file.start()
        return Recording(
            path=where,
            rate_hz=file.samplerate,
            channels=file.channels,
            frames=file.frames,
            clip_amplitude=file.clip_amplitude,
            format_floor_db=format_floor_db(file.bits),
            # AVI has no time stamps that would end early
            truncated=not riff_is_whole(where),
            subtype="VIDEO",
            video=True,
            start=start,
            start_by=by,
        )


def _standard_input() -> Recording:
    """The WAV stream on standard input, whose header may not know how long it will be."""
    try:
        file = sf.SoundFile(sys.stdin.fileno(), closefd=False)
    except (sf.LibsndfileError, OSError, ValueError) as error:
        raise RecordingError("-: standard input is no WAV stream; pipe one in") from error
    refuse_form("-", file.samplerate, file.channels)
    subtype = str(file.subtype)
    return Recording(
        path=Path("standard input"),
        rate_hz=int(file.samplerate),
        channels=int(file.channels),
        frames=int(file.frames),
        clip_amplitude=clip_amplitude(subtype),
        format_floor_db=format_floor_db(bits_of(subtype)),
        truncated=False,
        subtype=subtype,
        stream=file,
    )


def _refuse_no_file(where: Path) -> None:
    try:
        status = where.stat()
    except PermissionError as error:
        raise PassingError(f"{where}: may not be read; check its folder's permissions") from error
    # a null character in a name is a plain ValueError
    except (OSError, ValueError) as error:
        raise RecordingError(f"{where}: no such file; check the name") from error
    if S_ISDIR(status.st_mode):
        raise RecordingError(f"{where}: is a folder; name a sound file, or use `audiolevel batch`")
    # told apart from a broken file, since the cure is another
    if S_ISREG(status.st_mode) and status.st_size == 0:
        raise RecordingError(f"{where}: the file is empty; copy or record it again")
    # a named pipe need not begin, and cannot be read twice
    if not S_ISREG(status.st_mode):
        raise RecordingError(f"{where}: is no ordinary file; name one, or - for standard input")


def read_whole(path: str | os.PathLike[str]) -> tuple[Array, int]:
    """All samples of a short sound, mean of its channels, shape (frames,), and its rate.

    Raises
    ------
    RecordingError
        As `open_recording`, or the sound is longer than a minute.
    """
    recording = open_recording(path)
    # it is read whole into memory, which a recording of a site never is
    if recording.duration_s > _LONGEST_SOUND_S:
        raise RecordingError(
            f"{recording.path}: is longer than {_LONGEST_SOUND_S} s; cut out one occurrence"
        )
    samples = np.concatenate(list(recording.blocks())).astype(np.float64)
    return samples.mean(axis=1), recording.rate_hz


def write_sound(path: str | os.PathLike[str], samples: Array, rate_hz: int) -> None:
    """Write one channel, shape (frames,), full scale 1, as 24-bit WAV, all of it or nothing.

    Raises
    ------
    AudioLevelError
        The place cannot be written to, or a file is there: no sound is ever replaced; or the name
        is not that of a WAV file.
    """
    where = Path(path)
    # players go by the name, and would be told another format
    if where.suffix.lower() != ".wav":
        raise SettingError(f"{where}: sounds are written as WAV; give a name that ends in .wav")
    try:
        with draft_of(where, None) as draft:
            sf.write(str(draft), samples, rate_hz, subtype="PCM_24", format="WAV")
    except sf.LibsndfileError as error:
        raise RecordingError(f"{where}: cannot be written; choose another place") from error
