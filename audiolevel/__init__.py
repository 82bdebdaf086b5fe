"""From a site recording to a microphone gain, a sound trigger and expected counts.

>>> import audiolevel as al
>>> al.Trigger.threshold(level_db=-20)
<Trigger: threshold at -20>

Names are loaded when they are first used, so that the command line starts at once.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from audiolevel.api.calibrating import CalibrationResult as CalibrationResult
    from audiolevel.api.calibrating import calibrate as calibrate
    from audiolevel.api.folders import BatchStopped as BatchStopped
    from audiolevel.api.folders import FolderResults as FolderResults
    from audiolevel.api.folders import measure_folder as measure_folder
    from audiolevel.api.following import FollowUp as FollowUp
    from audiolevel.api.following import follow_up as follow_up
    from audiolevel.api.measuring import Measurement as Measurement
    from audiolevel.api.measuring import Measurements as Measurements
    from audiolevel.api.measuring import measure as measure
    from audiolevel.api.measuring import measure_all as measure_all
    from audiolevel.api.planning import Survey as Survey
    from audiolevel.api.planning import plan as plan
    from audiolevel.api.planning import predict as predict
    from audiolevel.api.planning import survey as survey
    from audiolevel.api.planning import trial as trial
    from audiolevel.api.plans import Plan as Plan
    from audiolevel.api.plans import Trials as Trials
    from audiolevel.api.results import Result as Result
    from audiolevel.api.results import outputs as outputs
    from audiolevel.api.reviewing import PrivacyReview as PrivacyReview
    from audiolevel.api.reviewing import review_privacy as review_privacy
    from audiolevel.api.site_folder import SiteFolder as SiteFolder
    from audiolevel.api.site_folder import SiteFolders as SiteFolders
    from audiolevel.api.site_folder import new_site as new_site
    from audiolevel.api.site_folder import open_site as open_site
    from audiolevel.api.site_folder import open_sites as open_sites
    from audiolevel.api.site_folder import site_questions as site_questions
    from audiolevel.api.sounding import Catalogue as Catalogue
    from audiolevel.api.sounding import GainTest as GainTest
    from audiolevel.api.sounding import Rendering as Rendering
    from audiolevel.api.sounding import catalogue as catalogue
    from audiolevel.api.sounding import render_gain_test as render_gain_test
    from audiolevel.api.sounding import render_sound as render_sound
    from audiolevel.counting.expected import Expected as Expected
    from audiolevel.errors import AudioLevelError as AudioLevelError
    from audiolevel.followup.event_log import LogFormat as LogFormat
    from audiolevel.intervals import Interval as Interval
    from audiolevel.metering.annotations import Mark as Mark
    from audiolevel.metering.parts import place_s as place_s
    from audiolevel.metering.visit import Visit as Visit
    from audiolevel.names import hint as hint
    from audiolevel.names import plain as plain
    from audiolevel.planning.asked import Asked as Asked
    from audiolevel.site.sections import Site as Site
    from audiolevel.site.site_file import read_site as read_site
    from audiolevel.triggers.trigger import Trigger as Trigger

from audiolevel.version import __version__ as __version__

_HOMES = {
    "api.calibrating": ("CalibrationResult", "calibrate"),
    "api.folders": ("BatchStopped", "FolderResults", "measure_folder"),
    "api.following": ("FollowUp", "follow_up"),
    "api.measuring": ("Measurement", "Measurements", "measure", "measure_all"),
    "api.planning": ("Survey", "plan", "predict", "survey", "trial"),
    "api.plans": ("Plan", "Trials"),
    "api.results": ("Result", "outputs"),
    "api.reviewing": ("PrivacyReview", "review_privacy"),
    "api.site_folder": (
        "SiteFolder",
        "SiteFolders",
        "new_site",
        "open_site",
        "open_sites",
        "site_questions",
    ),
    "api.sounding": (
        "Catalogue",
        "GainTest",
        "Rendering",
        "catalogue",
        "render_gain_test",
        "render_sound",
    ),
    "counting.expected": ("Expected",),
    "errors": ("AudioLevelError",),
    "followup.event_log": ("LogFormat",),
    "intervals": ("Interval",),
    "metering.annotations": ("Mark",),
    "metering.parts": ("place_s",),
    "metering.visit": ("Visit",),
    "names": ("hint", "plain"),
    "planning.asked": ("Asked",),
    "site.sections": ("Site",),
    "site.site_file": ("read_site",),
    "triggers.trigger": ("Trigger",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = ["__version__", *sorted(_HOME_OF)]


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'audiolevel' has no attribute {name!r}")
    return getattr(import_module(f"audiolevel.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return __all__
