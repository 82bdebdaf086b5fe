"""The record that a batch keeps of each recording."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from audiolevel.batch.discovery import Item
from audiolevel.batch.gain_settings import site_at, uncalibrated
from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.quality import quality_notices
from audiolevel.report.measure.json import recording_json
from audiolevel.site.sections import Site, setting_name
from audiolevel.site.site_file import read_site
from audiolevel.version import __version__


def record_of(item: Item, measurement: Measurement) -> dict[str, Any]:
    """What `measure` tells of the recording, with its site and gain setting.

    Levels are dB SPL where the site's calibration reaches to the setting that the recording was
    made at, else dB FS.
    """
    known = _site(item.site_file)
    site, cautions = site_at(known, item.gain_setting), []
    if site is None:
        site = uncalibrated(known, item.gain_setting)
        if known.microphone.spl_at_full_scale_db is not None:
            cautions.append(_gain_not_told(item, known.gain.recorded_at))
    scale = Scale(site.microphone.spl_at_full_scale_db)
    # their length stands beside them, and most of a batch are short
    notices = quality_notices(measurement, scale, site.own_noise)
    cautions += [one for one in notices if one.code != "short"]
    shown = replace(measurement, path=Path(item.path))
    return {
        "audiolevel": __version__,
        "command": "batch",
        "site": item.site,
        "gain_setting": item.gain_setting,
        "from_s": item.part.from_s,
        "to_s": item.part.to_s,
        "spl_at_full_scale_db": scale.spl_at_full_scale_db,
        **recording_json(shown, cautions, scale),
    }


def _gain_not_told(item: Item, recorded_at: float | str | None) -> Notice:
    assert item.gain_setting is not None  # without one the recorded gain is taken
    setting = setting_name(item.gain_setting)
    if recorded_at is None:
        return notice("gain not told", "recorded at", setting=setting)
    return notice("gain not told", "steps", setting=setting, at=setting_name(recorded_at))


@lru_cache(maxsize=64)
def _site(site_file: str | None) -> Site:
    return read_site(site_file)
