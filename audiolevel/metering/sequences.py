"""Recordings that a recorder split into files, as the one recording that they are.

The files follow each other in time order, sample after sample. A gap between two of them is neither
silence nor time listened to: it is noted, and what comes after it follows what was before it.

Entry point: `sequence_of`.
"""

import os
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.file_times import time_in_name
from audiolevel.metering.recordings import Recording
from audiolevel.metering.sound_files import open_recording

# names tell whole seconds, and recorders take a moment to open the next file
_SAME_S = 2.0
# more than that, and what was heard stands in another hour of the day than it was heard in
_MOST_LEFT_OUT_S = 1800.0


def sequence_of(
    paths: Sequence[str | os.PathLike[str]], start: datetime | None = None
) -> Recording:
    """One recording of several files.

    Parameters
    ----------
    paths : sequence of path
        Of one recorder; in the order of the times in their names, or where a name has none, of the
        names themselves, numbers by their value.
    start : datetime, optional
        When the first began; by default as its name says.

    Returns
    -------
    Recording
        Its `jumps` are the gaps, its `start` that of the first file.

    Raises
    ------
    RecordingError, SettingError
        A file cannot be read, has another rate or number of channels than the first, or begins
        before the one before it ends; or half an hour and more is left out between them.
    """
    opened = [open_recording(path) for path in _in_time(paths)]
    first = opened[0]
    for one in opened[1:]:
        if (one.rate_hz, one.channels) != (first.rate_hz, first.channels):
            raise RecordingError(
                f"{one.path}: has {one.rate_hz} Hz and {one.channels} channels, {first.path.name} "
                f"{first.rate_hz} Hz and {first.channels}; a sequence is of one recorder"
            )
    begins = [time_in_name(one.path.name) for one in opened]
    jumps: list[tuple[float, float]] = []
    frames = 0
    for one, begin, following in zip(opened, begins, [*begins[1:], None], strict=True):
        frames += one.frames
        if begin is not None and following is not None:
            gap_s = (following - begin - timedelta(seconds=one.duration_s)).total_seconds()
            if gap_s < -_SAME_S:
                raise SettingError(
                    f"{one.path}: ends {-gap_s:.0f} s after the next of the sequence begins, by "
                    "their names; are they of one recorder?"
                )
            if gap_s > _SAME_S:
                jumps.append((round(frames / first.rate_hz, 3), round(gap_s, 3)))
    left_out_s = sum(gap_s for _, gap_s in jumps)
    if left_out_s > _MOST_LEFT_OUT_S:
        raise SettingError(
            f"{first.path}: the files of the sequence leave out {left_out_s / 3600:.1f} h by their "
            "names, and its hours of the day would be wrong; give them as recordings of their own, "
            "each with its --start"
        )
    last = opened[-1].path.name
    return replace(
        first,
        # as a range: a stem and a name, so that pictures are named after it
        path=first.path
        if len(opened) == 1
        else first.path.with_name(f"{first.path.stem} to {last}"),
        frames=frames,
        truncated=any(one.truncated for one in opened),
        files=tuple(opened),
        start=start or begins[0],
        start_by="" if start or not begins[0] else "name",
        jumps=jumps,
    )


def _in_time(paths: Sequence[str | os.PathLike[str]]) -> list[Path]:
    named = [Path(path) for path in paths]
    if len({os.path.realpath(path) for path in named}) < len(named):
        raise SettingError(f"{named[0]}: a sequence names a file twice; give each once")
    times = [time_in_name(path.name) for path in named]
    if all(times):
        return [path for _, path in sorted(zip(times, named, strict=True))]
    return sorted(named, key=_natural)


def _natural(path: Path) -> list[tuple[int, str]]:
    """A name to sort by: rec2 before rec10."""
    parts = re.split(r"(\d+)", path.name)
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]
