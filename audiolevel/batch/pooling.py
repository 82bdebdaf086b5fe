"""One plan a site from all its recordings at one gain.

Entry point: `pooled_plans`.
"""

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from audiolevel.batch.discovery import Item
from audiolevel.batch.gain_settings import site_at, uncalibrated
from audiolevel.metering.measurement import measure
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.site.sections import Site
from audiolevel.site.site_file import read_site


def pooled_plans(
    folder: str | os.PathLike[str],
    items: Sequence[Item],
    *,
    confidence: float = 0.95,
    seed: int = 0,
) -> Iterator[tuple[str, SitePlan, list[str]]]:
    """For each site, in order: its name, its plan, and the paths left out.

    Parameters
    ----------
    folder : path
        That the items' paths are relative to.
    items : sequence of Item
        Recordings that can be measured.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.

    Yields
    ------
    name : str
    plan : SitePlan
    left_out : list of str

    Notes
    -----
    Recordings made at another gain than most of the site's tell levels of another scale and are
    left out. Start times weigh each recording by its hour (docs/counting.md).
    """
    for site_name in sorted({item.site for item in items}):
        own = [item for item in items if item.site == site_name]
        known = read_site(own[0].site_file)
        settings = [_setting(item, known) for item in own]
        # of two settings that are equally frequent, the one that comes first
        usual = Counter(settings).most_common(1)[0][0]
        pooled = [item for item, at in zip(own, settings, strict=True) if at == usual]
        site = site_at(known, usual) or uncalibrated(known, usual)
        gains = gains_to_simulate(site)
        measurements = [
            measure(
                Path(folder) / item.path,
                channel=item.channel,
                start=item.start,
                gains=gains,
                part=item.part,
            )
            for item in pooled
        ]
        site_folder = Path(own[0].site_file).parent if own[0].site_file else None
        survey = survey_of(measurements, site, folder=site_folder, confidence=confidence, seed=seed)
        left_out = [item.path for item in own if item not in pooled]
        yield site_name, plan_of(survey), left_out


def _setting(item: Item, site: Site) -> float | str | None:
    """The gain setting of a recording: the one of the calibration where nothing is said."""
    return site.gain.recorded_at if item.gain_setting is None else item.gain_setting
