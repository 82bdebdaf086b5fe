"""Mixtures of the site and a wanted sound as waveforms, where the two together pass full scale.

Adding mean squares knows nothing of full scale, so these placements are mixed as waveforms: the
recording's samples at that moment, amplified, plus the sound's, clipped, A and F weighted.

Entry points: `PlacementGround`, `WaveformMixer`.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, BoolArray, Centi, IntArray
from audiolevel.metering.decibels import centibels, level_db, mean_square
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import (
    FAST_S,
    MS_PER_ROW,
    ROW_S,
    TimeWeighting,
    millisecond_starts,
    power_of,
)
from audiolevel.metering.recordings import StretchReader
from audiolevel.metering.weighting import filters
from audiolevel.sounds.arrival import WantedSound

# the filters' slowest pole has fallen by more than 100 dB after this
_RUN_IN_ROWS = 20
_ROWS_PER_S = round(1 / ROW_S)


@dataclass(frozen=True)
class Stretch:
    """Rows `first` to `first + rows` of one recording."""

    measurement: Measurement
    first: int
    rows: int


@dataclass(frozen=True)
class PlacementGround:
    """The stretches of the recordings that sounds are placed in, end to end."""

    stretches: tuple[Stretch, ...]

    def where(self, row: int) -> tuple[Measurement, int]:
        """The recording that a row of the ground belongs to, and the row in it."""
        begin = 0
        for stretch in self.stretches:
            if row < begin + stretch.rows:
                return stretch.measurement, stretch.first + row - begin
            begin += stretch.rows
        raise IndexError(row)

    def second_peak_db(self) -> Array:
        """Highest sample around each row, re full scale, shape (rows,): that of its second."""
        parts = []
        for stretch in self.stretches:
            seconds = np.arange(stretch.first, stretch.first + stretch.rows) // _ROWS_PER_S
            peak = stretch.measurement.second_peak_db
            # rows past the last second that has a peak take that one
            parts.append(peak[np.minimum(seconds, len(peak) - 1)])
        return np.concatenate(parts)


class WaveformMixer:
    """Mixes one wanted sound into the waveform of the recordings at one gain.

    Parameters
    ----------
    ground : PlacementGround
        Of sound recordings, not of level histories.
    wanted : WantedSound
    gain_db : float
    untouched : array of bool, shape (rows of the ground,)
        Rows that may be mixed; a marked sound in the recording would be mixed in too.
    """

    def __init__(
        self,
        ground: PlacementGround,
        wanted: WantedSound,
        gain_db: float,
        untouched: BoolArray,
    ) -> None:
        self._ground, self._wanted = ground, wanted
        self._factor = 10 ** (gain_db / 20)
        # rounded up to whole seconds, which is how finely peaks are known
        rows = -(-round(len(wanted.samples) / wanted.rate_hz * 100) // 100) * 100
        amplitude = 10 ** (ground.second_peak_db() / 20)
        # the highest sample of the seconds the sound lasts, and one after
        self._ahead = _highest_ahead(amplitude, rows + _ROWS_PER_S)
        self._peak = float(np.abs(wanted.samples).max())
        self._untouched = untouched
        self._readers: dict[int, StretchReader] = {}

    @property
    def length_s(self) -> float:
        """Length of the sound, and a second for the meter to fall."""
        return len(self._wanted.samples) / self._wanted.rate_hz + 1.0

    @property
    def share(self) -> float:
        """The share of all moments and events in which a placement may clip."""
        # kept out of start-up: a batch's parent mixes nothing
        from scipy.special import ndtr

        variation = self._wanted.variation
        # of every row: how much louder than its mean the sound must be to clip there
        room = np.maximum(1.0 / self._factor - self._ahead, 0.0) / self._peak
        needed_db = 20 * np.log10(np.maximum(room, 1e-10)) - variation.mean_db
        # a level known exactly clips or does not
        may = ndtr(-needed_db / max(variation.predictive_db, 1e-6))
        return float(np.mean(may * self._untouched))

    def clips(self, rows: IntArray, offsets_db: Array) -> BoolArray:
        """Which placements may clip; shape of `rows`."""
        # at worst both peaks meet: what is not loud by this cannot clip
        peaks = self._ahead[rows] + self._peak * 10 ** (offsets_db / 20)
        clips: BoolArray = (peaks * self._factor > 1) & self._untouched[rows]
        return clips

    def level(self, row: int, sound_rows: int, offset_db: float) -> Centi:
        """LAF of the mixture in hundredths of a dB FS at this gain, shape (sound_rows,)."""
        measurement, at = self._ground.where(row)
        reader = self._reader(measurement)
        rate_hz = reader.rate_hz
        per_row = rate_hz * ROW_S
        # one over: at 22,050 Hz and others a row is no whole number of samples
        frames = round((sound_rows + _RUN_IN_ROWS) * per_row) + 1
        site = reader.read(round((at - _RUN_IN_ROWS) * per_row), frames)
        sound = np.zeros(frames)
        begin = round(_RUN_IN_ROWS * per_row)
        samples = self._wanted.samples[: frames - begin] * 10 ** (offset_db / 20)
        sound[begin : begin + len(samples)] = samples
        if measurement.channel is not None:
            # what is not listened to decides nothing
            site = site[:, measurement.channel - 1 : measurement.channel]
        # the sound reaches every channel alike
        squares = [self._weighted(channel + sound, rate_hz) for channel in site.T]
        weighting = TimeWeighting(FAST_S)
        laf = measurement.laf
        # without a level history the weighting starts from silence, -200 dB
        before = -20000 if laf is None else laf[max(0, at - _RUN_IN_ROWS - 1)]
        weighting.start_at(float(mean_square(before / 100)) * self._factor**2)
        by_ms = weighting.feed(np.mean(squares, axis=0))
        mixture = centibels(level_db(by_ms[MS_PER_ROW - 1 :: MS_PER_ROW]))
        return mixture[_RUN_IN_ROWS : _RUN_IN_ROWS + sound_rows]

    def _weighted(self, mixture: Array, rate_hz: int) -> Array:
        # kept out of start-up, as in the meter
        from scipy.signal import sosfilt

        weighted = sosfilt(filters(rate_hz).a, np.clip(mixture * self._factor, -1, 1))
        starts, frames = millisecond_starts(len(weighted), rate_hz)
        return power_of(weighted, starts, frames).ms_squares

    def _reader(self, measurement: Measurement) -> StretchReader:
        # not its path: two parts of one file are two recordings
        key = id(measurement)
        if key not in self._readers:
            assert measurement.recording is not None  # sounds are mixed into waveforms only
            self._readers[key] = StretchReader(measurement.recording)
        return self._readers[key]


def _highest_ahead(values: Array, rows: int) -> Array:
    """The highest of each row and the `rows` after it."""
    # kept out of start-up
    from scipy.ndimage import maximum_filter1d

    # a negative origin moves the centred window ahead of its row
    highest: Array = maximum_filter1d(values, rows, origin=-(rows // 2), mode="nearest")
    return highest
