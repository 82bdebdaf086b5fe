"""The pictures of a follow-up show its numbers."""

from typing import Any, cast

import numpy as np
import pytest

from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import Followup, follow
from audiolevel.report.followup.figure import before_and_after, by_date_and_hour
from audiolevel.report.followup.page import curve_now
from tests.followup.made_log import log_of, plan_of, spread_over


@pytest.fixture(scope="module")
def result() -> Followup:
    return follow(
        expectation_of(plan_of(by_hour=(40 / 24,) * 24)), [(log_of(spread_over(280)), 75.0)]
    )


def test_dots_are_the_observed_and_bars_the_expected(result: Followup) -> None:
    dates, hours = by_date_and_hour(result).figure.axes
    for axes, periods in ((dates, result.last.by_day), (hours, result.last.by_hour)):
        dots = next(line for line in axes.lines if line.get_label() == "observed")
        assert np.asarray(dots.get_ydata()).tolist() == [one.observed for one in periods]
        bars = cast(Any, axes.collections[0]).get_segments()
        assert [[low, high] for (_, low), (_, high) in bars] == [
            [one.expected.low, one.expected.high] for one in periods
        ]


def test_what_stands_out_is_ringed_and_named() -> None:
    # all firings of a week within one hour of the day
    crowded = follow(
        expectation_of(plan_of(by_hour=(40 / 24,) * 24)),
        [(log_of(np.concatenate([day * 86400 + np.arange(40) * 60.0 for day in range(7)])), 75.0)],
    )
    out = [one.name for one in crowded.last.by_hour if one.stands_out]
    assert "00" in out
    _, hours = by_date_and_hour(crowded).figure.axes
    assert len([line for line in hours.lines if line.get_markersize() == 12]) == len(out)
    assert "00:00" in by_date_and_hour(crowded).alternative


def test_a_log_narrows_what_is_known_at_the_setting(result: Followup) -> None:
    """The made plan's curve falls by 0.42 neper a decibel from 40 a day at 75 dB."""
    (axes,) = before_and_after(result).figure.axes
    lines = {str(line.get_label()): line for line in axes.lines}
    before, after = lines["before the logs"], lines["with them"]
    levels = np.asarray(before.get_xdata())
    at = int(np.flatnonzero(levels == 75.0)[0])
    assert np.asarray(before.get_ydata())[at] == pytest.approx(40.0, rel=0.15)
    assert np.asarray(after.get_ydata())[at] == pytest.approx(40.0, rel=0.1)
    widths = []
    for band in axes.collections[:2]:
        edge = np.asarray(band.get_paths()[0].vertices)
        here = edge[edge[:, 0] == 75.0][:, 1]
        widths.append(here.max() / here.min())
    assert widths[1] < widths[0]


def test_the_pages_curve_is_what_is_known_with_the_logs(result: Followup) -> None:
    """The level from which its ninth tenth keeps the limit is the decision's safe level."""
    curve = curve_now(result)
    limit = result.expectation.limit_per_day
    settings, safe = curve["settings_db"], curve["day_rate_90_per_day"]
    kept = [at for at, rate in zip(settings, safe, strict=True) if rate <= limit]
    above = [at for at in settings if at >= result.decision.safe_db]
    assert kept == pytest.approx(above)
    assert len(curve["per_day"]) == len(settings) == len(curve["low_per_day"])
    lasting = result.posterior.lasting
    for at, best in zip(settings[::5], curve["per_day"][::5], strict=True):
        # the weighted median of the possibilities
        rates = lasting.log_rate_at(at)
        below = float(lasting.weight[rates <= np.log(best)].sum())
        assert below == pytest.approx(0.5, abs=0.02)
    # one day's count holds more than the mean does
    row = settings.index(min(settings, key=lambda at: abs(at - result.last.at_db)))
    assert curve["low_per_day"][row] <= curve["rate_low_per_day"][row]
    assert curve["high_per_day"][row] >= curve["rate_high_per_day"][row]
