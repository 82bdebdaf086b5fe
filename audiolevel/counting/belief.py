"""What is believed of any site before it was heard: the same for all places.

Kinds of place are not told apart: one belief did better than each place's own at four of five
measured places. The values follow from series of real days (docs/counting.md); the study
`tests.studies.calibration` fits them anew without each series, and they hardly move.

Conventions: levels in dB, slopes in neper (natural logarithm of the rate) per dB.

Entry points: `Belief`, `BELIEF`, `wet_of`, `louder_when`.
"""

import math
from dataclasses import dataclass

from audiolevel.ground.errors import SettingError

# The natural logarithm of the rate falls so much a decibel: 0.21 to 0.32 on seven real streets
# between 50 and 10 firings a day. Changes of level fall off more slowly.
LEVEL_SLOPE_NP_PER_DB = 0.28
CHANGE_SLOPE_NP_PER_DB = 0.2

# Share of the days on which a road is wet: Freitas et al. (2009), Traffic noise changes due to
# water on porous and dense asphalt surfaces, Road Materials and Pavement Design 10 (volume from
# memory). By how much it is louder then: Berge and Ustad (BNAM 2010), 1 to 2 dB at 60 km/h.
WET_SHARE = 0.25
WET_DB = 2.0


@dataclass(frozen=True)
class Belief:
    """The belief in numbers.

    Attributes
    ----------
    scale_db, scale_worth : float
        The loudest peaks fall by a factor e per so many dB; worth so many peaks.
    visit_db, day_db, week_db : float
        Scales of how much louder or quieter a visit is than its day, a day than its week, a week
        than the place.
    freedom : float
        Degrees of freedom of that shift, Student's t: how unusual a place can be.
    flow_exponent, flow_exponent_sd : float
        Rare loud sounds follow the traffic's flow to this power.
    """

    scale_db: float = 3.5
    scale_worth: float = 30.0
    visit_db: float = 1.5
    day_db: float = 1.0
    week_db: float = 1.1
    freedom: float = 4.0
    flow_exponent: float = 0.65
    flow_exponent_sd: float = 0.45


BELIEF = Belief()


def wet_of(weather: str | None) -> bool | None:
    """Whether the road was wet, by "dry", "wet" or None.

    Raises
    ------
    SettingError
        For any other word.
    """
    if weather not in (None, "dry", "wet"):
        raise SettingError(f'weather: "{weather}" is neither dry nor wet')
    return None if weather is None else weather == "wet"


def louder_when(wet: bool | None, wet_share: float = WET_SHARE, wet_db: float = WET_DB) -> float:
    """How much louder than the mean of days a wet or a dry day is, in dB; 0 if nobody said."""
    if wet is None:
        return 0.0
    # rates are averaged, not levels: a quarter of days 2 dB louder makes 0.6 dB, not 0.5
    louder = math.expm1(LEVEL_SLOPE_NP_PER_DB * wet_db)
    mean_db = math.log1p(wet_share * louder) / LEVEL_SLOPE_NP_PER_DB
    return (wet_db if wet else 0.0) - mean_db
