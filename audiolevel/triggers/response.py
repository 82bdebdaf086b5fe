"""What a trigger, in the state the site left it in, makes of a sound.

It may not be armed yet, it may still be in the dead time after a lorry, or it is ready. For one
placement of a sound the outcome at *every* setting follows from one array: the trigger fires if
the highest value its mode watches, from the moment it is armed to the end of the sound, is at or
above the setting. So a sweep costs little more than a single setting, and only placements that
meet a trigger not yet released are followed row by row.

Entry point: `SweptTrigger`. The rules are those of `triggers.trigger`, which the tests hold it
to.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from audiolevel.ground.arrays import BoolArray, Centi, IntArray
from audiolevel.metering.level_changes import changes_after, series
from audiolevel.triggers.trigger import Trigger, met_from, rows_of, sweep

_NEVER = np.iinfo(np.int16).min


class SweptTrigger:
    """One trigger over its settings, and the state the site alone leaves it in at every moment.

    Parameters
    ----------
    site
        LAF of the site in hundredths of a dB, shape (rows,).
    trigger
        Its mode and times; its own level or change is not used.
    settings_db
        Levels or changes to try.
    interval_s
        Of a row.

    Attributes
    ----------
    context
        Rows before a sound that decide what the trigger makes of it.
    armed_from
        First row at which it can fire.
    """

    def __init__(
        self, site: Centi, trigger: Trigger, settings_db: Sequence[float], interval_s: float
    ) -> None:
        self.settings_db = [float(setting) for setting in settings_db]
        self._mode = trigger.mode
        self._window = 0 if trigger.mode == "threshold" else trigger.window_rows(interval_s)
        self._hold = rows_of(trigger.hold_s, interval_s)
        self._rearm = rows_of(trigger.rearm_s, interval_s)
        self.context = self._window + self._hold
        self.armed_from = trigger.armed_from(interval_s)
        self._at = [met_from(setting) for setting in self.settings_db]
        self._below = [met_from(setting - trigger.released_by_db) for setting in self.settings_db]
        watched = series(site, trigger.mode, max(self._window, 1))
        self._fired = sweep(site, trigger, self.settings_db, interval_s)
        self._released = [
            _first_below_after(watched, below, fired)
            for below, fired in zip(self._below, self._fired, strict=True)
        ]

    def fires(self, mixed: Centi, rows: IntArray) -> BoolArray:
        """Which placements of a sound fire.

        Parameters
        ----------
        mixed : array of int16, shape (placements, context + sound rows)
            Level of the mixture in hundredths of a dB.
        rows : array of int64, shape (placements,)
            Row of the site that each sound begins in.

        Returns
        -------
        array of bool, shape (placements, settings)
        """
        # from `hold` rows before the sound on
        is_level = self._mode == "threshold"
        watched = mixed if is_level else changes_after(mixed, self._mode, self._window)
        # a column past the end of the sound, at the lowest there is, for "not armed in time"
        highest = np.full((len(rows), watched.shape[1] - self._hold + 1), _NEVER, np.int16)
        highest[:, :-1] = _held(watched, self._hold)
        # from behind: column k becomes the highest from row k to the sound's end
        highest = np.maximum.accumulate(highest[:, ::-1], axis=1)[:, ::-1]
        watched = watched[:, self._hold :]
        hits = np.empty((len(rows), len(self._at)), dtype=np.bool_)
        for number, at in enumerate(self._at):
            armed = self._armed_after(number, watched, rows)
            hits[:, number] = highest[np.arange(len(rows)), armed] >= at
        return hits

    def _armed_after(self, number: int, watched: Centi, rows: IntArray) -> IntArray:
        """Rows into the sound from which the trigger can fire; the sound's length for never."""
        length = watched.shape[1]
        fired, released = self._fired[number], self._released[number]
        # the site's last firing before the sound begins; −1 is none
        last = np.searchsorted(fired, rows) - 1
        after_firing = last >= 0
        armed = np.zeros(len(rows), dtype=np.int64)
        if not after_firing.any():
            return armed
        firing, release = fired[last[after_firing]], released[last[after_firing]]
        begin = rows[after_firing]
        still_on = np.flatnonzero(release >= begin)  # not released when the sound begins
        if len(still_on):
            below = watched[np.flatnonzero(after_firing)[still_on]] < self._below[number]
            # argmax of a row without a True is 0, hence the any
            first = np.where(below.any(axis=1), below.argmax(axis=1), length)
            release = release.copy()
            release[still_on] = begin[still_on] + first
        ready = np.maximum(firing + self._rearm, release + 1) - begin
        armed[after_firing] = np.clip(ready, 0, length)
        return armed


def _held(watched: Centi, hold: int) -> Centi:
    """The lowest of each row and the `hold` before it, from row `hold` on."""
    if hold == 0:
        return watched
    # kept out of start-up
    from scipy.ndimage import minimum_filter1d

    lowest = minimum_filter1d(watched, hold + 1, axis=1)
    # the filter is centred: index begin + k spans the rows k to k + hold
    begin = (hold + 1) // 2
    return np.asarray(lowest[:, begin : begin + watched.shape[1] - hold], dtype=np.int16)


def _first_below_after(watched: Centi, below: int, fired: IntArray) -> IntArray:
    """First row after each firing at which the condition is false; past the end for never."""
    # a row beyond any history; half the largest, so that adding to it cannot overflow
    false_rows = np.append(np.flatnonzero(watched < below), np.iinfo(np.int64).max // 2)
    return np.asarray(false_rows[np.searchsorted(false_rows, fired, "right")], dtype=np.int64)
