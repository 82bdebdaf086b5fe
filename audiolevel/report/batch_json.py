"""The record that a batch keeps of each recording."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from audiolevel.batch.discovery import Item
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.quality import quality_notices
from audiolevel.report.measure_json import recording_json
from audiolevel.site import Site, read_site
from audiolevel.version import __version__


def record_of(item: Item, measurement: Measurement) -> dict[str, Any]:
    """What `measure` tells of the recording, with its site and gain setting."""
    site = _site(item.site_file)
    scale = Scale(site.microphone.spl_at_full_scale_db)
    cautions = quality_notices(measurement, scale, site.own_noise)
    shown = replace(measurement, path=Path(item.path))
    return {
        "audiolevel": __version__,
        "command": "batch",
        "site": item.site,
        "gain_setting": item.gain_setting,
        **recording_json(shown, cautions, scale),
    }


@lru_cache(maxsize=64)
def _site(site_file: str | None) -> Site:
    return read_site(site_file)
