"""A site as it is at the gain setting of one recording.

A calibration holds at the gain it was made at (`gain.recorded_at`). At another setting the same
full scale is another sound pressure, and the site file's `steps` say which.

Entry point: `site_at`.
"""

from dataclasses import replace

from audiolevel.site.sections import Display, GainSteps, Microphone, Site


def site_at(site: Site, setting: float | str | None) -> Site | None:
    """The site for recordings that were made at a gain setting.

    Parameters
    ----------
    site : Site
        Its calibration and its readings hold at `gain.recorded_at`.
    setting : float, str or None
        On the camera's own scale; None is as `gain.recorded_at` says.

    Returns
    -------
    Site or None
        With the sound pressure at full scale of that setting. None where nobody knows it, because
        the site file does not say which setting it holds for, or by how much this one differs.
    """
    at = site.gain.recorded_at
    if setting is None or setting == at:
        return site
    step = dict(site.gain.steps)
    if at not in step or setting not in step:
        return None
    higher_db = step[setting] - step[at]
    full = site.microphone.spl_at_full_scale_db
    return replace(
        site,
        gain=replace(site.gain, recorded_at=setting),
        # a gain g higher lets a sound g dB weaker fill the scale
        microphone=replace(
            site.microphone, spl_at_full_scale_db=None if full is None else full - higher_db
        ),
        # what the camera shows may or may not follow its gain: not known
        display=Display(),
    )


def uncalibrated(site: Site, setting: float | str | None) -> Site:
    """The site without what holds at another gain only: its levels are dB FS."""
    return replace(
        site,
        gain=GainSteps(recorded_at=setting),
        microphone=Microphone(),
        display=Display(),
    )
