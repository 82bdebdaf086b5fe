"""What does one recording, or one level history, have to tell?

`listen` goes through a file once, block by block, and hands every block to whoever needs it: the
summary of levels, the onsets, the history file, the simulated gains. What it keeps does not grow
with the recording, but for the level history itself where a plan needs it (2 bytes a row).

Entry points: `listen`, `Heard`.
"""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audiolevel.channels import ChannelCheck
from audiolevel.errors import RecordingError, SettingError
from audiolevel.gain import GainHeard, GainSimulator, own_levels
from audiolevel.history import HistoryWriter, is_history, read_history
from audiolevel.levels import SILENCE_DB, LevelRows, Meter
from audiolevel.onsets import OnsetFinder, Onsets
from audiolevel.recordings import Block, Recording, open_recording
from audiolevel.rises import RiseCounter
from audiolevel.summary import Levels, Summary
from audiolevel.triggers import Centi, centibels

Array = NDArray[np.float64]
Progress = Callable[[int], object]
_ROWS_PER_S = 100
# a history does not say what it was made from; 16 bits are the most common
_USUAL_FLOOR_DB = -98.1


@dataclass(frozen=True)
class Gains:
    """Which gains to simulate, and how.

    Attributes
    ----------
    gains_db : sequence of float
        Relative to the recording.
    noise_db : float or None
        The microphone's own noise, dB FS at the recorded gain.
    clipped_share_limit : float or None
        Give a gain up once more of it than this is sure to be clipped; None never gives up.
    """

    gains_db: Sequence[float]
    noise_db: float | None = None
    clipped_share_limit: float | None = None


@dataclass(frozen=True)
class Heard:
    """What a recording told.

    Attributes
    ----------
    levels : Levels
        In dB FS, of the channel listened to or the mean square of all.
    channel_levels : tuple of Levels
        Of each channel, where there are several.
    channel_faults : list of (int, str)
        Channels from 1 that are "dead" or "inverted".
    onsets : Onsets
    rises : dict of int to int
        How often the level rose by so many dB within a second.
    laf : array of int16, shape (rows,), or None
        The level history in hundredths of a dB FS, when gains were asked for.
    gains : list of GainHeard
    second_peak_db, second_lafmax_db : arrays, shape (seconds,)
        Highest sample (re full-scale amplitude) and highest LAF of each second.
    half_scale_share : float
        Share of samples beyond half of full scale.
    """

    path: Path
    start: datetime | None
    sample_rate_hz: int | None
    channels: int | None
    truncated: bool
    format_floor_db: float
    levels: Levels
    summary: Summary
    channel_levels: tuple[Levels, ...]
    channel_faults: list[tuple[int, str]]
    onsets: Onsets
    rises: dict[int, int]
    laf: Centi | None
    gains: list[GainHeard]
    second_peak_db: Array
    second_lafmax_db: Array
    half_scale_share: float

    @property
    def duration_s(self) -> float:
        """Length of what was heard."""
        return self.levels.duration_s


def listen(
    path: str | os.PathLike[str],
    *,
    channel: int | None = None,
    start: datetime | None = None,
    history: HistoryWriter | None = None,
    gains: Gains | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Go through a recording or a level history once.

    Parameters
    ----------
    path : path
        A sound file, or a CSV made by `HistoryWriter`.
    channel : int or None
        Listen to this channel, from 1; None takes the mean square of all.
    start : datetime or None
        When the recording began.
    history : HistoryWriter or None
        Receives the level rows as they come.
    gains : Gains or None
        Gains to simulate; the level history is then kept.
    progress : callable or None
        Called with the number of milliseconds heard since the last call.

    Raises
    ------
    RecordingError, SettingError
        The file cannot be heard, or has no such channel.
    """
    if is_history(path):
        return _listen_to_history(Path(path), start, history, gains, progress)
    return _listen_to_sound(open_recording(path), channel, start, history, gains, progress)


class _Ears:
    """Everyone who wants the level rows of a recording."""

    def __init__(self, history: HistoryWriter | None) -> None:
        self.summary = Summary()
        self.onsets = OnsetFinder()
        self.rises = RiseCounter()
        self._history = history
        self._seconds: list[tuple[Array, Array]] = []

    def add(self, rows: LevelRows) -> None:
        if not len(rows):
            return
        self.summary.add(rows)
        self.onsets.add(rows.laf_db)
        self.rises.add(rows.laf_db)
        if self._history is not None:
            self._history.add(rows)
        edges = np.arange(0, len(rows), _ROWS_PER_S)
        self._seconds.append(
            (
                np.maximum.reduceat(rows.sample_peak_db, edges),
                np.maximum.reduceat(rows.lafmax_db, edges),
            )
        )

    def seconds(self) -> tuple[Array, Array]:
        peak, lafmax = zip(*self._seconds, strict=True)
        return np.concatenate(peak), np.concatenate(lafmax)


def _listen_to_sound(
    recording: Recording,
    channel: int | None,
    start: datetime | None,
    history: HistoryWriter | None,
    gains: Gains | None,
    progress: Progress | None,
) -> Heard:
    if channel is not None and not 1 <= channel <= recording.channels:
        raise SettingError(
            f"{recording.path}: has no channel {channel}; it has {recording.channels}"
        )
    ears = _Ears(history)
    meter = Meter(
        recording.rate_hz,
        recording.channels,
        clip_amplitude=recording.clip_amplitude,
        channel=None if channel is None else channel - 1,
        keep_waves=gains is not None,
    )
    simulator = None if gains is None else _simulator(gains, recording)
    check = ChannelCheck(recording.channels)
    singles = [Summary() for _ in range(recording.channels if channel is None else 1)]
    frames, beyond_half = 0, 0
    for block in recording.blocks():
        metered = meter.feed(block)
        ears.add(metered.rows)
        for single, rows in zip(singles, metered.channel_rows, strict=False):
            single.add(rows)
        if recording.channels > 1:
            check.add(block)
        if simulator is not None:
            simulator.add(metered)
            beyond_half += _beyond_half(block, recording)
        frames += len(block)
        if progress is not None:
            progress(len(block) * 1000 // recording.rate_hz)
    if not ears.summary.rows:
        raise RecordingError(f"{recording.path}: is shorter than 10 ms; record again")
    duration_s = frames / recording.rate_hz
    peak, lafmax = ears.seconds()
    return Heard(
        path=recording.path,
        start=start,
        sample_rate_hz=recording.rate_hz,
        channels=recording.channels,
        truncated=recording.truncated or frames < recording.frames,
        format_floor_db=recording.format_floor_db,
        levels=ears.summary.levels(duration_s),
        summary=ears.summary,
        channel_levels=tuple(s.levels(duration_s) for s in singles if s.rows),
        channel_faults=check.faults(),
        onsets=ears.onsets.onsets(),
        rises=ears.rises.counts(),
        laf=None if simulator is None else simulator.laf,
        gains=[] if simulator is None else simulator.heard(),
        second_peak_db=peak,
        second_lafmax_db=lafmax,
        half_scale_share=beyond_half / (frames * recording.channels),
    )


def _simulator(gains: Gains, recording: Recording) -> GainSimulator:
    give_up = None
    if gains.clipped_share_limit is not None and recording.frames > 0:
        give_up = gains.clipped_share_limit * recording.frames * recording.channels
    return GainSimulator(
        gains.gains_db, recording.rate_hz, noise_db=gains.noise_db, give_up_after=give_up
    )


def _beyond_half(block: Block, recording: Recording) -> int:
    half = 0.5 * recording.clip_amplitude
    return int(np.count_nonzero(block >= half) + np.count_nonzero(block <= -half))


def _listen_to_history(
    path: Path,
    start: datetime | None,
    history: HistoryWriter | None,
    gains: Gains | None,
    progress: Progress | None,
) -> Heard:
    ears, kept = _Ears(history), []
    for rows in read_history(path):
        ears.add(rows)
        if gains is not None:
            kept.append(centibels(rows.laf_db))
        if progress is not None:
            progress(len(rows) * 10)
    peak, lafmax = ears.seconds()
    laf = np.concatenate(kept) if kept else None
    return Heard(
        path=path,
        start=start,
        sample_rate_hz=None,
        channels=None,
        truncated=False,
        format_floor_db=_USUAL_FLOOR_DB,
        levels=ears.summary.levels(),
        summary=ears.summary,
        channel_levels=(),
        channel_faults=[],
        onsets=ears.onsets.onsets(),
        rises=ears.rises.counts(),
        laf=laf,
        gains=[] if gains is None or laf is None else _shifted_gains(gains, laf, peak),
        second_peak_db=peak,
        second_lafmax_db=lafmax,
        half_scale_share=0.0,
    )


def _shifted_gains(gains: Gains, laf: Centi, second_peak_db: Array) -> list[GainHeard]:
    """Gains of a history: a shift, and nothing where the wave, which is not there, would clip."""
    known = bool((second_peak_db > SILENCE_DB).any())
    out = []
    for gain_db in gains.gains_db:
        share = float((second_peak_db + gain_db > 0).mean()) if known else 0.0
        own = own_levels(laf, None, gain_db, gains.noise_db)
        out.append(GainHeard(gain_db, share, laf, own, given_up=share > 0))
    return out
