"""Faults of recordings that a folder shows: against each other, and in their own samples.

Each finding names one recording, how bad it is, and the facts of it; the words are the report's.
How many of planted faults are found, and how many clean recordings are accused, is measured by
`python -m tests.studies.folder_study`.

Entry points: `faults`, `Fault`, `Heard`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audiolevel.batch.sound_check import BANDS, THIRDS_HZ, mark_of
from audiolevel.ground.arrays import Array

Record = dict[str, Any]

SEVERITIES = ("bad", "look", "note")
# cautions of a recording itself that make its levels wrong, and not only less sure
_SPOILING = {
    **dict.fromkeys(("clipped", "truncated", "channel dead"), "bad"),
    **dict.fromkeys(("channel inverted", "time gaps"), "look"),
    "quiet": "note",
}
# a converter's own is below a thousandth of full scale (common practice)
_DC = 0.01
# of clean streets the second highest line stands out by 5 dB at most (the study)
_HUM_DB = 12.0
# octaves by which a wrong rate turns a spectrum: half and double, and by 3 to 2
_TURNED = (-1.0, 1.0, -0.585, 0.585)
# a spectrum that fits its folder's so much better when it is turned was recorded at another rate
_TURNED_FITS, _FITS_DB = 0.6, 1.2
# a level so far from its site's history, in robust standard deviations and in dB
_OFF_SD, _OFF_DB, _LEAST_SD_DB = 3.3, 4.5, 0.8
# a site whose quiet moments differ by more is no history to tell 6 dB by
_STEADY_SD_DB = 2.5
# A gain leaves the quiet spectrum its shape, a busy hour changes it: the standard deviation of the
# bands' quietest seconds against the site's
_QUIETEST, _SHAPE_DB = 0.02, 0.6
_FEWEST = 5
_MAD_TO_SD = 1.4826
# The same sound: so great a correlation, in itself and in standard errors of it by chance, over so
# many seconds and so much of the shorter one. Half a second's shift leaves 0.35 to 0.5; of all
# pairs and lags of the study two other sounds reach 0.27
_SAME, _SAME_ERRORS, _SAME_S, _SAME_SHARE = 0.31, 8.0, 8, 0.7
_BY_CHANCE_DB = 1.0
# pairs grow with the square: beyond so many recordings only equal marks are looked for
_MOST_PAIRED = 2000


@dataclass(frozen=True)
class Heard:
    """A recording of a batch: its record and what its samples told."""

    record: Record
    sound: Mapping[str, Any]


@dataclass(frozen=True)
class Fault:
    """One finding.

    Attributes
    ----------
    path : str
    kind : str
    severity : str
        One of `SEVERITIES`.
    facts : mapping of str to float or str
    """

    path: str
    kind: str
    severity: str
    facts: Mapping[str, float | str] = field(default_factory=dict)


def faults(heard: Iterable[Heard]) -> list[Fault]:
    """All that is found, by path.

    Parameters
    ----------
    heard : iterable of Heard
        Recordings of digital silence among them are compared with nothing.
    """
    every: list[Heard] = []
    found: list[Fault] = []
    for one in heard:
        found += _alone(one)
        if "silent" not in one.record["warnings"]:
            every.append(one)
    by_site: dict[tuple[Any, ...], list[Heard]] = defaultdict(list)
    for one in every:
        record = one.record
        setting = record.get("gain_setting") if record["reference"] == "dB FS" else None
        by_site[record["site"], record["reference"], setting].append(one)
    turned = set[str]()
    for site in by_site.values():
        wrong = list(_turned(site))
        turned.update(one.path for one in wrong)
        found += wrong
        found += [one for one in _off(site) if one.path not in turned]
    found += _twice(every)
    order = {severity: i for i, severity in enumerate(SEVERITIES)}
    return sorted(found, key=lambda one: (order[one.severity], one.path, one.kind))


def _alone(one: Heard) -> Iterator[Fault]:
    """What a recording's own cautions and samples tell."""
    path, sound = one.record["path"], one.sound
    codes = one.record["warnings"]
    if "silent" in codes:
        yield Fault(path, "silent", "bad")
        return
    for code in codes:
        if code in _SPOILING:
            yield Fault(path, code, _SPOILING[code])
    if not sound:
        return
    if sound["dc"] >= _DC:
        yield Fault(path, "direct current", "look", {"of_full_scale": sound["dc"]})
    if sound["hum_db"] >= _HUM_DB:
        facts = {"hz": sound["hum_hz"], "above_db": sound["hum_db"]}
        yield Fault(path, "hum", "look", facts)
    if sound["stuck"] or sound["repeats"]:
        times = max(sound["stuck"], sound["repeats"])
        yield Fault(path, "stuck", "bad", {"times_": times})
    if sound["dropouts"]:
        yield Fault(path, "dropouts", "bad", {"times_": sound["dropouts"]})
    if sound["step_db"]:
        facts = {"at_s": sound["step_at_s"], "by_db": sound["step_db"]}
        yield Fault(path, "gain step", "bad", facts)


def _turned(site: Sequence[Heard]) -> Iterator[Fault]:
    """Spectra that fit their site's when they are turned up or down by half an octave or more."""
    spectra = {one.record["path"]: _thirds(one) for one in site if one.sound}
    if len(spectra) < _FEWEST:
        return
    each = np.array(list(spectra.values()))
    known = np.isfinite(each).mean(axis=0) > 0.5
    usual, octave = np.nanmedian(each[:, known], axis=0), np.log2(THIRDS_HZ[known])
    for path, own in zip(spectra, each[:, known], strict=True):

        def misfit(by: float, own: Array = own) -> float:
            moved = np.interp(octave, octave + by, own, left=np.nan, right=np.nan) - usual
            there = moved[np.isfinite(moved)]
            return float(there.std()) if len(there) >= len(octave) // 2 else np.inf

        as_it_is = misfit(0.0)
        by = min(_TURNED, key=misfit)
        if as_it_is >= _FITS_DB and misfit(by) <= _TURNED_FITS * as_it_is:
            yield Fault(path, "rate", "bad", {"times": 2.0**by, "recordings": len(spectra)})


def _thirds(one: Heard) -> Array:
    thirds = np.full(len(THIRDS_HZ), np.nan)
    told = np.array(one.sound["thirds_db"])
    thirds[: len(told)] = told - told.mean()
    return thirds


def _off(site: Sequence[Heard]) -> Iterator[Fault]:
    """Recordings whose quiet moments lie apart from their site's history, in all bands alike."""
    told = [one for one in site if one.sound]
    if len(told) < _FEWEST:
        return
    level = np.array([one.record["percentiles_db"]["L95"] for one in told])
    shift = level - np.median(level)
    sd = max(_MAD_TO_SD * float(np.median(np.abs(shift))), _LEAST_SD_DB)
    quiet = np.array([_quietest(one) for one in told])
    shape = (quiet - np.median(quiet, axis=0)).std(axis=1)
    far = np.abs(shift) >= max(_OFF_DB, _OFF_SD * sd)
    # a site that differs by itself from day to day is no history
    known = far & (shape <= _SHAPE_DB) & (sd <= _STEADY_SD_DB)
    for at in np.flatnonzero(known).tolist():
        facts = {
            "by_db": round(float(shift[at]), 1),
            "recordings": len(told),
            "usual_db": round(2 * sd, 1),
        }
        yield Fault(told[at].record["path"], "level", "look", facts)


def _quietest(one: Heard) -> Array:
    mark = mark_of(one.sound["mark"])
    # shorter than a second: no mark
    return np.quantile(mark, _QUIETEST, axis=0) if len(mark) else np.zeros(BANDS)


def _twice(every: Sequence[Heard]) -> Iterator[Fault]:
    """The later of two recordings that hold the same sound, wherever in it it begins."""
    marks = [(one.record["path"], one.sound.get("mark", "")) for one in every]
    marks = sorted((path, mark) for path, mark in marks if mark)
    first: dict[str, str] = {}
    told = set[str]()
    for path, mark in marks:
        if mark in first:
            told.add(path)
            yield Fault(path, "twice", "look", {"of": first[mark], "later_s": 0.0})
        first.setdefault(mark, path)
    several = [(path, mark) for path, mark in marks if path not in told]
    if 1 < len(several) <= _MOST_PAIRED:
        yield from _alike([path for path, _ in several], [mark_of(m) for _, m in several])


def _alike(paths: Sequence[str], marks: Sequence[Array]) -> Iterator[Fault]:
    longest = max(len(mark) for mark in marks)
    size = 1 << int(2 * longest - 1).bit_length()
    # changes from second to second are what tells one sound from another of the same place
    spectra = np.array([np.fft.rfft(_changes(mark), size, axis=0) for mark in marks])
    energy = np.array([float((_changes(mark) ** 2).sum()) for mark in marks])
    for i in range(1, len(marks)):
        products = (spectra[:i] * spectra[i].conj()).sum(axis=2)
        raw = np.fft.irfft(products, size, axis=1)
        lags = raw.argmax(axis=1)
        likely = raw[np.arange(i), lags] / np.sqrt(energy[:i] * energy[i] + 1e-9)
        # a part of another is less like the whole of it
        for j in np.argsort(-likely)[:3].tolist():
            lag = int(lags[j]) if lags[j] < size // 2 else int(lags[j]) - size
            likeness = _likeness(marks[j], marks[i], lag)
            if likeness is not None:
                facts = {"of": paths[j], "later_s": float(lag), "likeness": round(likeness, 2)}
                yield Fault(paths[i], "twice", "look", facts)
                break


def _changes(mark: Array) -> Array:
    """What is like chance in a mark: changes from second to second that bands have for themselves.

    Vehicles that pass are alike; what single bands do beside them is not.
    """
    if len(mark) < 2:
        return np.zeros((1, BANDS))
    steps = np.diff(mark, axis=0)
    own = steps - steps.mean(axis=1, keepdims=True)
    # noise does as much by chance; what is more is an event, and events are alike
    return np.asarray(np.clip(own, -_BY_CHANCE_DB, _BY_CHANCE_DB), dtype=np.float64)


def _likeness(one: Array, other: Array, lag: int) -> float | None:
    """Correlation where two overlap; None where it may be chance."""
    begin, end = max(0, lag), min(len(one), len(other) + lag)
    if end - begin < max(_SAME_S, _SAME_SHARE * min(len(one), len(other))):
        return None
    a, b = _changes(one[begin:end]), _changes(other[begin - lag : end - lag])
    power = np.sqrt((a**2).sum() * (b**2).sum())
    # what does not change at all is like everything
    likeness = float((a * b).sum() / power) if power > 1e-9 else 0.0
    enough = max(_SAME, _SAME_ERRORS / np.sqrt(a.size))
    return likeness if likeness >= enough else None
