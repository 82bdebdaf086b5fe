"""Make the log of the sample scenario's camera: `python sample_audio/make_log.py`.

Everything is invented: a week from Wednesday, 5 June 2024, in the hours in which the trigger is
active. The sound trigger fires some hundred times a day with the traffic of the hour; on Saturday
from 10 to 11 h somebody mows the verge. Rows of another kind, a row written twice and two rows out
of order are what logs are like.
"""

import csv
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

WHERE = Path(__file__).parent / "camera_log.csv"
FIRST_DAY = datetime(2024, 6, 5)
DAYS = 7
SOUNDS_PER_DAY = 110.0  # were the trigger active all day
MOTIONS_PER_HOUR = 0.5
REARM_S = 10.0
# Department for Transport, table TRA0307, Monday to Friday: per cent of the day in each hour
TRAFFIC = (
    0.64, 0.46, 0.41, 0.48, 0.81, 1.95, 4.55, 7.03, 7.03, 5.89, 5.66, 5.83,
    5.95, 6.08, 6.41, 7.00, 7.84, 7.74, 6.10, 4.21, 2.99, 2.22, 1.66, 1.08,
)  # fmt: skip


def active(hour: datetime) -> bool:
    """Whether the trigger is on: nights of working days and the weekend, as in site.toml."""
    if hour.weekday() >= 5:
        return True
    evening = hour.hour >= 18
    night = hour.hour < 7 and (hour - timedelta(days=1)).weekday() < 5
    return evening or night


def sounds(rng: np.random.Generator) -> list[datetime]:
    """Firings of the sound trigger, none within the re-arm time of another."""
    moments: list[datetime] = []
    for i in range(DAYS * 24):
        hour = FIRST_DAY + timedelta(hours=i)
        if not active(hour):
            continue
        rate = SOUNDS_PER_DAY * TRAFFIC[hour.hour] / sum(TRAFFIC)
        if hour.weekday() == 5 and hour.hour == 10:
            rate += 45.0
        for second in np.sort(rng.uniform(0, 3600, rng.poisson(rate))):
            moment = hour + timedelta(seconds=int(second))
            if not moments or (moment - moments[-1]).total_seconds() >= REARM_S:
                moments.append(moment)
    return moments


def rows() -> list[tuple[str, str, int]]:
    """Rows of the log: time, kind of event, length of the recording in seconds."""
    rng = np.random.default_rng(2024)
    made = [(moment, "sound", 25) for moment in sounds(rng)]
    for i in range(DAYS * 24):
        hour = FIRST_DAY + timedelta(hours=i)
        for second in rng.uniform(0, 3600, rng.poisson(MOTIONS_PER_HOUR)):
            made.append((hour + timedelta(seconds=int(second)), "motion", 40))
    made.sort()
    made.insert(30, made[30])
    made[50], made[51] = made[51], made[50]
    return [(moment.isoformat(), kind, length) for moment, kind, length in made]


def main() -> None:
    """Write the log."""
    with WHERE.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(("time", "event", "length_s"))
        out.writerows(rows())


if __name__ == "__main__":
    main()
