"""Measure recordings, arrays and level histories."""

from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.api.results import Progress, Result, as_kind, names_its_site, quiet, site_of
from audiolevel.arrays import Array
from audiolevel.errors import SettingError
from audiolevel.files import writing
from audiolevel.folder.visits import FolderVisit
from audiolevel.metering import measurement as metering
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.listener import BlockListener
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.sound_files import open_recording
from audiolevel.metering.visit import AnyPath, Visit, Visits, visits_of
from audiolevel.notices import Notice
from audiolevel.records import Object
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.measure import json as measure_json
from audiolevel.report.measure.document import measure_document, measurements_document
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger, firings


@dataclass(frozen=True, eq=False)
class Measurement(metering.Measurement, Result):
    """What a recording measured, in the unit of its site's calibration.

    Attributes
    ----------
    site : Site
        What is known of the place and the microphone.
    """

    site: Site = field(default_factory=Site)
    _stem = "measure"

    def __repr__(self) -> str:
        laeq = self.scale.shown(self.levels.laeq_db)
        return (
            f"<Measurement of {self.path.name}: {self.duration_s:.1f} s, "
            f"LAeq {laeq:.1f} {self.scale.unit}>"
        )

    @property
    def scale(self) -> Scale:
        """The unit levels are said in."""
        return Scale(self.site.microphone.spl_at_full_scale_db)

    @property
    def laf_db(self) -> Array:
        """The level history LAF every `row_s`, shape (rows,), in the unit of `scale`."""
        assert self.laf is not None  # `measure` keeps the levels
        # hundredths of a dB FS; the calibration adds the same to every level
        return np.asarray(self.laf / 100 + self.scale.shown(0.0))

    @property
    def notices(self) -> list[Notice]:
        """What the reader of this measurement should be careful about."""
        return quality_notices(self, self.scale, self.site.own_noise)

    def firings(self, trigger: Trigger) -> Array:
        """When a trigger would have fired.

        Parameters
        ----------
        trigger : Trigger
            A threshold's level in the unit of `scale`.

        Returns
        -------
        array, shape (firings,)
            Seconds from the beginning, to the end of the row in which it fired.

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
        at_db = trigger.at_db
        if trigger.mode == "threshold":
            at_db = self.scale.full_scale(at_db)
        assert self.laf is not None  # as above
        rows = firings(self.laf / 100, trigger.at(at_db), self.row_s)
        # a row is known at its end, hence + 1; rounded to the millisecond
        return np.round((rows + 1) * self.row_s, 3)

    def to_object(self) -> Object:
        """The object that `audiolevel measure --json` writes."""
        return measure_json.as_json([(self, self.notices)], self.scale)

    def document(self) -> Document:
        """Levels, onsets and clipping."""
        return measure_document(self, self.notices, self.scale)

    def _pictures(self) -> dict[str, Picture]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.measure.figure import levels

        return {f"levels_{self.path.stem}": levels(self, self.scale)}


@dataclass(frozen=True, eq=False)
class Measurements(Result):
    """Several measurements of one site."""

    each: tuple[Measurement, ...]
    _stem = "measure"

    def to_object(self) -> Object:
        """The object that `audiolevel measure --json` writes."""
        judged = [(one, one.notices) for one in self.each]
        return measure_json.as_json(judged, self.each[0].scale)

    def document(self) -> Document:
        """All measurements beside each other, then each of them."""
        judged = [(one, one.notices) for one in self.each]
        return measurements_document(judged, self.each[0].scale)

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
    recording: Visit | AnyPath | ArrayLike,
    *,
    rate_hz: int | None = None,
    site: Site | AnyPath | None = None,
    channel: int | None = None,
    start: datetime | None = None,
) -> Measurement:
    """Measure a recording, a level history or an array.

    Parameters
    ----------
    recording : Visit, path, or array_like of shape (frames,) or (frames, channels)
        A sound file, a level history (CSV), or samples whose full scale is 1; a `Visit` says which
        part of it, and which columns.
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
    return as_kind(Measurement, base, site=known)


def measured(
    visits: Sequence[Visit],
    site: Site,
    *,
    gains: Gains | None = None,
    history: HistoryWriter | None = None,
    on_block: Sequence[BlockListener | None] = (),
    keep_levels: bool = False,
    progress: Progress = quiet,
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
        Given a path, a context that yields what is called with milliseconds measured.
    """
    found = []
    for visit, listener in zip(visits, on_block or [None] * len(visits), strict=True):
        calibrated = visit.calibrated(site.microphone.spl_at_full_scale_db)
        # what somebody else hears, or keeps, must be heard again
        again = history is not None or listener is not None or keep_levels
        kept = None
        if isinstance(calibrated, FolderVisit) and gains is not None and not again:
            kept = calibrated.kept(gains)
        measurement = None if kept is None else kept.get(calibrated)
        if measurement is None:
            # one recording at a time, so that memory does not grow with their number
            with progress(visit.name) as advance:
                measurement = metering.measure(
                    calibrated,
                    gains=gains,
                    history=history,
                    on_block=listener,
                    keep_levels=keep_levels,
                    progress=advance,
                )
            if kept is not None:
                kept.put(measurement)
        found.append(measurement)
    return found


def length_s(recording: AnyPath) -> float:
    """Length of a sound file in seconds, by its own account.

    Parameters
    ----------
    recording : path

    Raises
    ------
    RecordingError
        It is no sound file that can be read.
    """
    return open_recording(recording).duration_s


@names_its_site
def measure_all(
    recordings: Visits,
    *,
    site: Site | AnyPath | None = None,
    history: AnyPath | None = None,
    coarse: bool = False,
    force: bool = False,
    progress: Progress = quiet,
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
    progress : callable, optional
        Given a path, a context that yields what is called with milliseconds measured.

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
        found = measured(visits, known, history=writer, progress=progress)
    return Measurements(tuple(as_kind(Measurement, one, site=known) for one in found))
