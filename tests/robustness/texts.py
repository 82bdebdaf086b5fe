"""Damaged and odd text files: histories, site files, logs, manifests, plans, marks.

Each stands with what must come of it: "right", "caution" or "refused".
"""

import copy
import json
from collections.abc import Iterator
from typing import Any

Text = tuple[str, str, bytes, str]

# --- any text ------------------------------------------------------------------------------------


def _any(name: str, good: str) -> Iterator[Text]:
    """What can happen to any text file; none of it can still be meant."""
    data = good.encode()
    yield name, "as it was", data, "right"
    yield name, "empty", b"", "refused"
    yield name, "blank lines only", b"\n\n\n", "refused"
    yield name, "bytes of no text", bytes(range(1, 256)) * 4, "refused"
    yield name, "zeros", bytes(500), "refused"
    yield (
        name,
        "a sound under its name",
        b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0" + bytes(200),
        "refused",
    )
    yield name, "a page of the web", b"<!DOCTYPE html>\n<html><body>404</body></html>\n", "refused"


# --- level histories -----------------------------------------------------------------------------

_LEVELS = [-40.0 - 10 * ((i * 37) % 100) / 100 for i in range(500)]


def _history(rows: int = 500, head: str = "time_s,laf_db", step: float = 0.01) -> list[str]:
    return [head, *(f"{(i + 1) * step:.2f},{_LEVELS[i]:.2f}" for i in range(rows))]


def histories() -> Iterator[Text]:
    """Level histories, to be measured."""
    good = _history()
    for name, what, data, wanted in _any("h.csv", "\n".join(good) + "\n"):
        # nothing but time and level is known: its peaks are not, and it is told
        yield name, what, data, "caution" if wanted == "right" else wanted

    def cell(row: int, text: str) -> bytes:
        return "\n".join([*good[:row], text, *good[row + 1 :]]).encode()

    for what, text in (
        ("a cell that is no number", "1.00,loud"),
        ("a cell that is nan", "1.00,nan"),
        ("a cell that is inf", "1.00,inf"),
        ("an empty cell", "1.00,"),
        ("a row of one cell", "1.00"),
        ("a row of three cells", "1.00,-40,-40"),
        ("a level of 999", "1.00,999"),
        ("a level of -999", "1.00,-999"),
        ("a time that is no number", "x,-40"),
        ("a time that goes back", "0.50,-40"),
        ("a time that leaps", "9.00,-40"),
        ("a level above full scale", "1.00,20"),
        ("a quote that is not closed", '1.00,"-40'),
    ):
        yield "h.csv", what, cell(100, text), "refused"
    yield "h.csv", "a row missing", "\n".join(good[:100] + good[101:]).encode(), "refused"
    yield "h.csv", "a row twice", "\n".join(good[:101] + good[100:]).encode(), "refused"
    yield "h.csv", "rows in another order", "\n".join([good[0], *good[:0:-1]]).encode(), "refused"
    yield "h.csv", "no header", "\n".join(good[1:]).encode(), "refused"
    yield "h.csv", "header only", good[0].encode(), "refused"
    yield "h.csv", "one row", "\n".join(good[:2]).encode(), "caution"
    yield (
        "h.csv",
        "another name of the level",
        "\n".join(_history(head="time_s,level")).encode(),
        ("refused"),
    )
    yield (
        "h.csv",
        "the level's name twice",
        ("\n".join(["time_s,laf_db,laf_db", *(f"{one},-1" for one in good[1:])]).encode()),
        "refused",
    )
    yield "h.csv", "rows of 2 s", "\n".join(_history(step=2.0)).encode(), "refused"
    yield "h.csv", "rows of 0 s", "\n".join(_history(step=0.0)).encode(), "refused"
    yield (
        "h.csv",
        "semicolons and decimal commas",
        ("\n".join(one.replace(",", ";").replace(".", ",") for one in good).encode()),
        "caution",
    )
    yield "h.csv", "tabs", "\n".join(one.replace(",", "\t") for one in good).encode(), "caution"
    yield "h.csv", "a byte order mark", "\n".join(good).encode("utf-8-sig"), "caution"
    yield "h.csv", "ends of lines of Windows", "\r\n".join(good).encode(), "caution"
    yield "h.csv", "UTF-16", "\n".join(good).encode("utf-16"), "refused"
    yield "h.csv", "cut within its last row", "\n".join(good).encode()[:-6], "refused"
    yield (
        "h.csv",
        "dates in place of seconds, of one zone and of none",
        (b"time_s,laf_db\n2026-03-02T10:00:00Z,-40\n2026-03-02T10:00:01,-41\n"),
        "refused",
    )


# --- site files ----------------------------------------------------------------------------------

SITE = """[site]
name = "gate"
[microphone]
spl_at_full_scale_db = 118
[gain]
recorded_at = 1
steps = [[0, -12], [1, 0], [2, 12]]
[[wanted]]
sound = "breaking glass"
distance_m = 8
[schedule]
active = ["mon-fri 18:00-07:00"]
"""


def sites() -> Iterator[Text]:
    """Site files, for a plan."""
    for name, what, data, wanted in _any("site.toml", SITE):
        # an empty site file says that nothing is known, which is allowed; the sound is short
        empty = what in ("empty", "blank lines only")
        yield name, what, data, "caution" if empty or wanted == "right" else wanted
    for what, text in (
        ("cut within a line", SITE[:50]),
        ("a key twice", "[site]\nname = 'a'\nname = 'b'\n"),
        ("a section twice", "[site]\nname = 'a'\n[site]\nname = 'b'\n"),
        ("an unknown section", "[microfone]\nspl_at_full_scale_db = 118\n"),
        ("an unknown key", "[microphone]\nspl = 118\n"),
        ("a section that is a number", "site = 3\n"),
        ("text in place of a number", "[microphone]\nspl_at_full_scale_db = '118'\n"),
        ("true in place of a number", "[microphone]\nspl_at_full_scale_db = true\n"),
        ("nan", "[microphone]\nspl_at_full_scale_db = nan\n"),
        ("inf", "[limits]\nfalse_triggers_per_day = inf\n"),
        ("a number in place of text", "[site]\nname = 3\n"),
        ("a number in place of a list", "[gain]\nsteps = 3\n"),
        ("a step of one number", "[gain]\nsteps = [[1]]\n"),
        ("a step of three numbers", "[gain]\nsteps = [[1, 2, 3]]\n"),
        ("a setting twice", "[gain]\nsteps = [[1, 0], [1, 6]]\n"),
        ("a gain that is no step", "[gain]\nrecorded_at = 3\nsteps = [[1, 0]]\n"),
        ("no modes", "[trigger]\nmodes = []\n"),
        ("an unknown mode", "[trigger]\nmodes = ['treshold']\n"),
        ("a negative time", "[trigger]\nrearm_s = -1\n"),
        ("a window of 0 s", "[trigger]\nwindow_s = 0\n"),
        ("a limit of 0", "[limits]\nfalse_triggers_per_day = 0\n"),
        ("a limit of 1e300", "[limits]\nfalse_triggers_per_day = 1e300\n"),
        ("a share of 2", "[limits]\ndetection = 2\n"),
        ("an unknown sound", "[[wanted]]\nsound = 'breaking glas'\n"),
        ("an unknown sound, calibrated", SITE.replace("breaking glass", "gunshot")),
        ("a sound and a file", "[[wanted]]\nsound = 'glass'\nfile = 'a.wav'\n"),
        ("neither sound nor file", "[[wanted]]\ndistance_m = 3\n"),
        ("a file that is not there", SITE.replace('sound = "breaking glass"', 'file = "no.wav"')),
        ("a file that is not there, uncalibrated", "[[wanted]]\nfile = 'no.wav'\nlevel_dba = 90\n"),
        ("a distance of 0", "[[wanted]]\nsound = 'breaking glass'\ndistance_m = 0\n"),
        ("wanted as a section", "[wanted]\nsound = 'breaking glass'\n"),
        ("a place without its distance", "[[place]]\nname = 'bench'\n"),
        ("an unknown zone", "[schedule]\nzone = 'Londn'\n"),
        ("a zone of a path", "[schedule]\nzone = '../etc/passwd'\n"),
        ("a day of no week", "[schedule]\nactive = ['mon-xyz 18:00-07:00']\n"),
        ("a time of no day", "[schedule]\nactive = ['mon-fri 25:00-07:00']\n"),
        ("active as a number", "[schedule]\nactive = [3]\n"),
        ("23 hours of traffic", f"[schedule]\ntraffic_by_hour = {[1] * 23}\n"),
        ("negative traffic", f"[schedule]\ntraffic_by_hour = {[1] * 23 + [-1]}\n"),
        ("traffic of no source", "[schedule]\ntraffic_by_hour = 'guessed'\n"),
        ("no traffic at all", f"[schedule]\ntraffic_by_hour = {[0] * 24}\n"),
        ("an unknown codec", "[storage]\ncard_gb = 64\naudio_codec = 'aacc'\n"),
        ("a card of 0 GB", "[storage]\ncard_gb = 0\n"),
        ("one reading of the display", "[display]\nreadings = [[58, -42.0]]\n"),
        ("readings that contradict", "[display]\nreadings = [[58, -42], [71, -29], [60, -10]]\n"),
        ("readings all alike", "[display]\nreadings = [[58, -42], [58, -42]]\n"),
        ("a number of 400 digits", f"[limits]\ndays_kept = {'9' * 400}\n"),
    ):
        yield "site.toml", what, text.encode(), "refused"
    latin = SITE.replace("gate", "Tür").encode("latin-1")
    yield "site.toml", "Latin-1", latin, "refused"
    yield "site.toml", "UTF-16", SITE.encode("utf-16"), "refused"
    yield "site.toml", "ends of lines of Windows", SITE.replace("\n", "\r\n").encode(), "caution"


# --- logs ----------------------------------------------------------------------------------------

_HOURS = ((2, 20), (2, 23), (3, 6), (14, 20), (15, 21), (16, 5))
LOG = "time;kind\n" + "".join(f"2026-03-{d:02d}T{h:02d}:00:05;sound\n" for d, h in _HOURS)


def logs() -> Iterator[Text]:
    """Logs, for a follow-up: the right one covers two weeks."""
    yield from _any("log.csv", LOG)

    def times(form: str) -> str:
        import datetime

        rows = (datetime.datetime(2026, 3, d, h, 0, 5).strftime(form) for d, h in _HOURS)
        return "".join(f"{row};sound\n" for row in rows)

    for what, text in (
        ("day first, with dots", times("%d.%m.%Y %H:%M:%S")),
        ("day first, two columns", times("%d.%m.%Y;%H:%M:%S")),
        ("month first, 12 hours", times("%m/%d/%Y %I:%M:%S %p")),
        ("months in words", times("%d %b %Y %H:%M:%S")),
        ("as the shell writes it", times("%a %b %d %H:%M:%S %Y")),
        ("no minutes between numbers", times("%Y%m%dT%H%M%S")),
        ("names of clips", times("clip_%Y%m%d_%H%M%S.mp4")),
        ("lines before the table", "Export\nmade;2026-03-17 08:00\n\n" + LOG),
        ("latest first", "\n".join(LOG.splitlines()[:0:-1])),
        ("no header", "\n".join(LOG.splitlines()[1:])),
        ("bars between cells", LOG.replace(";", "|")),
        ("commas between cells", LOG.replace(";", ",")),
        ("tabs between cells", LOG.replace(";", "\t")),
        ("quotes around cells", times('"%Y-%m-%d %H:%M:%S"')),
        ("ends of lines of Windows", LOG.replace("\n", "\r\n")),
    ):
        yield "log.csv", what, text.encode(), "right"
    for encoding in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"):
        yield "log.csv", f"in {encoding}", LOG.replace("kind", "Gerät").encode(encoding), "right"
    for what, text in (
        ("seconds since 1970", times("%s")),
        ("rows in disorder", "\n".join(LOG.splitlines()[i] for i in (0, 3, 1, 2, 4, 6, 5))),
        ("rows doubled", LOG + LOG.split("\n", 1)[1]),
        ("one row of twelve unreadable", LOG + LOG.split("\n", 1)[1] + "--;sound\n"),
        ("two kinds", LOG + "2026-03-17T08:00:00;motion\n"),
    ):
        yield "log.csv", what, text.encode(), "caution"
    for what, text in (
        ("days that may be months", "03/04/2026 10:00\n05/06/2026 11:00\n"),
        ("header only", "time;kind\n"),
        ("one row", "2026-03-02T20:00:05\n"),
        ("dates without times", "2026-03-02\n2026-03-03\n"),
        ("times without dates", "20:00:05\n21:00:05\n"),
        ("half of the rows unreadable", "2026-03-02T20:00\n2026-03-03T20:00\nx\ny\n"),
        ("half of the rows with a zone", "2026-03-02T20:00Z\n2026-03-03T20:00\n"),
        ("days of no month", "31.02.2026 20:00\n32.02.2026 20:00\n"),
        ("years of no camera", "0000-03-02T20:00\n0000-03-03T20:00\n"),
        ("numbers only", "1\n2\n3\n"),
        ("a zero within", LOG[:40] + "\0" + LOG[40:]),
    ):
        yield "log.csv", what, text.encode(), "refused"


# --- manifests -----------------------------------------------------------------------------------


def manifests() -> Iterator[Text]:
    """Manifests of a folder with a.wav."""
    good = "path,start,gain_setting,site,channel\na.wav,2026-03-02T10:00,1,gate,1\n"
    yield from _any("m.csv", good)
    for what, text in (
        ("only the path", "path\na.wav\n"),
        ("empty cells", "path,start,gain_setting,site,channel\na.wav,,,,\n"),
        ("backslashes", "path\n.\\a.wav\n".replace(".\\", "")),
        ("ends of lines of Windows", good.replace("\n", "\r\n")),
        ("channel mean", "path,channel\na.wav,mean\n"),
        ("a setting by name", "path,gain_setting\na.wav,high\n"),
        ("columns in another order", "channel,path\n1,a.wav\n"),
        ("a part that is all of it", "path,from_s,to_s\na.wav,0,0:06\n"),
    ):
        yield "m.csv", what, text.encode(), "right"
    yield "m.csv", "a byte order mark", good.encode("utf-8-sig"), "right"
    for what, text in (
        ("an unknown column", "path,strat\na.wav,2026-03-02T10:00\n"),
        ("no path", "file,start\na.wav,2026-03-02T10:00\n"),
        ("a column twice", "path,path\na.wav,a.wav\n"),
        ("a file that is not there", "path\nb.wav\n"),
        ("a file twice", "path\na.wav\na.wav\n"),
        ("a start of no form", "path,start\na.wav,soon\n"),
        ("channel 0", "path,channel\na.wav,0\n"),
        ("channel of no number", "path,channel\na.wav,left\n"),
        ("channel 2 of one", "path,channel\na.wav,2\n"),
        ("a part beyond the end", "path,from_s\na.wav,1:00\n"),
        ("a part of no form", "path,to_s\na.wav,1h\n"),
        ("a part that ends before it begins", "path,from_s,to_s\na.wav,5,4\n"),
        ("a setting of nan", "path,gain_setting\na.wav,nan\n"),
        ("cells too many", "path\na.wav,b,c\n"),
        ("a quote that is not closed", 'path\n"a.wav\n'),
    ):
        yield "m.csv", what, text.encode("latin-1"), "refused"
    # read as logs and marks are
    yield "m.csv", "semicolons", good.replace(",", ";").encode(), "right"
    yield "m.csv", "Latin-1", "path,site\na.wav,Tür\n".encode("latin-1"), "right"
    yield "m.csv", "UTF-16", good.encode("utf-16"), "right"


# --- marks ---------------------------------------------------------------------------------------


def marks() -> Iterator[Text]:
    """Marked stretches of a recording of six seconds, for a trial."""
    good = "start_s,end_s,sound\n1.0,2.0,glass\n"
    for name, what, data, wanted in _any("marks.csv", good):
        yield name, what, data, "caution" if wanted == "right" else wanted
    for what, text in (
        ("more columns", "start_s,end_s,sound,who\n1,2,glass,me\n"),
        ("columns in another order", "sound,end_s,start_s\nglass,2,1\n"),
        ("header only", "start_s,end_s,sound\n"),
        ("ends of lines of Windows", good.replace("\n", "\r\n")),
        ("overlapping marks", good + "1.5,2.5,horn\n"),
        ("minutes", "start_s,end_s,sound\n0:01,0:02,glass\n"),
        ("Latin-1", "start_s,end_s,sound\n1,2,Tür\n"),
        ("semicolons", good.replace(",", ";")),
    ):
        yield "marks.csv", what, text.encode("latin-1"), "caution"
    yield "marks.csv", "UTF-16", good.encode("utf-16"), "caution"
    yield "marks.csv", "a byte order mark", good.encode("utf-8-sig"), "caution"
    for what, text in (
        ("a mark beyond the end", good + "100,101,horn\n"),
        ("no column of ends", "start_s,sound\n1,glass\n"),
        ("an end before its beginning", "start_s,end_s,sound\n2,1,glass\n"),
        ("an end at its beginning", "start_s,end_s,sound\n1,1,glass\n"),
        ("a beginning before the recording's", "start_s,end_s,sound\n-1,1,glass\n"),
        ("nan", "start_s,end_s,sound\nnan,1,glass\n"),
        ("inf", "start_s,end_s,sound\n1,inf,glass\n"),
        ("words", "start_s,end_s,sound\none,two,glass\n"),
        ("an empty cell", "start_s,end_s,sound\n1,,glass\n"),
        ("a cell missing", "start_s,end_s,sound\n1,2\n"),
        ("a quote that is not closed", 'start_s,end_s,sound\n1,2,"glass\n'),
    ):
        yield "marks.csv", what, text.encode("latin-1"), "refused"


# --- plans ---------------------------------------------------------------------------------------


def plans(good: str) -> Iterator[Text]:
    """Plans, to be followed up; made of a good one."""
    yield from _any("plan.json", good)
    whole = json.loads(good)
    yield "plan.json", "cut in half", good[: len(good) // 2].encode(), "refused"
    yield "plan.json", "a list", b"[]", "refused"
    yield "plan.json", "null", b"null", "refused"
    yield "plan.json", "an empty object", b"{}", "refused"
    yield "plan.json", "another program's", b'{"version": 1, "data": []}', "refused"
    yield "plan.json", "a byte order mark", good.encode("utf-8-sig"), "refused"
    yield "plan.json", "UTF-16", good.encode("utf-16"), "refused"
    yield "plan.json", "nested 100,000 deep", b"[" * 100_000, "refused"
    yield "plan.json", "a key that nobody knows", _with(whole, ("colour",), "red"), "right"
    for key in ("schema", "reference", "recommended", "curves", "levels", "schedule", "options"):
        without = {name: one for name, one in whole.items() if name != key}
        yield "plan.json", f"without {key}", json.dumps(without).encode(), "refused"
        for value in (3.5, "text", [], {}, True):
            if key == "options" and value == []:
                continue
            if (key, value) in (("curves", []), ("reference", "text")):
                continue
            what = f"{key} is {json.dumps(value)}"
            yield "plan.json", what, _with(whole, (key,), value), "refused"
    option = ("recommended",)
    changes: tuple[tuple[tuple[Any, ...], Any], ...] = (
        ((*option, "expected"), None),
        ((*option, "expected", "per_day"), "many"),
        ((*option, "expected", "rate_quantiles"), None),
        ((*option, "expected", "rate_quantiles", "per_day"), [1.0]),
        ((*option, "expected", "rate_quantiles", "per_day"), [None] * 9),
        ((*option, "level_db"), None),
        ((*option, "mode"), "shout"),
        ((*option, "mode"), 3),
        ((*option, "rearm_s"), -5),
        ((*option, "rearm_s"), "10"),
        ((*option, "expected", "by_hour"), [1.0] * 23),
        ((*option, "expected", "confidence"), 7),
        (("schedule", "active"), ["mon-xyz 18:00-07:00"]),
        (("schedule", "zone"), "Londn"),
        (("false_triggers_per_day_limit",), 0),
        (("false_triggers_per_day_limit",), -20),
        (("schema",), 999),
        (("curves", 0, "settings_db"), []),
        (("curves", 0, "per_day"), [1.0]),
    )
    for place, changed in changes:
        what = f"{'.'.join(map(str, place))} is {json.dumps(changed)[:30]}"
        yield "plan.json", what, _with(whole, place, changed), "refused"
    text = json.dumps(_changed(whole, (*option, "level_db"), 1.5)).replace("1.5", "NaN", 1)
    yield "plan.json", "NaN in a level", text.encode(), "refused"


def _changed(whole: Any, place: tuple[Any, ...], value: Any) -> Any:
    out = copy.deepcopy(whole)
    at = out
    for key in place[:-1]:
        at = at[key]
    at[place[-1]] = value
    return out


def _with(whole: Any, place: tuple[Any, ...], value: Any) -> bytes:
    return json.dumps(_changed(whole, place, value)).encode()
