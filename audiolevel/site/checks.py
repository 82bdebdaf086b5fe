"""What a site file may name: sounds, files of one's own, time zones, times of the week, readings.

Looked at as soon as the file is read, whether or not the command will come to need it: a slip of
the pen must not wait for a calibration to be found.

Entry points: `check_wanted`, `check_schedule`, `check_readings`, `check_codec`.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from audiolevel.counting.schedule import read_schedule, zone_named
from audiolevel.counting.traffic import relative_flow
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import hint
from audiolevel.metering.calibration import fit_display
from audiolevel.site.sections import AUDIO_KBIT_S
from audiolevel.sounds.catalogue import find


@contextmanager
def _named(key: str) -> Iterator[None]:
    """The key in front of an error that does not name it itself."""
    try:
        yield
    except SettingError as error:
        said = str(error)
        raise SettingError(said if said.startswith(key) else f"{key}: {said}") from error


def check_wanted(sound: str, file: str, level_dba: float | None, folder: Path | None) -> None:
    """Refuse a wanted sound that is neither built in nor there.

    Raises
    ------
    SettingError
        No such sound, no such file in the folder of the site file, or a file without its level.
    """
    if sound:
        with _named("wanted.sound"):
            find(sound)
        return
    if level_dba is None:
        raise SettingError(
            f"wanted.file = {file!r}: needs level_dba, its highest dB(A) at at_m metres, like "
            "level_dba = 95"
        )
    if folder is not None and not os.path.isfile(folder / file):
        raise SettingError(f"wanted.file = {file!r}: is not beside the site file; check the name")


def check_schedule(
    active: Sequence[str], zone: str, traffic_by_hour: Sequence[float] | str
) -> None:
    """Refuse windows, a time zone or traffic that cannot be meant.

    Raises
    ------
    SettingError
        The key and what is wrong with it.
    """
    read_schedule(active)
    zone_named(zone)
    if isinstance(traffic_by_hour, str):
        if traffic_by_hour != "published":
            raise SettingError(
                f"schedule.traffic_by_hour = {traffic_by_hour!r}: give 24 flows or 'published'"
            )
    elif traffic_by_hour:
        with _named("schedule.traffic_by_hour"):
            relative_flow(traffic_by_hour)


def check_codec(name: str) -> None:
    """Refuse a codec that `AUDIO_KBIT_S` does not have.

    Raises
    ------
    SettingError
        The name that was meant, or all that are known.
    """
    if name not in AUDIO_KBIT_S:
        said = hint(name, AUDIO_KBIT_S)
        raise SettingError(f"storage.audio_codec: no codec {name!r}; {said}")


def check_readings(readings: Sequence[tuple[float, float]]) -> None:
    """Refuse readings of the camera's own scale that contradict each other.

    Raises
    ------
    SettingError
        What is wrong with them.
    """
    if readings:
        with _named("display.readings"):
            fit_display(readings)
