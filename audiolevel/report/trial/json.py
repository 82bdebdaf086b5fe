"""The JSON of a trial, with each of its firings."""

from collections.abc import Sequence

from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object, number, significant, to_object
from audiolevel.planning.survey import Survey
from audiolevel.planning.trial import Trial
from audiolevel.report.json_objects import on_camera_of, setting_of, warnings_of
from audiolevel.report.plan.json import expected_record
from audiolevel.version import __version__


def as_json(trials: Sequence[Trial], survey: Survey, notices: Sequence[Notice]) -> Object:
    """The object of `trial`."""
    return {
        "audiolevel": __version__,
        "trials": [_trial(one, survey) for one in trials],
        "warnings": warnings_of(notices),
    }


def _trial(trial: Trial, survey: Survey) -> Object:
    scale = survey.scale
    gain_db, trigger = trial.gain.gain_db, trial.trigger
    return {
        "path": str(trial.measurement.path),
        "gain_db": gain_db,
        **setting_of(trigger, gain_db, survey),
        **on_camera_of(trigger, gain_db, survey.site),
        "reference": scale.unit,
        "clipped_share": significant(trial.gain.clipped_share),
        "count": len(trial.firings),
        "duration_s": number(trial.measurement.duration_s, 3),
        "expected": to_object(expected_record(trial.prediction, trial.row)),
        "triggers": [
            {
                "time_s": number(time, 3),
                "level_db": number(scale.shown(level, gain_db)),
                "marked": marked,
            }
            for (time, level), marked in zip(trial.firings, trial.marked, strict=True)
        ],
    }
