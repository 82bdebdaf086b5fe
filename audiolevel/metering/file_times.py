"""When a recording began, by the name of its file.

Recorders and cameras write the local clock into names: year first, to the second. A name with less
than that says nothing that a count could rest on.

Entry point: `time_in_name`.
"""

import re
from datetime import datetime

_IN_A_NAME = re.compile(
    r"(?<!\d)(20\d{2})[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])[-_./\\ T]{0,3}"
    r"([01]\d|2[0-3])[-_.:h]?([0-5]\d)[-_.:m]?([0-5]\d)(?!\d)"
    # or the times of beginning and end on end, as twice fourteen digits
    r"|(?<!\d)(20\d{2})(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])([01]\d|2[0-3])([0-5]\d)([0-5]\d)"
    r"(?=20\d{12})"
)
# all of a path up to its last separator, of either kind
_FOLDERS = re.compile(r".*[/\\]", re.DOTALL)


def time_in_name(text: str) -> datetime | None:
    """The first date with a time of day in a file's name, or else in its path; None without one.

    Parameters
    ----------
    text : str
        Like `rec_20261231_201505.mp4` or `2026-12-31/20-15-05.mp4`.
    """
    # the name first: in 2026-12-31/2026-12-31_20-15-05.mp4 the folder's date and the beginning of
    # the name's would be a time
    found = _IN_A_NAME.search(_FOLDERS.sub("", text)) or _IN_A_NAME.search(text)
    if found is None:
        return None
    numbers = [int(part) for part in found.groups() if part is not None]
    try:
        return datetime(*numbers[:6])  # type: ignore[arg-type]  # six numbers
    except ValueError:
        return None
