"""What is known of a kind of site before the first recording.

Hours and days of a site differ by a shift of all its levels in decibels, whose size is itself
unknown: its variance has a scaled inverse chi-squared distribution, so that the shift follows
Student's t and an unusual hour is no surprise. How the loud sounds follow the traffic, how far out
they lie, and what a wet road does, are unknown in the same way.

Conventions: levels and shifts in dB, slopes in neper (natural logarithm of the rate) per dB.

Entry points: `SiteKind`, `KINDS`, `kind_of`.

Method, series and evidence: docs/counting.md.
"""

import difflib
from dataclasses import dataclass, field

from audiolevel.counting.peaks_over_threshold import Prior
from audiolevel.errors import SettingError

# The natural logarithm of the rate falls so much a decibel between 50 and 10 firings a day: 0.21 to
# 0.32 on seven real streets. Changes of level fall off more slowly.
LEVEL_SLOPE_NP_PER_DB = 0.28
CHANGE_SLOPE_NP_PER_DB = 0.2

# Share of the days on which a road is wet, and by how much it is louder then: Freitas et al.
# (2009), Traffic noise changes due to water on porous and dense asphalt surfaces, Road Materials
# and Pavement Design 10 (volume from memory): rain in a quarter of the year, +4 dB(A) on a
# motorway.
# Berge and Ustad (BNAM 2010): +1 to 2 dB at 60 km/h. Rare loud sounds are not all tyres.
WET_SHARE = 0.25


@dataclass(frozen=True)
class SiteKind:
    """What a site of a kind is taken for before it was heard.

    Attributes
    ----------
    shift_db : float
        Scale of the difference between one visit and the mean day.
    shift_worth : float
        Degrees of freedom of that belief: how many visits would outweigh it, and how unusual a
        day can be.
    day_share : float
        Part of the shift's variance that lasts all day.
    flow_exponent, flow_exponent_sd : float
        Rare loud firings follow the traffic's flow to this power.
    wet_db : float
        How much louder the site is while its road is wet.
    tail : Prior
        Of the loud peaks.
    """

    shift_db: float
    shift_worth: float = 4.0
    day_share: float = 0.5
    flow_exponent: float = 0.40
    flow_exponent_sd: float = 0.35
    wet_db: float = 2.0
    tail: Prior = field(default_factory=Prior)


_VARIED = Prior(shape_width=0.08, log_scale_width=0.25)  # no two of them are alike
KINDS = {
    "busy road": SiteKind(
        shift_db=0.8,
        wet_db=3.0,
        tail=Prior(shape_mean=0.0, shape_width=0.2, log_scale_width=0.25),
    ),
    "street": SiteKind(shift_db=2.3),
    "quiet": SiteKind(shift_db=2.6, tail=_VARIED),
    "other": SiteKind(shift_db=2.5, shift_worth=3.0, tail=_VARIED),
}
# not knowing the kind costs: an hour's upper end at 10 a day is 290 instead of 130 of a street
UNKNOWN = SiteKind(shift_db=2.6, shift_worth=3.0, wet_db=3.0, tail=_VARIED)


def kind_of(kind: str | SiteKind | None) -> SiteKind:
    """What is known of a kind by its name; of none given the widest.

    Raises
    ------
    SettingError
        If there is no such kind.
    """
    if kind is None:
        return UNKNOWN
    if isinstance(kind, SiteKind):
        return kind
    if kind not in KINDS:
        # generous: a hint that misses costs less than none
        near = difflib.get_close_matches(kind, KINDS, 1, 0.4)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        names = ", ".join(f'"{name}"' for name in KINDS)
        raise SettingError(f'site.kind: "{kind}" is not one of {names}{hint}')
    return KINDS[kind]
