"""Measure recordings, arrays and level histories."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.api.frames import frame
from audiolevel.api.results import Progress, Result, names_its_site, site_of
from audiolevel.folder.kept import keep_measurement, kept_measurement
from audiolevel.folder.visits import FolderVisit
from audiolevel.ground.arrays import Array, Centi
from audiolevel.ground.errors import AudioLevelError, SettingError
from audiolevel.ground.files import writing
from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object
from audiolevel.metering import measurement as metering
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.listener import BlockListener
from audiolevel.metering.onsets import Onsets
from audiolevel.metering.parts import Moment
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.sound_files import recording_of
from audiolevel.metering.statistics import Levels
from audiolevel.metering.visit import AnyPath, Table, Visit, Visits, visits_of
from audiolevel.planning.survey import gain_noise
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.measure import json as measure_json
from audiolevel.report.measure.document import measure_document, measurements_document
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger, firings

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Measurement(Result):
    """What a recording measured; every level in `unit`, that of its site's calibration.

    Attributes
    ----------
    base : object
        What the program itself works with, with levels in dB FS; not for use outside.
    site : Site
        What is known of the place and the microphone.
    """

    base: metering.Measurement
    site: Site = field(default_factory=Site)
    _stem = "measure"

    def __repr__(self) -> str:
        laeq_db = self.levels.laeq_db
        return (
            f"<Measurement of {self.path.name}: {self.duration_s:.1f} s, "
            f"LAeq {laeq_db:.1f} {self.unit}>"
        )

    @property
    def unit(self) -> str:
        """Of every level: "dB SPL" where the site is calibrated, else "dB FS"."""
        return self._scale.unit

    @property
    def _scale(self) -> Scale:
        return Scale(self.site.microphone.spl_at_full_scale_db)

    @property
    def path(self) -> Path:
        """Its file, or the name of what was in memory."""
        return self.base.path

    @property
    def start(self) -> datetime | None:
        """When it began, by the clock there; None where nobody knows."""
        return self.base.start

    @property
    def duration_s(self) -> float:
        """Its length in seconds."""
        return self.base.duration_s

    @property
    def row_s(self) -> float:
        """Seconds between two rows of `laf_db`."""
        return self.base.row_s

    @property
    def levels(self) -> Levels:
        """LAeq, percentiles and the like, of the whole, in `unit`; the sample peak in dB FS."""
        return self.base.levels.shifted(self._scale.shown(0.0))

    @property
    def onsets(self) -> Onsets | None:
        """Rises of ISO/PAS 1996-3, by their times and differences; None of coarse rows."""
        return self.base.onsets

    @property
    def laf_db(self) -> Array:
        """The level history LAF every `row_s`, shape (rows,), in `unit`.

        Raises
        ------
        SettingError
            It was measured without keeping it.
        """
        # hundredths of a dB FS; the calibration adds the same to every level
        return np.asarray(self._laf(0.0) / 100 + self._scale.shown(0.0))

    def _laf(self, gain_db: float) -> Centi:
        """LAF at a gain in hundredths of a dB FS, shape (rows,)."""
        return levels_at(self.base, gain_db, self.site)

    @property
    def notices(self) -> list[Notice]:
        """What the reader of this measurement should be careful about."""
        return quality_notices(self.base, self._scale, self.site.own_noise)

    def firings(self, trigger: Trigger) -> Array:
        """When a trigger would have fired.

        Parameters
        ----------
        trigger : Trigger
            A level without a unit of its own is in `unit`, and without a gain at the recorded one.

        Returns
        -------
        array, shape (firings,)
            Seconds from the beginning, to the end of the row in which it fired.

        Raises
        ------
        SettingError
            The trigger's level is in another unit.

        Examples
        --------
        A tone of 0.5 s that is 40 dB louder than the noise before it:

        >>> import numpy as np, audiolevel as al
        >>> noise = np.random.default_rng(0).normal(0, 1e-3, 8000 * 20)
        >>> noise[8000 * 5 : 8000 * 5 + 4000] += 0.1
        >>> measured = al.measure(noise, rate_hz=8000)
        >>> measured.firings(al.Trigger.rise(change_db=10)).round(1)
        array([5.])
        """
        gain_db = trigger.gain_db or 0.0
        laf = self._laf(gain_db)
        rows = firings(laf / 100, trigger.in_full_scale(self._scale, gain_db), self.row_s)
        # a row is known at its end, hence + 1; rounded to the millisecond
        return np.round((rows + 1) * self.row_s, 3)

    def to_frame(self) -> "pd.DataFrame":
        """The level history: `laf_db` by `time_s`, the end of each row, or by its moment."""
        laf_db = self.laf_db
        ends_s = np.round((1 + np.arange(len(laf_db))) * self.row_s, 6)
        if self.start is None:
            return frame({"time_s": ends_s, "laf_db": laf_db})
        start = np.datetime64(self.start, "us")
        ends = start + np.round(1e6 * ends_s).astype("timedelta64[us]")
        return frame({"laf_db": laf_db}, index=ends)

    def to_object(self) -> Object:
        """The object that `audiolevel measure --json` writes."""
        return measure_json.as_json([self._judged], self._scale)

    def document(self) -> Document:
        """Levels, onsets and clipping."""
        return measure_document(*self._judged, self._scale)

    @property
    def _judged(self) -> tuple[metering.Measurement, list[Notice]]:
        return self.base, self.notices

    def _pictures(self) -> dict[str, Picture]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.measure.figure import levels

        return {f"levels_{self.path.stem}": levels(self.base, self._scale)}


def levels_at(base: metering.Measurement, gain_db: float, site: Site) -> Centi:
    """LAF of a measurement at a gain of its site, hundredths of a dB FS, shape (rows,).

    Raises
    ------
    SettingError
        Its levels were not kept, or it is a level history whose sound would clip at this gain.
    """
    if gain_db == 0 and base.laf is not None:
        return base.laf
    (gain,) = metering.at_gains(base, Gains((gain_db,), gain_noise(site))).gains
    if gain.laf is None:
        raise SettingError(
            f"{base.path}: is a level history, and at {gain_db:+g} dB its sound may clip; give the "
            "recording"
        )
    return gain.laf


@dataclass(frozen=True, eq=False)
class Measurements(Result):
    """Several measurements of one site."""

    each: tuple[Measurement, ...]
    _stem = "measure"

    def __repr__(self) -> str:
        return f"<Measurements: {len(self)} recordings>"

    def __len__(self) -> int:
        return len(self.each)

    def __iter__(self) -> Iterator[Measurement]:
        return iter(self.each)

    def __getitem__(self, index: int) -> Measurement:
        return self.each[index]

    @property
    def unit(self) -> str:
        """Of every level."""
        return self.each[0].unit

    def to_frame(self) -> "pd.DataFrame":
        """A row a recording: when, how long, and its levels in `unit`."""
        rows = []
        for one in self.each:
            levels = asdict(one.levels)
            percentiles, clipping = levels.pop("percentiles_db"), levels.pop("clipping")
            about = {"recording": one.path.name, "start": one.start, "unit": one.unit}
            share = clipping["clipped_share"]
            rows.append({**about, **levels, **percentiles, "clipped_share": share})
        return frame(rows)

    def to_object(self) -> Object:
        """The object that `audiolevel measure --json` writes."""
        return measure_json.as_json([one._judged for one in self.each], self.each[0]._scale)

    def document(self) -> Document:
        """All measurements beside each other, then each of them."""
        return measurements_document([one._judged for one in self.each], self.each[0]._scale)

    def _save_pictures(self, where: Path, pictures: Mapping[str, Picture]) -> list[Path]:
        seen: Counter[str] = Counter()
        files = []
        # drawn and saved one by one: a thousand open pictures do not fit in memory
        for one in self.each:
            for stem, picture in one._pictures().items():
                seen[stem] += 1
                # recordings of one name from two folders: the second has a picture of its own
                number = f"_{seen[stem]}" if seen[stem] > 1 else ""
                files += super()._save_pictures(where, {f"{stem}{number}": picture})
        return files


@names_its_site
def measure(
    recording: Visit | AnyPath | Table | ArrayLike,
    *,
    rate_hz: int | None = None,
    site: Site | AnyPath | None = None,
    channel: int | None = None,
    start: Moment | None = None,
) -> Measurement:
    """Measure a recording, a level history or an array.

    Parameters
    ----------
    recording : Visit, path, DataFrame, or array_like of shape (frames,) or (frames, channels)
        A sound file, a level history (CSV, or a table of pandas), or samples whose full scale is 1;
        a `Visit` says which part of it, and which columns.
    rate_hz : int, optional
        Sampling rate of an array, 8,000 to 192,000 Hz.
    site : Site or path, optional
        What is known of the place and the microphone.
    channel : int, optional
        Measure this channel, from 1; by default the mean square of all.
    start : datetime, optional
        When the recording began, by the local clock; by default as a level history with dates
        says.

    Returns
    -------
    Measurement

    Raises
    ------
    RecordingError, SettingError
        It cannot be measured; one line that says why and what to do.

    Examples
    --------
    A full-scale sine reads 0 dB FS (AES17); at 1 kHz A weighting changes nothing:

    >>> import numpy as np, audiolevel as al
    >>> sine = np.sin(2 * np.pi * 1000 * np.arange(48_000 * 5) / 48_000)
    >>> measured = al.measure(sine, rate_hz=48_000)
    >>> abs(round(measured.levels.laeq_db, 1))
    0.0
    """
    known = site_of(site)
    visit = recording
    if not isinstance(visit, Visit):
        visit = Visit(visit, start=start, channel=channel, rate_hz=rate_hz)
    elif any(value is not None for value in (rate_hz, channel, start)):
        raise SettingError("rate_hz, channel, start: a visit says them itself; give them to it")
    (base,) = measured([visit], known, keep_levels=True)
    return Measurement(base, known)


def measured(
    visits: Sequence[Visit],
    site: Site,
    *,
    gains: Gains | None = None,
    history: HistoryWriter | None = None,
    on_block: Sequence[BlockListener | None] = (),
    keep_levels: bool = False,
    progress: Progress | None = None,
) -> list[metering.Measurement]:
    """Each visit measured, with the calibration of its site.

    Parameters
    ----------
    visits : sequence of Visit
    site : Site
    gains, history, keep_levels
        As in `metering.measurement.measure`.
    on_block : sequence of callable, optional
        Of each visit, who else hears its blocks.
    progress : callable, optional
        Called with the seconds measured and those there are; raising in it ends the work.
    """
    found = []
    told = None if progress is None else _Told(progress, visits)
    for visit, listener in zip(visits, on_block or [None] * len(visits), strict=True):
        calibrated = visit.calibrated(site.microphone.spl_at_full_scale_db)
        kept = None
        if isinstance(calibrated, FolderVisit) and gains is not None:
            kept = calibrated.kept(gains)
        # what somebody else hears, or writes, must be heard again
        again = history is not None or listener is not None or keep_levels
        measurement = kept_measurement(kept, calibrated) if kept and not again else None
        if measurement is None:
            # one recording at a time, so that memory does not grow with their number
            measurement = metering.measure(
                calibrated,
                gains=gains,
                history=history,
                on_block=listener,
                keep_levels=keep_levels,
                progress=None if told is None else told.heard,
            )
            if kept is not None and not keep_levels:
                keep_measurement(kept, measurement)
        found.append(measurement)
        if told is not None:
            told.next()
    return found


class _Told:
    """Seconds measured of all visits, told as they are."""

    def __init__(self, progress: Progress, visits: Sequence[Visit]) -> None:
        self._tell, self._lengths_s = progress, [_length_s(one) for one in visits]
        self._total_s, self._before_s, self._in_ms = sum(self._lengths_s), 0.0, 0

    def heard(self, milliseconds: int) -> None:
        self._in_ms += milliseconds
        # files may be longer than they say, and of a level history nobody knows
        here_s = min(self._in_ms / 1000, self._lengths_s[0])
        self._tell(self._before_s + here_s, self._total_s)

    def next(self) -> None:
        self._before_s += self._lengths_s.pop(0)
        self._in_ms = 0
        self._tell(self._before_s, self._total_s)


def _length_s(visit: Visit) -> float:
    """By its own account; 0 where it has none, or a fault that is told when it is measured."""
    source = visit.source
    try:
        # standard input has no length, and looking at it would use it up
        if visit.is_history or source == "-":
            return 0.0
        return recording_of(source).part(visit.part).duration_s
    except AudioLevelError:
        return 0.0


@names_its_site
def measure_all(
    recordings: Visits,
    *,
    site: Site | AnyPath | None = None,
    history: AnyPath | None = None,
    coarse: bool = False,
    force: bool = False,
    keep_levels: bool = True,
    progress: Progress | None = None,
) -> Measurements:
    """Measure several recordings of one site.

    Parameters
    ----------
    recordings : Visit or path, or sequence of them
        Sound files or level histories.
    site
        As in `measure`.
    history : path, optional
        Write the level history of the one recording there.
    coarse : bool
        With rows of a second, for publication.
    force : bool
        Let the history replace a file that `measure` has not made.
    keep_levels : bool
        Keep the levels of each for `laf_db` and `firings`, 17 MB a day of sound.
    progress : callable, optional
        Called with the seconds measured and those there are; raising in it ends the work.

    Raises
    ------
    RecordingError, SettingError
        As in `measure`.
    """
    known = site_of(site)
    visits = visits_of(recordings)
    # with or without a history the measuring below is the same
    keeping = nullcontext() if history is None else HistoryWriter(history, coarse=coarse)
    with writing([visit.name for visit in visits], force=force), keeping as writer:
        found = measured(visits, known, history=writer, keep_levels=keep_levels, progress=progress)
    return Measurements(tuple(Measurement(one, known) for one in found))
