"""What many recordings say together, by hand."""

import numpy as np
import pytest

from audiolevel.batch.overview import Move, by_site_and_hour, drifts, gain_steps, moves, outliers


def record_with(path: str, laeq: float, **more: object) -> dict[str, object]:
    levels = dict.fromkeys(("lceq_db", "lzeq_db", "lafmax_db", "lasmax_db", "lae_db"), laeq)
    return {
        "path": path,
        "site": "s",
        "start": None,
        "gain_setting": None,
        "duration_s": 60.0,
        "reference": "dB FS",
        "laeq_db": laeq,
        "lafmin_db": laeq,
        "lcpeak_db": laeq,
        **levels,
        "percentiles_db": {"L50": laeq, "L90": laeq},
        "clipping": {"verdict": "none"},
        "warnings": [],
        **more,
    }


def test_levels_are_averaged_as_energy() -> None:
    # half of the time at 60 and half at 70 dB is 67.40 dB, not 65
    rows = by_site_and_hour(
        [
            record_with("a", -40.0, start="2026-03-02T10:05:00"),
            record_with("b", -30.0, start="2026-03-03T10:40:00"),
            record_with("c", -50.0),
        ]
    )
    assert [(row.hour, row.recordings) for row in rows] == [(None, 1), (10, 2)]
    assert rows[1].laeq_db == pytest.approx(67.4036 - 100, abs=1e-3)


def test_gain_steps_and_drift_by_hand() -> None:
    records = [record_with(f"a{i}", -40.0 + i, gain_setting=1.0) for i in (-1, 0, 1)]
    records += [record_with(f"b{i}", -30.0 + i, gain_setting=2.0) for i in (-1, 0, 1)]
    (step,) = gain_steps(records, {"s": {1.0: 0.0, 2.0: 12.0}})
    assert step.measured_db == pytest.approx(10.0)
    assert step.stated_db == 12.0
    assert step.standard_error_db == pytest.approx(np.sqrt(1 / 3 + 1 / 3))
    days = [
        record_with(f"d{d}", -40.0 - d / 10, start=f"2026-03-{d:02d}T10:00") for d in (1, 11, 21)
    ]
    (drift,) = drifts(days)
    assert drift.db_per_30_days == pytest.approx(-3.0)
    assert drift.standard_error_db == pytest.approx(0.0, abs=1e-6)


def test_what_stands_out() -> None:
    records = [record_with(f"a{i}", -40.0 + 0.1 * i) for i in range(6)]
    records += [record_with("loud", -20.0), record_with("cut", -40.0, warnings=["clipped"])]
    cut, loud = outliers(records)
    assert (cut.path, cut.spoilt_by, cut.from_median_db) == ("cut", ("clipped",), None)
    # the median of eight: halfway between -39.8 and -39.7 dB
    assert (loud.path, loud.spoilt_by) == ("loud", ())
    assert loud.from_median_db == pytest.approx(19.75)


def test_moved_sees_what_came_and_went() -> None:
    old = {"a": record_with("a", -40.0), "gone": record_with("gone", -40.0)}
    found = moves(old, [record_with("a", -40.05), record_with("new", -40.0)], 0.1)
    assert found == [Move("new", None, None, "new"), Move("gone", None, "gone", None)]
    found = moves({"a": record_with("a", -40.0)}, [record_with("a", -39.8)], 0.1)
    assert {one.key for one in found} >= {"laeq_db", "L50"}
    assert {(one.before, one.now) for one in found} == {(-40.0, -39.8)}
