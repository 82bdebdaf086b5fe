"""The relative traffic of each hour of the day.

A count made between ten and eleven says something about three in the morning only through the
traffic: firings are taken as proportional to the flow of the hour. This room holds the published
flows, and says which hours a visit heard and how busy they were against the whole day.

Conventions: 24 relative flows, hour 0 to 23 by the local clock; only their ratios matter.

Entry points: `published`, `relative_flow`, `heard_seconds`.

Limits: the published flows are all vehicles on all roads of one country. Loud vehicles do not
follow the flow: at night the few that pass are faster, in the evening peak fewer are heavy.
`HOUR_SLACK` is the extra uncertainty that this needs.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError

HOURS = 24
HOUR_S = 3600.0

# UK Department for Transport, Road Traffic Statistics table TRA0307 (traffic by time of day on all
# roads in Great Britain), Monday-Friday and Saturday-Sunday pooled: per cent of the day per hour.
_GB_WEEKDAY = (
    0.64, 0.46, 0.41, 0.48, 0.81, 1.95, 4.55, 7.03, 7.03, 5.89, 5.66, 5.83,
    5.95, 6.08, 6.41, 7.00, 7.84, 7.74, 6.10, 4.21, 2.99, 2.22, 1.66, 1.08,
)  # fmt: skip
_GB_WEEKEND = (
    1.18, 0.78, 0.57, 0.55, 0.64, 1.02, 1.70, 2.61, 3.84, 5.52, 7.17, 8.10,
    8.21, 7.82, 7.47, 7.37, 7.43, 7.06, 6.07, 4.86, 3.72, 2.75, 2.07, 1.50,
)  # fmt: skip

# Extra standard deviation of ln(firings) when an hour is predicted from the flow alone, from our
# own simulated sites with class-specific profiles (docs/counting.md): nights are up to twice
# what the flow says, the evening peak three quarters of it.
# 0.65 neper is a factor of 1.9, 0.25 one of 1.3; hours 0-4, 5-6, 7-15, 16-18, 19-23.
HOUR_SLACK: Array = np.array([0.65] * 5 + [0.25] * 2 + [0.0] * 9 + [0.25] * 3 + [0.25] * 5)


def published(start: datetime) -> Array:
    """Published relative flow of the kind of day on which `start` falls.

    Parameters
    ----------
    start : datetime
        Any moment of the day; Saturday and Sunday take the weekend's flows.

    Returns
    -------
    ndarray, shape (24,)
        Flow of each hour against the mean hour of that day (mean 1).

    References
    ----------
    UK Department for Transport, Road Traffic Statistics, table TRA0307.
    """
    # weekday() counts from Monday 0
    return relative_flow(_GB_WEEKEND if start.weekday() >= 5 else _GB_WEEKDAY)


def relative_flow(flows: ArrayLike | Sequence[float]) -> Array:
    """24 flows in any unit, scaled to a mean of 1.

    Raises
    ------
    SettingError
        If there are not 24 finite flows of at least zero, or all of them are zero.
    """
    flow = np.asarray(flows, dtype=np.float64)
    if flow.shape != (HOURS,) or not np.all(np.isfinite(flow)) or flow.min() < 0:
        raise SettingError("traffic_by_hour: give 24 flows of zero or more, one for each hour")
    if flow.sum() == 0:
        raise SettingError("traffic_by_hour: at least one of the 24 flows must be above zero")
    return np.asarray(flow / flow.mean())


def heard_seconds(start: datetime, duration_s: float) -> Array:
    """Seconds listened in each hour of the day, shape (24,), for a visit begun at `start`."""
    seconds = np.zeros(HOURS)
    whole_days, rest_s = divmod(duration_s, HOURS * HOUR_S)
    # every 24 h hear each hour once, whatever hour they begin in
    seconds += whole_days * HOUR_S
    moment = start
    while rest_s > 0:
        # the first hour is begun in its middle: only its rest is heard
        hour_end = moment.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        part_s = min(rest_s, (hour_end - moment).total_seconds())
        seconds[moment.hour] += part_s
        rest_s -= part_s
        moment = hour_end
    return seconds
