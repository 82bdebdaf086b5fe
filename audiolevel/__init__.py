"""From a site recording to a microphone gain, a sound trigger and expected counts.

>>> import audiolevel as al
>>> al.Trigger.threshold(level_db=-20)
<Trigger: threshold at -20>

Names are loaded when they are first used, so that the command line starts at once.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from audiolevel.version import __version__ as __version__

if TYPE_CHECKING:
    from audiolevel.api.calibrating import BesideMeter as BesideMeter
    from audiolevel.api.calibrating import DataSheet as DataSheet
    from audiolevel.api.calibrating import Filmed as Filmed
    from audiolevel.api.calibrating import Tone as Tone
    from audiolevel.api.calibrating import calibrate as calibrate
    from audiolevel.api.folders import BatchReport as BatchReport
    from audiolevel.api.folders import measure_folder as measure_folder
    from audiolevel.api.following import FollowUp as FollowUp
    from audiolevel.api.following import follow_up as follow_up
    from audiolevel.api.measuring import Measurement as Measurement
    from audiolevel.api.measuring import measure as measure
    from audiolevel.api.measuring import measure_all as measure_all
    from audiolevel.api.planning import Survey as Survey
    from audiolevel.api.planning import plan as plan
    from audiolevel.api.planning import predict as predict
    from audiolevel.api.planning import survey as survey
    from audiolevel.api.planning import trial as trial
    from audiolevel.api.plans import Plan as Plan
    from audiolevel.api.plans import Trials as Trials
    from audiolevel.api.reviewing import review_privacy as review_privacy
    from audiolevel.api.site_folder import new_site as new_site
    from audiolevel.api.site_folder import open_site as open_site
    from audiolevel.api.sounding import catalogue as catalogue
    from audiolevel.api.sounding import render_sound as render_sound
    from audiolevel.batch.discovery import Selection as Selection
    from audiolevel.followup.log_format import LogFormat as LogFormat
    from audiolevel.ground.errors import AudioLevelError as AudioLevelError
    from audiolevel.ground.errors import RecordingError as RecordingError
    from audiolevel.ground.errors import SettingError as SettingError
    from audiolevel.metering.annotations import Mark as Mark
    from audiolevel.metering.visit import Visit as Visit
    from audiolevel.planning.asked import Asked as Asked
    from audiolevel.site.sections import Display as Display
    from audiolevel.site.sections import GainSteps as GainSteps
    from audiolevel.site.sections import Limits as Limits
    from audiolevel.site.sections import Microphone as Microphone
    from audiolevel.site.sections import Place as Place
    from audiolevel.site.sections import ScheduleSection as ScheduleSection
    from audiolevel.site.sections import Site as Site
    from audiolevel.site.sections import SiteSection as SiteSection
    from audiolevel.site.sections import Storage as Storage
    from audiolevel.site.sections import TriggerSection as TriggerSection
    from audiolevel.site.sections import Wanted as Wanted
    from audiolevel.site.site_file import read_site as read_site
    from audiolevel.sounds.propagation import Air as Air
    from audiolevel.triggers.trigger import Trigger as Trigger

_HOMES = {
    "api.calibrating": (
        "BesideMeter",
        "DataSheet",
        "Filmed",
        "Tone",
        "calibrate",
    ),
    "api.folders": ("BatchReport", "measure_folder"),
    "batch.discovery": ("Selection",),
    "api.following": ("FollowUp", "follow_up"),
    "api.measuring": ("Measurement", "measure", "measure_all"),
    "api.planning": ("Survey", "plan", "predict", "survey", "trial"),
    "api.plans": ("Plan", "Trials"),
    "api.reviewing": ("review_privacy",),
    "api.site_folder": ("new_site", "open_site"),
    "api.sounding": ("catalogue", "render_sound"),
    "ground.errors": ("AudioLevelError", "RecordingError", "SettingError"),
    "followup.log_format": ("LogFormat",),
    "metering.annotations": ("Mark",),
    "metering.visit": ("Visit",),
    "planning.asked": ("Asked",),
    "site.sections": (
        "Display",
        "GainSteps",
        "Limits",
        "Microphone",
        "Place",
        "ScheduleSection",
        "Site",
        "SiteSection",
        "Storage",
        "TriggerSection",
        "Wanted",
    ),
    "site.site_file": ("read_site",),
    "sounds.propagation": ("Air",),
    "triggers.trigger": ("Trigger",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = ["__version__", *sorted(_HOME_OF)]


# hidden from type checkers: a misspelt name is an error to them, and not of any type
if not TYPE_CHECKING:

    def __getattr__(name):
        if name not in _HOME_OF:
            raise AttributeError(f"module 'audiolevel' has no attribute {name!r}")
        return getattr(import_module(f"audiolevel.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return __all__
