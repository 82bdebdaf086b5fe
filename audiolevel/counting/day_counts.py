"""Firings of one day of a camera's log.

Entry point: `DayCount`.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class DayCount:
    """Firings counted at a setting in a stretch of at most a day worth `exposure` mean days.

    `louder_db` is by how much the weather made it louder than the mean day, where it is known.
    """

    at_db: float
    count: int
    exposure: float
    louder_db: float = 0.0

    @property
    def heard_db(self) -> float:
        """The setting at which a day of mean weather fires as often."""
        return self.at_db - self.louder_db
