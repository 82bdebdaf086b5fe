"""What the JSON of several commands shares.

Plain dictionaries, ready for `json.dumps`. What is not known is null, never NaN; every quantity has
its unit in its key.
"""

from collections.abc import Iterable
from dataclasses import fields
from typing import Any, TypeVar

from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object, number
from audiolevel.metering.calibration import Scale
from audiolevel.metering.statistics import MOVING, Levels
from audiolevel.planning.survey import Survey
from audiolevel.report.words.cautions import notice_text
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger

Record = TypeVar("Record")


def filled(kind: type[Record], source: object, **more: Any) -> Record:
    """A record with what `source` has under the same names, and `more` beside it."""
    names = [one.name for one in fields(kind)]  # type: ignore[arg-type]  # records are dataclasses
    same = {name: getattr(source, name) for name in names if hasattr(source, name)}
    return kind(**(same | more))


def warnings_of(cautions: Iterable[Notice]) -> list[Object]:
    """Cautions as objects of code and text."""
    return [{"code": caution.code, "text": notice_text(caution)} for caution in cautions]


def levels_of(levels: Levels, scale: Scale) -> Object:
    """The levels of a recording, in the unit of the scale (sample peak always re full scale)."""

    def shown(level: float) -> float | None:
        return number(scale.shown(level))

    return {
        **{name: shown(getattr(levels, name)) for name in MOVING},
        # always re full scale: it says how near the input came to clipping
        "sample_peak_dbfs": number(levels.sample_peak_db),
        "percentiles_db": {name: shown(level) for name, level in levels.percentiles_db.items()},
    }


def on_camera_of(trigger: Trigger, gain_db: float, site: Site) -> Object:
    """The camera's own name of a gain, and its number for a threshold in dB FS at it."""
    line = site.display.line if trigger.mode == "threshold" else None
    return {
        "gain_setting": site.setting_of(gain_db),
        "display_level": None if line is None else number(line.shown(trigger.at_db), 1),
        "display_uncertainty": None if line is None else number(line.uncertainty(trigger.at_db), 1),
    }


def setting_of(trigger: Trigger, gain_db: float, survey: Survey) -> Object:
    """A trigger's settings under their names; its level or change at a gain as it is shown."""
    at = trigger.at_db + survey.shift_db(trigger.mode, gain_db)
    if trigger.mode == "threshold":
        own: Object = {"level_db": number(at)}
    elif trigger.detect is not None:
        own = {"at_db": number(at)}
    else:
        own = {"change_db": number(at), "window_s": trigger.window_s}
    return {
        "mode": trigger.mode,
        **own,
        "hold_s": trigger.hold_s,
        "rearm_s": trigger.rearm_s,
        "release_db": trigger.release_db,
    }
