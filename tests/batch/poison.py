"""Recordings that kill whoever measures them, and workers that wait for a named moment."""

import os
import signal
from pathlib import Path
from typing import Any

from audiolevel.batch.discovery import Item
from audiolevel.metering.measurement import Measurement
from audiolevel.report.batch.record import record_of

DEADLY = "poison"


def record_or_death(item: Item, measurement: Measurement) -> dict[str, Any]:
    """In place of the batch's own: dies of a recording whose name says so, unless it was cured."""
    deadly = DEADLY in item.path and not Path(os.environ["AUDIOLEVEL_TEST_CURE"]).exists()
    if deadly:
        os.kill(os.getpid(), signal.SIGSEGV)
    return record_of(item, measurement)


def record_or_death_once(item: Item, measurement: Measurement) -> dict[str, Any]:
    """Dies the first time; a file that is made at that moment tells the second."""
    if DEADLY in item.path:
        mark = Path(os.environ["AUDIOLEVEL_TEST_CURE"])
        if not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
    return record_of(item, measurement)
