"""The page of a follow-up: what to set now among other settings, as they are known with the logs.

Entry point: `followup_page`.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from audiolevel.counting.predicted import SAFE_SHARE
from audiolevel.followup.bayes import predictive
from audiolevel.followup.verdict import Followup
from audiolevel.ground.arrays import IntArray
from audiolevel.ground.records import Object, significant, to_object
from audiolevel.report.figures import Picture
from audiolevel.report.followup.document import followup_document
from audiolevel.report.followup.figure import AROUND_DB
from audiolevel.report.instrument import CHART, EXPLORING, controls, explored, with_answers
from audiolevel.report.page import page, pictured

# how a rate is known, as the scripts name it
_BY_LOG = "log"


def followup_page(result: Followup, plan_name: str, pictures: Mapping[str, Picture]) -> str:
    """A follow-up as one HTML file, with other settings to try."""
    option = result.expectation.option
    gains, scale = [(option.gain_db, option.gain_setting)], result.expectation.curve.display_levels
    asked = controls(gains, [option.mode], scale is not None)
    shown = {
        **pictured(pictures),
        "chart": CHART,
        "explore": with_answers(asked),
    }
    return page(
        followup_document(result, plan_name),
        "followup",
        shown,
        data={"plan": _explored(result)},
        scripts=("common", *EXPLORING, "sortable"),
    )


def curve_now(result: Followup) -> Object:
    """The plan's curve about what is set, with its rates as the logs have changed them.

    Its sounds are caught as the plan expects; a card's life was the plan's own and is left out.
    """
    expectation, lasting = result.expectation, result.posterior.lasting
    settings, sure = np.asarray(expectation.curve.settings_db), expectation.confidence
    near = np.flatnonzero(np.abs(settings - result.last.at_db) <= AROUND_DB)
    rows = near if near.size > 1 else np.arange(settings.size)
    planned = _of_rows(to_object(replace(expectation.curve, storage=None)), rows, settings.size)
    shares = [0.5, (1 - sure) / 2, (1 + sure) / 2, SAFE_SHARE]
    levels = settings[rows].tolist()
    rates = np.exp([lasting.quantiles(lasting.log_rate_at(at_db), shares) for at_db in levels]).T
    figures = [[significant(one) for one in of] for of in rates.tolist()]
    days = [predictive(lasting, at_db, [1.0], sure) for at_db in levels]
    names = ("per_day", "rate_low_per_day", "rate_high_per_day", "day_rate_90_per_day")
    return {
        "detection": [],
        **planned,
        **dict(zip(names, figures, strict=True)),
        "low_per_day": [one.low for one in days],
        "high_per_day": [one.high for one in days],
        "method": [_BY_LOG] * len(levels),
    }


def _of_rows(value: Any, rows: IntArray, whole: int) -> Any:
    """What a record holds of some of its settings."""
    if isinstance(value, dict):
        return {name: _of_rows(one, rows, whole) for name, one in value.items()}
    if not isinstance(value, list):
        return value
    if value and isinstance(value[0], dict):
        return [_of_rows(one, rows, whole) for one in value]
    return [value[row] for row in rows.tolist()] if len(value) == whole else value


def _explored(result: Followup) -> Object:
    """What the scripts read, as a plan's JSON has it, of the one setting there is."""
    expectation, last = result.expectation, result.last
    option = expectation.option
    set_now = {
        "gain_db": option.gain_db,
        "mode": option.mode,
        "level_db" if option.mode == "threshold" else "change_db": result.decision.set_db,
        "expected": {"confidence": expectation.confidence},
    }
    made = explored(expectation.unit, expectation.limit_per_day, [(set_now, curve_now(result))])
    return {**made, "observed": {"at": last.at_db, "per_day": last.observed_per_day}}
