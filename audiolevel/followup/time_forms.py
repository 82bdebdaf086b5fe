"""Forms in which logs write a time: day, month or year first, 12 and 24 hours, epochs, file names.

A single cell often cannot tell 3 April from 4 March; a column can, because days go to 31 and months
to 12. So a column is read as a whole: by the order of day, month and year that most of its cells
allow. Where two orders read them all, and read them differently, nobody knows, and it is refused.

Entry points: `times_of`, `Times`, `AmbiguousDates`, `is_time`, `is_epoch_or_name`, `ORDERS`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo

from audiolevel.metering.file_times import time_in_name

ORDERS = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}
# English, and what German, French, Spanish and Italian cameras write besides
_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar janvier janv ene enero gen gennaio",
            "feb february februar fevrier fev febrero febbraio",
            "mar march mrz maer maerz marz mars marzo",
            "apr april avr avril abr abril aprile",
            "may mai mayo mag maggio",
            "jun june juni juin junio giu giugno",
            "jul july juli juil juillet julio lug luglio",
            "aug august aout ago agosto",
            "sep sept september septembre septiembre set settembre",
            "oct october okt oktober octobre octubre ott ottobre",
            "nov november novembre noviembre",
            "dec december dez dezember decembre dic diciembre dicembre",
        ),
        1,
    )
    for name in names.split()
}
_PLAIN = str.maketrans("áàâäéèêíóôöúûü", "aaaaeeeiooouuu")

_TIME = re.compile(
    r"(?<![\d:])(?P<h>\d{1,2})[:h](?P<m>\d{2})(?::(?P<s>\d{2})(?:[.,](?P<f>\d{1,9}))?)?(?![\d:])"
    r"\s*(?P<half>[ap]\.?\s?m\b\.?)?\s*"
    # what goes on after the offset is no offset: 20:15-31.12.2026
    r"(?P<zone>z\b|utc\b|gmt\b|[+-]\d{2}(?::?\d{2})?(?![\d:./-]))?",
    re.IGNORECASE,
)
# "T" of ISO 8601, "at", "um … Uhr", commas: what stands between a date and a time
_BETWEEN = re.compile(r"\b(?:at|um|uhr)\b|(?<=\d)t\b|[,;]\s|[,;]$", re.IGNORECASE)
_WEEKDAY = re.compile(
    r"^(?:mon?|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\b[.,]?"
    r"|^(?:mo|di|mi|do|fr|sa|so|montag|dienstag|mittwoch|donnerstag|freitag|samstag|sonntag)\b[.,]?",
    re.IGNORECASE,
)
_NUMBERS = re.compile(r"(\d{1,4})\s*([-./_])\s*(\d{1,2})\s*\2\s*(\d{1,4})\.?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_DAY_NAME_YEAR = re.compile(r"(\d{1,2})[-.\s/]*([^\W\d]{3,10})[-.,\s/]*(\d{2}|\d{4})")
_NAME_DAY_YEAR = re.compile(r"([^\W\d]{3,10})\.?[\s-]*(\d{1,2})(?:st|nd|rd|th)?[,\s-]+(\d{4})")
_YEAR_NAME_DAY = re.compile(r"(\d{4})[-.\s/]*([^\W\d]{3,10})[-.\s/]*(\d{1,2})")
_COMPACT_TIME = re.compile(
    r"(\d{4})(\d{2})(\d{2})[T _-]?(\d{2})(\d{2})(\d{2})(Z|[+-]\d{2}(?::?\d{2})?)?"
)
# behind a time with colons, a zone in letters or an offset: no name of a file
_ZONE_AT_THE_END = re.compile(r":\d\d(?:[.,]\d+)?\s?(?:[A-Za-z]{2,5}|[+-]\d{2}(?::?\d{2})?)$")
_EPOCH = re.compile(r"(\d{9,10})(?:[.,](\d{1,9}))?|(\d{12,13})")
# seconds since 1970 at the beginnings of 2000 and 2100: outside, a number is no time of a camera
_EPOCH_FROM, _EPOCH_TO = 946_684_800, 4_102_444_800


class AmbiguousDates(ValueError):
    """A column of dates that may have the day or the month first.

    Attributes
    ----------
    text : str
        One of its cells that tells the two apart.
    readings : dict of str to datetime
        What it would be in each order.
    """

    def __init__(self, text: str, readings: dict[str, datetime]) -> None:
        super().__init__(text)
        self.text, self.readings = text, readings


@dataclass(frozen=True)
class Times:
    """A column of times as read.

    Attributes
    ----------
    moments : list of datetime or None
        None where a cell is no time; with a zone where the cell names one.
    form : str
        "dmy", "mdy" or "ymd" where the order of numbers had to be found, "epoch", "name" for file
        names, "named" for a form of strptime, else "".
    """

    moments: list[datetime | None]
    form: str


@dataclass(frozen=True)
class _Cell:
    """A cell that looks like a time: dates that it may be, by the order, and the time of day."""

    dates: dict[str, tuple[int, int, int]]
    time: tuple[int, int, int, int]
    zone: tzinfo | None

    def moment(self, order: str) -> datetime | None:
        # a date in words or with the year first is the same in every order
        date = self.dates.get(order) or self.dates.get("")
        if date is None:
            return None
        try:
            return datetime(*date, *self.time, tzinfo=self.zone)
        except ValueError:
            return None


def is_time(text: str, time_format: str = "") -> bool:
    """Whether a cell is a date with a time of day, in whatever order."""
    if time_format:
        return _by_format(text, time_format) is not None
    cell = _cell(text)
    return cell is not None and any(cell.moment(order) for order in ORDERS)


def is_epoch_or_name(text: str) -> bool:
    """Whether a cell without a date is seconds since 1970, or a file name that holds a time."""
    return _epoch(text) is not None or _named(text) is not None


def times_of(texts: Sequence[str], time_format: str = "", order: str = "") -> Times:
    """Read a column of times.

    Parameters
    ----------
    texts : sequence of str
    time_format : str
        As of strptime; "" finds out.
    order : str
        "dmy", "mdy" or "ymd" for dates in numbers; "" finds out from all of them.

    Returns
    -------
    Times

    Raises
    ------
    AmbiguousDates
        Two orders read every date, and differently.
    """
    if time_format:
        return Times([_by_format(text, time_format) for text in texts], "named")
    cells = [_cell(text) for text in texts]
    if any(cells):
        return _in_order(texts, cells, order)
    epochs = [_epoch(text) for text in texts]
    if any(epochs):
        return Times(epochs, "epoch")
    return Times([_named(text) for text in texts], "name")


def _in_order(texts: Sequence[str], cells: Sequence[_Cell | None], order: str) -> Times:
    by_order = {
        one: [None if cell is None else cell.moment(one) for cell in cells] for one in ORDERS
    }
    if all(cell is None or "" in cell.dates for cell in cells):
        return Times(by_order["ymd"], "")
    if order:
        return Times(by_order[order], order)
    read = {one: sum(m is not None for m in moments) for one, moments in by_order.items()}
    # one day above 12 is enough: it is no month, whatever the other cells allow
    best = [one for one in ORDERS if read[one] == max(read.values())]
    first, *others = (by_order[one] for one in best)
    for moments in others:
        for text, a, b in zip(texts, first, moments, strict=True):
            if a is not None and b is not None and a != b:
                place = texts.index(text)
                apart = {one: by_order[one][place] for one in best}
                raise AmbiguousDates(text, {o: m for o, m in apart.items() if m is not None})
    return Times(first, best[0])


def _named(text: str) -> datetime | None:
    """The time in a file name; a time with a zone that cannot be read is none of these."""
    return None if _ZONE_AT_THE_END.search(text.strip()) else time_in_name(text)


def _by_format(text: str, time_format: str) -> datetime | None:
    try:
        return datetime.strptime(text, time_format)
    except ValueError:
        return None


def _cell(text: str) -> _Cell | None:
    compact = _COMPACT_TIME.fullmatch(text.strip())
    if compact:
        year, month, day, hour, minute, second = (int(part) for part in compact.groups()[:6])
        return _Cell({"": (year, month, day)}, (hour, minute, second, 0), _zone(compact[7]))
    found = _TIME.search(text)
    if found is None:
        return None
    time = _time_of_day(found)
    if time is None:
        return None
    around = f"{text[: found.start()]} {text[found.end() :]}"
    rest = _WEEKDAY.sub("", _BETWEEN.sub(" ", around.replace("_", " ")).strip()).strip(" ,T-")
    dates = _dates(rest)
    return None if not dates else _Cell(dates, time, _zone(found["zone"]))


def _time_of_day(found: re.Match[str]) -> tuple[int, int, int, int] | None:
    hour, minute, second = int(found["h"]), int(found["m"]), int(found["s"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            return None
        # 12 a.m. is midnight and 12 p.m. is noon
        hour = hour % 12 + (12 if found["half"][0] in "pP" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    return hour, minute, second, int((found["f"] or "").ljust(6, "0")[:6])


def _zone(text: str | None) -> tzinfo | None:
    if not text:
        return None
    if text[0] not in "+-":
        return UTC
    digits = text[1:].replace(":", "")
    offset = timedelta(hours=int(digits[:2]), minutes=int(digits[2:] or 0))
    # a day or more is no offset
    if offset >= timedelta(days=1):
        return None
    return timezone(-offset if text[0] == "-" else offset)


def _dates(text: str) -> dict[str, tuple[int, int, int]]:
    """The dates that a text may be, by the order of its numbers; "" is any order."""
    compact = _COMPACT.fullmatch(text)
    if compact:
        return {"": (int(compact[1]), int(compact[2]), int(compact[3]))}
    numbers = _NUMBERS.fullmatch(text)
    if numbers:
        return _orders(numbers[1], numbers[3], numbers[4], numbers[2])
    for pattern, places in (
        (_DAY_NAME_YEAR, (3, 2, 1)),
        (_NAME_DAY_YEAR, (3, 1, 2)),
        (_YEAR_NAME_DAY, (1, 2, 3)),
    ):
        words = pattern.fullmatch(text)
        if words:
            year, name, day = (words[place] for place in places)
            month = _MONTHS.get(name.lower().translate(_PLAIN))
            return {} if month is None else {"": (_year(year), month, int(day))}
    return {}


def _orders(a: str, b: str, c: str, between: str) -> dict[str, tuple[int, int, int]]:
    if len(a) == 4:
        # nobody writes year, day, month
        return {"": (int(a), int(b), int(c))} if len(c) <= 2 else {}
    if len(a) > 2 or len(c) == 3 or len(c) == 1:
        return {}
    orders = {"dmy": (_year(c), int(b), int(a)), "mdy": (_year(c), int(a), int(b))}
    # a year of two digits stands first only between hyphens, as short for ISO 8601
    if len(c) == 2 and between == "-":
        orders["ymd"] = (_year(a), int(b), int(c))
    return orders


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _epoch(text: str) -> datetime | None:
    found = _EPOCH.fullmatch(text.strip())
    if found is None:
        return None
    seconds = float(f"{found[1]}.{found[2] or 0}") if found[1] else int(found[3]) / 1000
    if not _EPOCH_FROM <= seconds < _EPOCH_TO:
        return None
    return datetime.fromtimestamp(seconds, UTC)
