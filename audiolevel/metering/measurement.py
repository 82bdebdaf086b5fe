"""The measurement of one recording, or of one level history.

`measure` goes through a file once, block by block, and hands every block to whoever needs it: the
summary of levels, the onsets, the history file, the simulated gains. What it keeps does not grow
with the recording, but for the level history itself where a plan needs it (2 bytes a row).

Entry points: `measure`, `Measurement`, `at_gains`, `joined`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from audiolevel.ground.arrays import Array, Centi
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.ground.names import printable
from audiolevel.metering.annotations import Mark
from audiolevel.metering.bandwidth import LongTermSpectrum
from audiolevel.metering.channels import ChannelCheck
from audiolevel.metering.gain import Gains, SimulatedGain, own_levels
from audiolevel.metering.irregularities import NOTHING_IRREGULAR, Irregularities
from audiolevel.metering.level_changes import STEPS_DB
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.level_log import LevelLog
from audiolevel.metering.listener import BlockListener, Listener, Progress, Request
from audiolevel.metering.meter import ROW_S, LevelRows
from audiolevel.metering.onsets import Onsets, joined_onsets
from audiolevel.metering.parts import Part
from audiolevel.metering.recordings import Recording
from audiolevel.metering.row_gatherer import RowGatherer, Span, rows_per_s
from audiolevel.metering.silence import Stretches
from audiolevel.metering.sound_files import recording_of
from audiolevel.metering.statistics import Levels, Summary, known_levels
from audiolevel.metering.visit import AnyPath, Visit

# a history does not say what it was made from; 16 bits are the most common
_USUAL_FLOOR_DB = -98.1


@dataclass(frozen=True)
class Measurement:
    """What was measured of a recording.

    Attributes
    ----------
    path : Path
        As it is shown; where a name is no text it is not the file's.
    recording : Recording or None
        To read its waveform again; None for a level history.
    channel : int or None
        The one that was listened to, from 1; None is the mean square of all.
    levels : Levels
        In dB FS, of the channel listened to or the mean square of all.
    channel_summaries : tuple of Summary
        Of each channel, where there are several; `channel_levels` are their levels.
    channel_check : ChannelCheck or None
        Behind `channel_faults`.
    channel_faults : list of (int, str)
        Channels from 1 that are "dead" or "inverted".
    onsets : Onsets or None
        None where the rows are too coarse for the method.
    rises : dict of int to int, or None
        How often the level rose by so many dB within a second; None as for onsets.
    laf : array of int16, shape (rows,), or None
        The level history in hundredths of a dB FS, when gains were asked for.
    gains : list of SimulatedGain
    second_peak_db, second_lafmax_db, second_lafmin_db : arrays, shape (seconds,)
        Highest sample (re full-scale amplitude), highest and lowest LAF of each second.
    irregularities : Irregularities
        Dropouts and repeats met in the samples.
    spectrum : LongTermSpectrum or None
        Of the channels listened to; None for a level history.
    half_scale_share : float
        Share of samples beyond half of full scale, of the channels listened to.
    row_s : float
        Between two rows of the level history: 0.01 for sound.
    quantity : str
        What a row of it holds: "LAF", or "LAeq" of the row in some logs.
    lacking : frozenset of str
        Columns of `LevelRows` that a level history does not have; what would be made of them is
        not known.
    start_by : str
        "name" or "metadata" where the file itself had to say when it began.
    jumps : tuple of (float, float)
        Gaps between the files of a sequence, and jumps of a video's time stamps: seconds of sound
        before each, and seconds left out (negative where stamps go back).
    begin_s : float
        Where the part that was measured begins in the whole.
    marks : tuple of Mark
        In the part that was measured, counted from its beginning: wanted sounds, and firings that
        somebody has listened to and found none.
    wet : bool or None
        Whether the road was wet; None if nobody said.
    unheard : Stretches
        Rows of digital silence that are no part of the levels; measuring finds none, a survey
        does (`planning.heard`).
    """

    path: Path
    recording: Recording | None
    start: datetime | None
    sample_rate_hz: int | None
    channels: int | None
    channel: int | None
    truncated: bool
    format_floor_db: float
    levels: Levels
    summary: Summary
    channel_summaries: tuple[Summary, ...]
    channel_check: ChannelCheck | None
    channel_faults: list[tuple[int, str]]
    onsets: Onsets | None
    rises: dict[int, int] | None
    laf: Centi | None
    gains: list[SimulatedGain]
    second_peak_db: Array
    second_lafmax_db: Array
    second_lafmin_db: Array
    half_scale_share: float
    irregularities: Irregularities = NOTHING_IRREGULAR
    spectrum: LongTermSpectrum | None = None
    row_s: float = ROW_S
    quantity: str = "LAF"
    lacking: frozenset[str] = frozenset()
    start_by: str = ""
    jumps: tuple[tuple[float, float], ...] = ()
    begin_s: float = 0.0
    marks: tuple[Mark, ...] = ()
    wet: bool | None = None
    unheard: Stretches = ()

    @property
    def rows(self) -> int:
        """Rows of the level history, those not heard among them."""
        return self.summary.rows + sum(stop - first for first, stop in self.unheard)

    @property
    def heard_s(self) -> float:
        """Length of what was measured, without digital silence that was taken out."""
        return self.duration_s - self.row_s * sum(stop - first for first, stop in self.unheard)

    @property
    def has_peaks(self) -> bool:
        """Whether the highest samples are known, and so whether another gain would clip."""
        return "sample_peak_db" not in self.lacking

    @property
    def bandwidth_hz(self) -> float | None:
        """Up to where it carries sound of the site; None for a level history."""
        return None if self.spectrum is None else self.spectrum.top_hz()

    @property
    def second_s(self) -> float:
        """Length that a value of `second_lafmax_db` stands for: rows of about a second."""
        # rows of 0.3 s make "seconds" of three rows, 0.9 s
        return rows_per_s(self.row_s) * self.row_s

    @property
    def duration_s(self) -> float:
        """Length of what was measured."""
        return self.levels.duration_s

    @property
    def channel_levels(self) -> tuple[Levels, ...]:
        """Of each channel, where there are several."""
        return tuple(summary.levels(self.duration_s) for summary in self.channel_summaries)


def measure(
    source: Visit | AnyPath | Recording,
    *,
    history: HistoryWriter | None = None,
    gains: Gains | None = None,
    on_block: BlockListener | None = None,
    progress: Progress | None = None,
    span: Span | None = None,
    second_core: bool = True,
    keep_levels: bool = False,
) -> Measurement:
    """Go through a recording or a level history once.

    Parameters
    ----------
    source : Visit, path or Recording
        Of a visit only its part, as if it had been cut out; times are counted from its beginning.
    history : HistoryWriter or None
        Receives the level rows as they come.
    gains : Gains or None
        Gains to simulate; the level history is then kept.
    on_block : callable or None
        Called with the samples of each block, shape (frames, channels listened to).
    progress : callable or None
        Called with the number of milliseconds measured since the last call.
    span : Span or None
        Only these seconds of a sound file; spans of the whole are put together by `joined`.
    second_core : bool
        As in `Meter`.
    keep_levels : bool
        Keep the level history even where no gain is simulated.

    Raises
    ------
    RecordingError, SettingError
        The file cannot be read, or has no such channel.
    """
    visit = source if isinstance(source, Visit) else Visit(source)
    part, inside = visit.part, visit.source
    request = Request(
        visit.channel,
        part.start(visit.began),
        history,
        gains,
        on_block,
        progress,
        span,
        second_core,
        keep_levels,
    )
    if visit.is_history and not isinstance(inside, Recording):
        found = _measure_history(LevelLog(inside, visit.form), part, request)
    else:
        found = _measure_sound(recording_of(inside).part(part), request, part)
    return replace(found, marks=tuple(visit.heard_marks), wet=visit.wet)


def _measure_sound(recording: Recording, request: Request, part: Part) -> Measurement:
    channel, span = request.channel, request.span
    if channel is not None and not 1 <= channel <= recording.channels:
        raise SettingError(
            f"{recording.path}: has no channel {channel}; it has {recording.channels}"
        )
    heard = Listener(recording, request)
    heard.listen()
    rows, check, simulator = heard.rows, heard.check, heard.simulator
    if not rows.summary.rows:
        raise RecordingError(f"{recording.path}: is shorter than 10 ms; record again")
    peak, lafmax, lafmin = rows.seconds()
    # decoding stopped before the length that the header gave; a span ends early on purpose
    broke_off = recording.breaks_off(heard.frames) and span is None
    start, by = request.start, ""
    if start is None and recording.start is not None:
        start, by = part.start(recording.start), recording.start_by
        # between the files of a sequence the clock went on
        before = [jump_s for at_s, jump_s in recording.jumps if at_s <= part.begin_s]
        if start is not None and recording.files:
            start += timedelta(seconds=sum(before))
    return Measurement(
        # it names the measurement in what is written, and opens nothing
        path=Path(printable(recording.path)),
        # what came by standard input is gone
        recording=None if recording.stream is not None else recording,
        start=start,
        sample_rate_hz=recording.rate_hz,
        channels=recording.channels,
        channel=channel,
        truncated=recording.truncated or broke_off,
        format_floor_db=recording.format_floor_db,
        levels=rows.summary.levels(heard.duration_s),
        summary=rows.summary,
        channel_summaries=tuple(single for single in rows.channel_summaries if single.rows),
        channel_check=check,
        channel_faults=check.faults(),
        onsets=rows.onsets(),
        rises=rows.rises(),
        laf=rows.laf if simulator is None else simulator.laf,
        gains=[] if simulator is None else simulator.result(),
        second_peak_db=peak,
        second_lafmax_db=lafmax,
        second_lafmin_db=lafmin,
        half_scale_share=heard.half_scale_share,
        irregularities=heard.samples.found(),
        spectrum=heard.spectrum,
        start_by=by,
        jumps=_jumps_within(recording, part),
        begin_s=part.begin_s,
    )


def at_gains(found: Measurement, gains: Gains) -> Measurement:
    """The same at other gains; its sound is heard again only where it clips at one of them.

    Parameters
    ----------
    found : Measurement
        With its level history.
    gains : Gains

    Raises
    ------
    SettingError
        Its level history was not kept.
    """
    simulated = {one.gain_db: one for one in found.gains if not one.given_up}
    if all(gain_db in simulated for gain_db in gains.gains_db):
        return replace(found, gains=[simulated[gain_db] for gain_db in gains.gains_db])
    if found.laf is None:
        raise SettingError(f"{found.path}: its levels were not kept; measure it with keep_levels")
    if found.recording is not None and found.levels.sample_peak_db + max(gains.gains_db) > 0:
        again = measure(Visit(found.recording, channel=found.channel), gains=gains)
        return replace(found, gains=again.gains)
    known = found.has_peaks
    shifted = _shifted_gains(gains, found.laf, found.second_peak_db, known=known)
    return replace(found, gains=shifted)


def _jumps_within(recording: Recording, part: Part) -> tuple[tuple[float, float], ...]:
    """Jumps of the part that was heard, counted from its beginning."""
    end_s = np.inf if part.to_s is None else part.to_s
    known, before_s = list(recording.jumps), 0.0
    for file in recording.files:
        known += [(before_s + at_s, jump_s) for at_s, jump_s in file.jumps]
        before_s += file.duration_s
    return tuple(
        (at_s - part.begin_s, jump_s)
        for at_s, jump_s in sorted(known)
        if part.begin_s < at_s < end_s
    )


def joined(pieces: Sequence[Measurement]) -> Measurement:
    """One measurement of consecutive spans of a recording; they were measured without gains."""
    first = pieces[0]
    # from empty ones, since the pieces' own must stay as they are
    summary, check = Summary(), ChannelCheck(first.channels or 0)
    singles = [Summary() for _ in first.channel_summaries]
    spectrum = None if first.sample_rate_hz is None else LongTermSpectrum(first.sample_rate_hz)
    for piece in pieces:
        if spectrum is not None and piece.spectrum is not None:
            spectrum.include(piece.spectrum)
        summary.include(piece.summary)
        for single, part in zip(singles, piece.channel_summaries, strict=True):
            single.include(part)
        if piece.channel_check is not None:
            check.include(piece.channel_check)
    duration_s = sum(piece.duration_s for piece in pieces)
    return replace(
        first,
        truncated=any(piece.truncated for piece in pieces),
        levels=summary.levels(duration_s),
        summary=summary,
        channel_summaries=tuple(singles),
        channel_check=check,
        channel_faults=check.faults(),
        spectrum=spectrum,
        onsets=joined_onsets([piece.onsets for piece in pieces if piece.onsets is not None]),
        rises={step: sum((piece.rises or {})[step] for piece in pieces) for step in STEPS_DB},
        second_peak_db=np.concatenate([piece.second_peak_db for piece in pieces]),
        second_lafmax_db=np.concatenate([piece.second_lafmax_db for piece in pieces]),
        second_lafmin_db=np.concatenate([piece.second_lafmin_db for piece in pieces]),
        irregularities=Irregularities(
            sum(piece.irregularities.dropouts for piece in pieces),
            sum(piece.irregularities.dropouts_s for piece in pieces),
            sum(piece.irregularities.repeats for piece in pieces),
        ),
    )


def _measure_history(log: LevelLog, part: Part, request: Request) -> Measurement:
    if request.history is not None and log.row_s != ROW_S:
        raise SettingError(
            f"{log.path}: has rows of {log.row_s:g} s; a history of rows of 10 ms cannot be made "
            "of it: leave --history out"
        )
    rows = RowGatherer(
        request.history,
        # gains of a history are made of the kept levels
        keep_levels=request.keep_levels or request.gains is not None,
        row_s=log.row_s,
    )
    for some in _rows_of(log, part):
        rows.add(some)
        if request.progress is not None:
            request.progress(round(len(some) * log.row_s * 1000))
    if not rows.summary.rows:
        raise SettingError(f"{log.path}: has no row from {part.begin_s:g} s on; see --from, --to")
    peak, lafmax, lafmin = rows.seconds()
    laf = rows.laf
    return Measurement(
        path=Path(printable(log.path)),
        recording=None,
        start=part.start(log.start) if request.start is None else request.start,
        sample_rate_hz=None,
        channels=None,
        channel=None,
        truncated=False,
        # nothing in a history tells its bits
        format_floor_db=_USUAL_FLOOR_DB,
        levels=known_levels(rows.summary.levels(), log.lacking),
        summary=rows.summary,
        channel_summaries=(),
        channel_check=None,
        channel_faults=[],
        onsets=rows.onsets(),
        rises=rows.rises(),
        laf=laf,
        gains=_shifted_gains(request.gains, laf, peak, known="sample_peak_db" not in log.lacking),
        second_peak_db=peak,
        second_lafmax_db=lafmax,
        second_lafmin_db=lafmin,
        half_scale_share=0.0,
        row_s=log.row_s,
        quantity=log.quantity,
        lacking=log.lacking,
    )


def _rows_of(log: LevelLog, part: Part) -> Iterator[LevelRows]:
    """The rows that lie wholly in a part; nothing is read beyond it."""
    first, stop = part.rows(log.row_s)
    at = 0
    for some in log.rows():
        # in rows of this chunk
        last = len(some) if stop is None else max(0, stop - at)
        yield some[max(0, first - at) : last]
        at += len(some)
        if stop is not None and at >= stop:
            return


def _shifted_gains(
    gains: Gains | None, laf: Centi | None, second_peak_db: Array, *, known: bool
) -> list[SimulatedGain]:
    """Gains of a history: a shift, and nothing where the wave, which is not there, would clip.

    Without peaks nobody knows what clips: shares are NaN, and higher gains are given up.
    """
    if gains is None or laf is None:
        return []
    out = []
    for gain_db in gains.gains_db:
        # seconds with a clipped sample: rather too many than too few
        share = float((second_peak_db + gain_db > 0).mean()) if known else np.nan
        own = own_levels(laf, None, gain_db, gains.noise)
        # there is no wave to clip, so a gain that would clip it cannot be simulated
        out.append(
            SimulatedGain(gain_db, share, laf, own, given_up=share > 0 if known else gain_db > 0)
        )
    return out
