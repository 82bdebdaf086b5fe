"""One plan a site from all its recordings at one gain.

Entry points: `pooled_plan`, `by_site`.
"""

import os
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from audiolevel.batch.discovery import Item
from audiolevel.batch.gain_settings import site_at, uncalibrated
from audiolevel.metering.measurement import measure
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.site.sections import Site
from audiolevel.site.site_file import read_site


def by_site(items: Iterable[Item]) -> dict[str, list[Item]]:
    """The items of each site, in the order of the sites' names."""
    of = defaultdict(list)
    for item in items:
        of[item.site].append(item)
    return dict(sorted(of.items()))


# shorter than a single pass-by of a vehicle (our own bar)
_LEAST_VISIT_S = 2.0


def pooled_plan(
    folder: str | os.PathLike[str],
    own: Sequence[Item],
    *,
    confidence: float = 0.95,
    seed: int = 0,
) -> tuple[SitePlan, list[str]]:
    """The plan of a site, and the paths left out of it.

    Parameters
    ----------
    folder : path
        That the items' paths are relative to.
    own : sequence of Item
        Recordings of the site that can be measured; one at least.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.

    Returns
    -------
    plan : SitePlan
    left_out : list of str

    Raises
    ------
    AudioLevelError
        No plan can be made of them; they are too short for a wanted sound, say.

    Notes
    -----
    Recordings made at another gain than most of the site's tell levels of another scale and are
    left out, and so are those of less than two seconds beside longer ones. Start times weigh each
    recording by its hour (docs/counting.md).
    """
    known = read_site(own[0].site_file)
    settings = [_setting(item, known) for item in own]
    # of two settings that are equally frequent, the one that comes first
    usual = Counter(settings).most_common(1)[0][0]
    pooled = [item for item, at in zip(own, settings, strict=True) if at == usual]
    site = site_at(known, usual) or uncalibrated(known, usual)
    gains = gains_to_simulate(site)
    measured = [(item, measure(item.visit(folder), gains=gains)) for item in pooled]
    # what is left of a broken file is no visit, and would pass for one that differs
    visits = [(item, one) for item, one in measured if one.duration_s >= _LEAST_VISIT_S] or measured
    kept = [item for item, _ in visits]
    survey = survey_of([one for _, one in visits], site, confidence=confidence, seed=seed)
    return plan_of(survey), [item.path for item in own if item not in kept]


def _setting(item: Item, site: Site) -> float | str | None:
    """The gain setting of a recording: the one of the calibration where nothing is said."""
    return site.gain.recorded_at if item.gain_setting is None else item.gain_setting
