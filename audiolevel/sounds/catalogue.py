"""The built-in sounds: level, spectrum, time course, and who says so.

Each `Sound` carries a source level with the distance and the measure it holds for, a third-octave
spectrum, its time course in words, and two sources: one for the level, one for the shape, each
with an honest certainty.

A level is the mean over such events, with two spreads: how much one event differs from the next,
and how little is known of the mean itself. A promise to catch a sound takes both into account
(`variation`). Texts that could not be read in the original are marked so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import hint
from audiolevel.sounds.propagation import THIRD_OCTAVES_HZ
from audiolevel.sounds.speech_levels import BANDWIDTH_DB, SPEECH_DB

Measure = Literal["LAFmax", "LAeq"]
Certainty = Literal[
    "regulation", "standard", "published measurement", "common practice", "from memory", "user"
]


@dataclass(frozen=True)
class Sound:
    """A wanted sound: its level, its shape, and where both come from.

    Parameters
    ----------
    name
        What people call it; the key of `find`.
    measure, level_db, at_m
        The A-weighted source level in dB, mean over events: its LAFmax, or its LAeq over
        `duration_s`, at `at_m` metres in front of it.
    event_spread_db
        Standard deviation from one event to the next: devices, panes, blows, talkers.
    mean_spread_db
        Standard deviation of what is not known of the mean.
    range_db
        The lowest and highest level the source allows or reports, same measure and distance.
    duration_s
        How long one occurrence lasts.
    first_hz, band_db
        Relative, unweighted energy of the whole sound in third-octaves that begin at the midband
        nearest `first_hz` and rise one band at a time; only differences count.
    time_course
        The envelope in words.
    source, certainty
        Who says how loud it is, and how good that is.
    spread_source, spread_certainty
        The same for both spreads.
    shape_source, shape_certainty
        The same for spectrum and time course.
    """

    name: str
    measure: Measure
    level_db: float
    at_m: float
    event_spread_db: float
    mean_spread_db: float
    range_db: tuple[float, float]
    duration_s: float
    first_hz: float
    band_db: tuple[float, ...]
    time_course: str
    source: str
    certainty: Certainty
    spread_source: str
    spread_certainty: Certainty
    shape_source: str
    shape_certainty: Certainty

    @property
    def band_hz(self) -> Array:
        """Exact midband frequencies of `band_db`, shape (n,)."""
        first = int(np.argmin(np.abs(np.log(THIRD_OCTAVES_HZ / self.first_hz))))
        return THIRD_OCTAVES_HZ[first : first + len(self.band_db)]


_S35 = "ANSI/ASA S3.5-1997, Table 3, standard speech spectrum at 1 m"
_VOICE_COURSE = "syllables at about 4 per second (noise and hum with a speech spectrum, no words)"
_VOICE_SHAPE = (
    f"{_S35}; syllable rate: the 4 Hz peak of speech modulation, Houtgast and Steeneken,"
    " J. Acoust. Soc. Am. 77 (1985) 1069-1077 (from memory)"
)


_VOICE_SPREAD = (
    "talkers differ by 4 dB, shouting ones by 5: Pearsons, Bennett and Fidell, EPA-600/1-77-025"
    " (1977), values from memory; the same talker by 2 dB from day to day: Brown, Morris and"
    " Murry, J. Voice 10 (1996) 299-305 (abstract)"
)


def _voice(
    name: str,
    effort: str,
    level_db: float,
    iso_9921_db: float,
    duration_s: float,
    event_spread_db: float = 4.0,
) -> Sound:
    """Speech of one vocal effort, an `EFFORTS` of `speech_levels`."""
    return Sound(
        name=name,
        measure="LAeq",
        level_db=level_db,
        at_m=1.0,
        event_spread_db=event_spread_db,
        mean_spread_db=1.5,
        # of some efforts the one source is the louder, of some the other
        range_db=tuple(sorted((level_db, iso_9921_db))),  # type: ignore[arg-type]
        duration_s=duration_s,
        first_hz=160.0,
        band_db=tuple((SPEECH_DB[effort] + BANDWIDTH_DB).round(2).tolist()),
        time_course=_VOICE_COURSE,
        source=f"A-weighted band sum of {_S35}; ISO 9921:2003 annex A says {iso_9921_db:.0f}",
        certainty="standard",
        spread_source=_VOICE_SPREAD,
        spread_certainty="published measurement",
        shape_source=_VOICE_SHAPE,
        shape_certainty="standard",
    )


SOUNDS: tuple[Sound, ...] = (
    Sound(
        name="vehicle horn",
        measure="LAFmax",
        level_db=98.0,
        at_m=7.0,
        event_spread_db=4.0,
        mean_spread_db=3.0,
        range_db=(87.0, 112.0),
        duration_s=1.0,
        first_hz=400.0,
        # nothing at 630 Hz: the notes' first overtones lie at 840 and 1000 Hz
        band_db=(-11, -10, -60, -7, -6, -5, -1, 1, 1, 1, -3, -3, -6, -8, -11),
        time_course="one blast of two tones (420 and 500 Hz with overtones), 20 ms up, 30 ms down",
        source=(
            "between 93, the least that UN Regulation No. 28, Part II asks for at 7 m in front of"
            " the vehicle (112 at most; 87 in later series), and the 105 to 118 dB(A) at 2 m that"
            " national rules ask of the device, which are 94 to 107 at 7 m less what the body takes"
            " (limits read in pages that quote the rules)"
        ),
        certainty="regulation",
        spread_source=(
            "most of the span of 13 dB that rules allow a device lies within two deviations; how"
            " far the body takes it down is not known to 3 dB: our judgement"
        ),
        spread_certainty="common practice",
        shape_source="two-note disc horn, strongest at 2 to 3.5 kHz: common practice",
        shape_certainty="common practice",
    ),
    Sound(
        name="vehicle alarm",
        measure="LAFmax",
        level_db=110.0,
        at_m=2.0,
        event_spread_db=3.0,
        mean_spread_db=3.0,
        range_db=(105.0, 118.0),
        duration_s=27.5,
        first_hz=2000.0,
        # the three bands from 1.8 to 3.55 kHz that the sweep goes through
        band_db=(0, 0, 0),
        time_course="siren sweeping 1.8 to 3.55 kHz and back twice a second, 25 to 30 s",
        source=(
            "towards the lower end of the 105 to 118 dB(A) at 2 m of UN Regulations No. 97 and"
            " 116 (limits from memory; the text was not read)"
        ),
        certainty="from memory",
        spread_source=(
            "the span of 13 dB that the rule allows, taken as four deviations: our judgement"
        ),
        spread_certainty="common practice",
        shape_source=(
            "Directive 95/56/EC, annex, 4.2.2: 25 to 30 s; sweep range and rate from memory"
        ),
        shape_certainty="from memory",
    ),
    Sound(
        name="smoke alarm",
        measure="LAFmax",
        level_db=88.0,
        at_m=3.0,
        event_spread_db=3.0,
        mean_spread_db=2.0,
        range_db=(85.0, 110.0),
        duration_s=8.0,
        first_hz=3150.0,
        # the tone, and its third harmonic 20 dB weaker in the band of 10 kHz
        band_db=(0, -60, -60, -60, -60, -20),
        time_course="three pulses of 0.5 s with 0.5 s between, then 1.5 s of silence, twice",
        source=(
            "EN 14604:2005: at least 85 dB(A) at 3 m (upper end 110 from memory); 3 dB above it,"
            " our judgement"
        ),
        certainty="standard",
        spread_source=(
            "makers aim some decibels above the minimum, batteries and housings differ: our"
            " judgement"
        ),
        spread_certainty="common practice",
        shape_source="ISO 8201 temporal three; piezo tone near 3.1 kHz: common practice",
        shape_certainty="standard",
    ),
    _voice("normal voice", "normal", 59.24, 60.0, 4.0),
    _voice("raised voice", "raised", 66.37, 66.0, 4.0),
    _voice("loud voice", "loud", 73.86, 72.0, 4.0),
    _voice("shout", "shout", 82.22, 78.0, 1.0, event_spread_db=5.0),
    Sound(
        name="breaking glass",
        measure="LAFmax",
        level_db=95.0,
        at_m=1.0,
        event_spread_db=8.0,
        mean_spread_db=5.0,
        range_db=(80.0, 120.0),
        duration_s=1.2,
        first_hz=250.0,
        # one decibel more a band
        band_db=tuple(range(-18, 1)),
        time_course="crack at once, below 1 kHz gone after 0.2 s, shards clinking for a second",
        source="a window pane: 80 to 120 dB is repeated without a study; 95 is our middle",
        certainty="common practice",
        spread_source=(
            "a pane tapped out and a shop window kicked in differ by 30 dB: common practice;"
            " no study of whole panes was found"
        ),
        spread_certainty="common practice",
        shape_source=(
            "crash tests of window panes (National Aviation University Kyiv, Problems of"
            " Informatization and Control, article 14044, abstract): near-white noise, part below"
            " 1 kHz up to 0.2 s"
        ),
        shape_certainty="published measurement",
    ),
    Sound(
        name="metal bang",
        measure="LAFmax",
        level_db=97.0,
        at_m=1.0,
        event_spread_db=6.0,
        mean_spread_db=5.0,
        range_db=(85.0, 115.0),
        duration_s=1.0,
        first_hz=160.0,
        band_db=(-14, -11, -8, -5, -3, -1, 0, 0, 0, -1, -2, -3, -5, -8, -11, -15, -19, -24),
        time_course="a blow, then plate modes ringing down over 0.1 to 0.4 s",
        source=(
            "a blow on sheet steel or a skip, from memory; upper end: LAFmax above 115 dB in drop"
            " forges, Żera, Int. J. Occup. Med. Environ. Health 14 (2001) 127-133"
        ),
        certainty="from memory",
        spread_source=("a kick and a blow with a bar differ by 20 dB: from memory"),
        spread_certainty="from memory",
        shape_source="damped plate modes, from memory",
        shape_certainty="from memory",
    ),
    Sound(
        name="dog's bark",
        measure="LAFmax",
        level_db=95.0,
        at_m=1.0,
        event_spread_db=6.0,
        mean_spread_db=4.0,
        range_db=(80.0, 110.0),
        duration_s=1.3,
        first_hz=200.0,
        band_db=(-20, -15, -10, -6, -2, 0, 0, -1, -2, -4, -7, -10, -13, -17, -21, -25, -30),
        time_course="three barks of 0.18 s, 0.45 s apart",
        source=(
            "a large dog, 80 to over 100 dB near the dog: common practice; 3 to 7 dB less behind"
            " it, Frommolt and Gebler, J. Acoust. Soc. Am. 116 (2004) 561-565"
        ),
        certainty="common practice",
        spread_source=(
            "dogs of 10 and of 40 kg, facing the microphone or not: common practice; 3 to 7 dB by"
            " direction alone, Frommolt and Gebler 2004"
        ),
        spread_certainty="common practice",
        shape_source="hum and noise, strongest at 0.5 to 1.5 kHz: from memory",
        shape_certainty="from memory",
    ),
)


def find(name: str) -> Sound:
    """The built-in sound of that name; capitals and stray blanks do not matter.

    Raises
    ------
    SettingError
        No such sound; the message names the nearest.
    """
    wanted = " ".join(name.split()).casefold()
    by_name = {sound.name: sound for sound in SOUNDS}
    if wanted in by_name:
        return by_name[wanted]
    raise SettingError(f"no wanted sound is called '{name}'; {hint(wanted, by_name)}")


def with_level(sound: Sound, level_dba: float, at_m: float = 1.0) -> Sound:
    """The same sound at a level the user knows: LAFmax `level_dba` at `at_m` metres."""
    return replace(
        sound,
        measure="LAFmax",
        level_db=level_dba,
        at_m=at_m,
        range_db=(level_dba, level_dba),
        source="stated by the user",
        certainty="user",
    )
