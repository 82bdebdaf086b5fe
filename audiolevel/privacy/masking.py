"""What of the noise heard may not be there when people talk: that hides nobody.

Wind, rain, a machine and the camera itself are told by the spectrum and the steadiness of the quiet
moments, which are what decides from how far talk is caught. An hour of a recording whose quiet
moments are of that kind is not counted. Where only the low or the high bands are, they are brought
down to what a street would have there. Errors are meant to be on this side (how often it is right:
`python -m tests.studies.masking_study`).

Entry points: `lasting`, `TALK_SHARE`.
"""

from dataclasses import replace

import numpy as np

from audiolevel.ground.arrays import Array, IntArray
from audiolevel.privacy.intelligibility import BANDS_HZ
from audiolevel.privacy.third_octaves import FEWEST_SLICES, HOURS, STEP_DB, BandLevels

# dB an octave of third-octave levels. Wind on a microphone falls by 6.7 (van den Berg, J. Acoust.
# Soc. Am. 119, 2006, 824-833, from memory), 4 to 7 in the study; streets by 1.2 at most.
_WIND_SLOPE_DB = -1.6
# Streets fall by 2.6 to 8 above 1 kHz; rain and a converter do not (the study)
_HISS_SLOPE_DB = -1.0
# from one third-octave to the next below 1 kHz and above 2 kHz, where tyres are loudest: no street
# of the study rises faster to the low, nor falls slower to the high
_RISES_DB, _FALLS_DB = 1 / 2, 1 / 3
# what is brought down by less is chance, and not worth a word
_TOLD_DB = 3.0
# L50 less L90 of slices of 0.125 s, mean over the bands: 1.7 to 1.8 dB of noise that never changes
# (by chance alone), 2.7 dB and more of real streets (the study)
_STEADY_DB = 2.2
# Where talk is found in so much of the time, what lies between is talk too: of eight voices at once
# the detector finds about half (tests/studies/speech_study.py)
TALK_SHARE = 0.35


def lasting(bands: BandLevels) -> tuple[BandLevels, tuple[str, ...]]:
    """The levels of noise that may be taken for the site's, and what of it was not.

    Parameters
    ----------
    bands : BandLevels
        Of one recording.

    Returns
    -------
    BandLevels
    causes : tuple of str
        "wind", "hiss" (rain, or the camera's own noise) and "steady" (a machine), in order.
    """
    counts, causes = bands.counts.copy(), set[str]()
    for hour in range(HOURS + 1):
        slices = int(counts[hour, 0].sum())
        if not slices:
            continue
        # a minute tells its own kind, less goes with the recording
        of = hour if slices >= FEWEST_SLICES else None
        quiet_db = bands.exceeded_db(90, of)
        spread_db = bands.exceeded_db(50, of) - quiet_db
        cause = _cause(quiet_db, spread_db)
        if cause:
            counts[hour] = 0
            causes.add(cause)
        else:
            above_db = quiet_db - _as_a_street(quiet_db)
            counts[hour] = _lowered(counts[hour], above_db)
            low, high = np.split(np.nan_to_num(above_db), [_LOW])
            causes |= {"wind"} if low.max() >= _TOLD_DB else set()
            causes |= {"hiss"} if high.max() >= _TOLD_DB else set()
    return replace(bands, counts=counts), tuple(sorted(causes))


# the bands below 1 kHz come before the first, those above 2 kHz after the second
_LOW, _HIGH = 8, 11


def _cause(quiet_db: Array, spread_db: Array) -> str:
    """What all of the quiet moments are, where it may not be there; else ""."""
    known = np.isfinite(quiet_db)
    octave = np.log2(BANDS_HZ)
    low, high = known & (BANDS_HZ <= 1000), known & (BANDS_HZ >= 1000)
    if not known.any():
        return ""
    if _slope(octave[low], quiet_db[low]) <= _WIND_SLOPE_DB:
        return "wind"
    # four bands: below that there is no slope to speak of
    if high.sum() >= 4 and _slope(octave[high], quiet_db[high]) >= _HISS_SLOPE_DB:
        return "hiss"
    return "steady" if spread_db[known].mean() <= _STEADY_DB else ""


def _slope(octave: Array, level_db: Array) -> float:
    return float(np.polyfit(octave, level_db, 1)[0])


def _as_a_street(quiet_db: Array) -> Array:
    """The quiet moments, with no more at both ends than a street has beside its middle."""
    allowed = quiet_db.copy()
    for band in range(_LOW - 1, -1, -1):
        allowed[band] = np.fmin(allowed[band], allowed[band + 1] + _RISES_DB)
    for band in range(_HIGH + 1, len(allowed)):
        allowed[band] = np.fmin(allowed[band], allowed[band - 1] - _FALLS_DB)
    return allowed


def _lowered(counts: IntArray, by_db: Array) -> IntArray:
    """Histograms of shape (bands, steps), each moved down by so many dB."""
    lowered = counts.copy()
    for band, steps in enumerate(np.ceil(np.nan_to_num(by_db) / STEP_DB).astype(int)):
        if steps > 0:
            lowered[band] = np.roll(counts[band], -steps)
            # what falls below the lowest step stays in it
            lowered[band, 0] += lowered[band, -steps:].sum()
            lowered[band, -steps:] = 0
    return lowered
