"""What many recordings say together, by hand."""

import numpy as np
import pytest

from audiolevel.batch.overview import (
    by_site_and_hour,
    drifts,
    gain_steps,
    silent_by_site,
)


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
    # levels of exact hundredths on a line: what is left is their rounding
    assert drift.within_db < 0.1


def test_a_drift_within_its_own_error_is_none() -> None:
    def visits(levels: list[float], **more: object) -> list[dict[str, object]]:
        days = (1, 8, 15, 22, 29)
        return [
            record_with(f"{day}", level, start=f"2026-03-{day:02d}T10:00", **more)
            for day, level in zip(days, levels, strict=True)
        ]

    # slope by hand: 1 dB a visit of 7 days is 4.29 dB in 30 days; residuals of 2 dB hide it
    noisy = visits([-40.0, -42.0, -36.0, -41.0, -36.0])
    assert drifts(noisy) == []
    (clear,) = drifts(visits([-40.0, -39.1, -37.9, -37.0, -36.0]))
    assert clear.db_per_30_days == pytest.approx(30 * 1.01 / 7, abs=0.01)
    # Student's t for 3 degrees of freedom, 97.5 %: 3.182 (printed tables)
    residual = np.array([-40.0, -39.1, -37.9, -37.0, -36.0]) - (-38.0 + 1.01 * np.arange(-2, 3))
    error = np.sqrt((residual**2).sum() / 3 / (10 * 49))
    assert clear.within_db == pytest.approx(30 * 3.182 * error, rel=0.001)
    # dB FS of two gain settings are two lines, and neither is long enough; SPL are one
    apart = visits([-40.0, -39.1, -37.9, -37.0, -36.0])
    for number, record in enumerate(apart):
        record["gain_setting"] = float(number % 2)
    assert {one.gain_setting for one in drifts(apart)} <= {0.0}
    for record in apart:
        record["reference"] = "dB SPL"
    assert [one.gain_setting for one in drifts(apart)] == [None]


def test_what_cannot_be_compared_is_not_averaged() -> None:
    rows = by_site_and_hour(
        [
            record_with("a", -40.0),
            record_with("b", 70.0, reference="dB SPL"),
            record_with("c", -30.0, gain_setting=2.0),
        ]
    )
    assert [(row.reference, row.gain_setting, round(row.laeq_db, 6)) for row in rows] == [
        ("dB FS", None, -40.0),
        ("dB FS", 2.0, -30.0),
        ("dB SPL", None, 70.0),
    ]


def test_gain_steps_are_in_full_scale_whatever_the_calibration() -> None:
    # the same sound at two settings: equal SPL, 6 dB apart in full scale
    records = [
        record_with(f"{full}", 70.0, gain_setting=at, spl_at_full_scale_db=full)
        for at, full in ((1.0, 118.0), (2.0, 112.0))
    ]
    (step,) = gain_steps(records, {})
    assert step.measured_db == pytest.approx(6.0)
    assert gain_steps([record_with("a", 1.0, gain_setting="high")], {}) == []


def test_a_day_is_a_visit_and_what_is_wrong_is_none() -> None:
    """By hand: three days a fortnight apart, two recordings on each, each day 1 dB lower."""
    days = [
        record_with(f"{day}{part}", -40.0 - day / 14 + by, start=f"2026-03-{day:02d}T{10 + by}:00")
        for day in (1, 15, 29)
        for part, by in (("a", 0), ("b", 1))
    ]
    wrong = record_with("wrong", 0.0, start="2026-03-29T12:00")
    (drift,) = drifts([*days, wrong], {"wrong"})
    assert drift.visits == 3
    assert drift.db_per_30_days == pytest.approx(-30 / 14)


def test_digital_silence_is_no_level_of_its_site() -> None:
    def visit(day: int, level: float, gain: float, **more: object) -> dict[str, object]:
        start = f"2026-03-{day:02d}T10:00"
        return record_with(f"v{day}", level, gain_setting=gain, start=start, **more)

    heard = [visit(day, -40.0, 1.0) for day in (1, 2, 3, 4)]
    heard += [visit(day, -34.0, 2.0) for day in (5, 6)]
    silent = [visit(day, -200.0, 2.0, warnings=["quiet", "silent"]) for day in (7, 18)]
    (step,) = gain_steps(heard + silent, {})
    assert (step.measured_db, step.standard_error_db) == (6.0, 0.0)
    # two visits at gain 2 make no line, and two silent ones do not make it four
    assert drifts(heard + silent) == []
    # half of the time silent is no mean of half the energy
    rows = by_site_and_hour(heard + silent)
    assert [(row.gain_setting, row.recordings) for row in rows] == [(1.0, 4), (2.0, 2)]
    assert [row.laeq_db for row in rows] == pytest.approx([-40.0, -34.0])
    assert by_site_and_hour(silent) == []
    assert silent_by_site(heard + silent) == [("s", 2)]
    assert silent_by_site(heard) == []
