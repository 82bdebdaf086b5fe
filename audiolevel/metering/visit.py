"""A visit: what was recorded at a site in one go, and what is known of it.

Entry points: `Visit`, `Visits`, `visits_of`, `each_of`, `AnyPath`.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from numbers import Integral
from typing import Any, Protocol, runtime_checkable

from numpy.typing import ArrayLike

from audiolevel.ground.errors import SettingError
from audiolevel.ground.tables import TextTable, text_table
from audiolevel.metering.annotations import Mark, read_marks
from audiolevel.metering.level_log import LogForm, is_history
from audiolevel.metering.parts import Moment, Part, moment_of, place_s
from audiolevel.metering.recordings import Recording, recording_of_array
from audiolevel.metering.sequences import sequence_of

AnyPath = str | os.PathLike[str]


@runtime_checkable
class Table(Protocol):
    """A pandas DataFrame or Series, or what can be written as CSV as those are."""

    def to_csv(self, *, index: bool) -> str:
        """Its text."""


@dataclass(frozen=True, eq=False)
class Visit:
    """A recording or a level history, which part of it counts, and what was heard and seen there.

    Parameters
    ----------
    recording : path, sequence of path, array_like of shape (frames,) or (frames, channels)
        A sound file or a level history; the files that a recorder has split one recording into,
        which are joined in time order; a pandas DataFrame of levels, whose index or column has
        their times; or samples whose full scale is 1.
    start : datetime, str or datetime64, optional
        When it began, by the clock on the wall there; by default as the file says.
    marks : path or sequence of Mark, optional
        Wanted sounds in it, by its own time from the beginning.
    wet : bool, optional
        Whether the road was wet; None if nobody said.
    channel : int, optional
        Listen to this channel, from 1; by default the mean square of all.
    from_s, to_s : float or str, optional
        Only this part counts, in seconds from the beginning, or as `1:30`; times in results begin
        with it.
    level_column, time_column : str, optional
        Columns of a level history with another header; default `laf_db` and `time_s`.
    rate_hz : int, optional
        Sampling rate of samples, 8,000 to 192,000 Hz.
    spl_at_full_scale_db : float, optional
        What brings a level history in dB SPL to dB FS; by default the calibration of its site.

    Raises
    ------
    RecordingError, SettingError
        Something of it cannot be used; one line that says why and what to do.
    """

    recording: "AnyPath | Recording | Sequence[AnyPath] | ArrayLike | Table"
    start: Moment | None = None
    marks: AnyPath | Sequence[Mark] = ()
    wet: bool | None = None
    channel: int | None = None
    from_s: float | str | None = None
    to_s: float | str | None = None
    level_column: str | None = None
    time_column: str | None = None
    rate_hz: int | None = None
    spl_at_full_scale_db: float | None = None

    def __post_init__(self) -> None:
        # looked at once, here: a slip is told before anything is measured
        set_once = object.__setattr__
        for name in ("from_s", "to_s"):
            set_once(self, name, _seconds(name, getattr(self, name)))
        set_once(self, "start", moment_of(self.start, "start"))
        self.part.start(self.began)
        channel = self.channel
        if channel is not None and (not isinstance(channel, Integral) or channel < 1):
            raise SettingError(f"channel: {channel!r} is no channel; they count from 1")
        # the text "dry" would be true
        if self.wet not in (None, True, False):
            raise SettingError(f"wet: {self.wet!r} must be True, False, or None if nobody knows")
        set_once(self, "recording", self._opened())
        given = self.marks
        read = read_marks(given) if isinstance(given, str | os.PathLike) else tuple(given)
        # a list of files would else be one of no marks
        if not all(isinstance(mark, Mark) for mark in read):
            raise SettingError("marks: give the file of them, or each as a Mark")
        set_once(self, "marks", read)

    def __repr__(self) -> str:
        began = "" if self.began is None else f", {self.began:%Y-%m-%d %H:%M}"
        marks = f", {len(self.heard_marks)} marks" if self.marks else ""
        return f"<Visit {self.name}{began}{marks}>"

    def _opened(self) -> "AnyPath | Recording":
        given = self.recording
        if isinstance(given, str | os.PathLike | Recording):
            return given
        # what has a sampling rate is samples, whatever holds them
        if isinstance(given, Table) and self.rate_hz is None:
            table = text_table(given)
            assert table is not None  # whatever can be written as CSV makes one
            return table
        # the files of one recording, where each is named; else samples
        if isinstance(given, list | tuple) and all(isinstance(p, str | os.PathLike) for p in given):
            if not given:
                raise SettingError("recordings: none is given; give one or more")
            return sequence_of(given, self.began)
        if self.rate_hz is None:
            raise SettingError("rate_hz: samples in an array need their sampling rate")
        # samples are left
        return recording_of_array(given, self.rate_hz)  # type: ignore[arg-type]

    @property
    def source(self) -> "AnyPath | Recording":
        """What there is to read."""
        return self.recording  # type: ignore[return-value]  # of these since it was made

    @property
    def name(self) -> str:
        """Its path, as it is told while it is measured."""
        source = self.source
        return str(source.path if isinstance(source, Recording) else source)

    @property
    def is_history(self) -> bool:
        """Whether it is a level history, which holds no sound."""
        source = self.source
        if isinstance(source, Recording | TextTable):
            return isinstance(source, TextTable)
        return is_history(source)

    @property
    def part(self) -> Part:
        """What of it counts."""
        return Part(self.from_s, self.to_s)  # type: ignore[arg-type]  # numbers since it was made

    @property
    def began(self) -> datetime | None:
        """When it began; None as the file says."""
        return self.start  # type: ignore[return-value]  # of this kind since it was made

    @property
    def form(self) -> LogForm:
        """How to read it where it is a level history."""
        return LogForm(self.level_column, self.time_column, self.spl_at_full_scale_db)

    @property
    def heard_marks(self) -> list[Mark]:
        """The marks that lie in its part, counted from where that begins."""
        marks: tuple[Mark, ...] = self.marks  # type: ignore[assignment]  # since it was made
        moved = [mark.within(self.part) for mark in marks]
        return [mark for mark in moved if mark is not None]

    def calibrated(self, spl_at_full_scale_db: float | None) -> "Visit":
        """The same with the calibration of its site, where it has none of its own."""
        if self.spl_at_full_scale_db is not None or spl_at_full_scale_db is None:
            return self
        return replace(self, spl_at_full_scale_db=spl_at_full_scale_db)


def _seconds(name: str, given: object) -> object:
    """A place in the recording, in seconds where it is a text."""
    if not isinstance(given, str):
        return given
    try:
        return place_s(given)
    except ValueError as error:
        raise SettingError(f"{name}: {error}") from error


Visits = Visit | AnyPath | Recording | Table | Sequence[Visit | AnyPath | Recording | Table]


def visits_of(
    given: Visits,
    starts: Sequence[Moment | None] | Moment = (),
) -> list[Visit]:
    """One visit or path, or several, as visits.

    Parameters
    ----------
    given : Visit or path, or sequence of them
    starts : sequence of datetime, optional
        When each began, where the visits do not say.

    Raises
    ------
    SettingError
        There is none, or not one start for each.
    """
    # a single path is a string too, and must not be read letter by letter
    if isinstance(given, Visit | Recording | str | os.PathLike | Table):
        given = [given]
    several = list(given)
    if not several:
        raise SettingError("recordings: none is given; give one or more")
    visits = [one if isinstance(one, Visit) else Visit(one) for one in several]
    return [
        visit if start is None else replace(visit, start=start)
        for visit, start in zip(visits, each_of(starts, visits, "starts"), strict=True)
    ]


def each_of(values: Any, things: Sequence[Any], name: str, what: str = "recording") -> list[Any]:
    """One value for each thing; None for each where no values are given.

    Parameters
    ----------
    values : sequence, or a single text, path, number or moment
    things : sequence
    name, what : str
        Of the values and of one thing, for errors.

    Raises
    ------
    SettingError
        Not one value for each.
    """
    each = _several(values)
    if not each:
        return [None] * len(things)
    if len(each) != len(things):
        many = f"{len(things)} {what}{'' if len(things) == 1 else 's'}"
        raise SettingError(f"{name}: {len(each)} for {many}; give one for each")
    return each


def _several(values: Any) -> list[Any]:
    """Values in a list; a single one is no sequence, and a text none of letters."""
    single = isinstance(values, str | os.PathLike | Moment | float | int)
    return [values] if single else list(values)
