"""When a recording began, by its name."""

from datetime import datetime

import pytest

from audiolevel.metering.file_times import time_in_name

AT = datetime(2026, 12, 31, 20, 15, 5)


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("rec_20261231_201505.wav", AT),
        ("2026-12-31 20.15.05.wav", AT),
        ("20261231T201505.flac", AT),
        ("2026-12-31/20-15-05.mp4", AT),
        ("ch01_20261231201505_20261231201535.mp4", AT),
        ("2026123120150520261231201535.mp4", AT),
        ("2026-12-31/2026-12-31_20-15-05.mp4", AT),
        ("2026.12.31/2026.12.31-20.15.05.mp4", AT),
        ("20261231/2026-12-31_20-15-05", AT),
        (r"2026_12_31\2026_12_31_20_15_05.mkv", AT),
        ("rec_20261231.wav", None),
        ("rec_20261331_201505.wav", None),
        ("20260230_201505.wav", None),  # no such day
        ("serial 120261231201505.wav", None),
        ("a.wav", None),
    ],
)
def test_a_name_tells_its_time_or_none(name: str, meant: datetime | None) -> None:
    assert time_in_name(name) == meant
