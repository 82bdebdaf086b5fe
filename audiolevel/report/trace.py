"""The level over time, thinned for a page: the lowest and highest of each stretch, and the firings.

A pair stands for a second or more: a page may be mailed, and from levels every 10 ms one of some
known sentences can be told (docs/privacy.md). A page may hold a day, too.

Conventions: levels are hundredths of a dB FS at the recorded gain; times are seconds from the
beginning of what was measured.

Entry points: `trace_object`, `played_firings`.
"""

import base64
from collections.abc import Sequence
from math import ceil

import numpy as np

from audiolevel.ground.arrays import Centi, IntArray
from audiolevel.ground.names import printable
from audiolevel.ground.records import Object
from audiolevel.metering.measurement import Measurement

# of all recordings of a page: 4 bytes each, a third more as text
MOST_PAIRS = 120_000
# seconds that a pair may stand for
_STEPS_S = (1, 2, 5, 10, 20, 50, 100)
# nobody listens to more of one setting
MOST_FIRINGS = 400


def stride_of(rows: int, row_s: float, most_pairs: int = MOST_PAIRS) -> int:
    """How many rows a pair must stand for: a second or more, and not too many pairs."""
    for step_s in _STEPS_S:
        stride = max(1, round(step_s / row_s))
        if rows <= stride * most_pairs:
            return stride
    return ceil(rows / most_pairs)


def pairs_of(laf: Centi, stride: int) -> Centi:
    """Lowest and highest level of every `stride` rows, in two columns; the last of fewer rows."""
    if not len(laf):
        return np.zeros((0, 2), dtype=np.int16)
    begins = np.arange(0, len(laf), stride)
    return np.stack([end.reduceat(laf, begins) for end in (np.minimum, np.maximum)], axis=1)


def trace_object(measurements: Sequence[Measurement]) -> list[Object]:
    """What a page holds of each recording: its name, its files, its thinned levels."""
    rows = sum(0 if one.laf is None else len(one.laf) for one in measurements)
    return [_recording_object(one, stride_of(rows, one.row_s)) for one in measurements]


def _recording_object(one: Measurement, stride: int) -> Object:
    laf = np.zeros(0, dtype=np.int16) if one.laf is None else one.laf
    # low, high, low, high …
    pairs = pairs_of(laf, stride).astype("<i2").tobytes()
    return {
        "name": one.path.name,
        "start": None if one.start is None else one.start.isoformat(),
        "begin_s": one.begin_s,
        "duration_s": round(one.duration_s, 3),
        "sound": one.recording is not None,
        "files": _files(one),
        "step_s": stride * one.row_s,
        "pairs": base64.b64encode(pairs).decode("ascii"),
    }


def _files(one: Measurement) -> list[Object]:
    """The files that the sound is in, end to end; none for a level history."""
    if one.recording is None:
        return []
    files = one.recording.files or (one.recording,)
    return [
        {"name": printable(file.path.name), "duration_s": round(file.duration_s, 3)}
        for file in files
    ]


def played_firings(
    fired: Sequence[Sequence[IntArray]], row_s: float, most: int = MOST_FIRINGS
) -> list[list[list[float]] | None]:
    """Times of the firings at each setting, by recording; None where there are too many to hear.

    Parameters
    ----------
    fired : sequence of sequence of arrays of int64
        By recording and setting, as in `planning.curves.Curve`.
    row_s : float

    Returns
    -------
    list
        For each setting, a list of times in seconds for each recording.
    """
    played: list[list[list[float]] | None] = []
    for each in zip(*fired, strict=True):
        if sum(len(rows) for rows in each) > most:
            played.append(None)
            continue
        # a row is known at its end
        played.append([[round((row + 1) * row_s, 2) for row in rows.tolist()] for rows in each])
    return played
