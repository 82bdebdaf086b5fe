"""How a camera's log is to be read, where its reader must be told.

Entry point: `LogFormat`.
"""

from dataclasses import dataclass
from datetime import datetime, tzinfo


@dataclass(frozen=True)
class LogFormat:
    """How a log is to be read; every default looks for what the log itself shows.

    Attributes
    ----------
    time_columns : tuple of str
        Name or number (from 1) of the column of times; two are joined, date and time.
    time_format : str
        As of strptime; "" finds out.
    date_order : str
        "dmy", "mdy" or "ymd" for dates in numbers; "" finds out from the whole column.
    kind_column, kinds : str, tuple of str
        Where the kind of event stands, and which of them are firings of the sound trigger.
    length_column : str
        Where the length of the recording stands, in seconds.
    zone : tzinfo, str or None
        Of the camera's clock, or its IANA name; None is the plan's.
    rearm_s : float
        Of the trigger: rows nearer to each other are one firing.
    begin, end : datetime or None
        What the log covers; None is from its first or to its last row.
    gaps : tuple of (datetime, datetime)
        When the camera was off.
    """

    time_columns: tuple[str, ...] = ()
    time_format: str = ""
    date_order: str = ""
    kind_column: str = ""
    kinds: tuple[str, ...] = ()
    length_column: str = ""
    zone: tzinfo | str | None = None
    rearm_s: float = 10.0
    begin: datetime | None = None
    end: datetime | None = None
    gaps: tuple[tuple[datetime, datetime], ...] = ()
