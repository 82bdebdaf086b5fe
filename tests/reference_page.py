"""The commands and the keys of the site file, from themselves: `python -m tests.reference_page`.

Commands and options are those of the command line, ranges and defaults those of the reader of site
files. What a key means, and an example of it, is said here.
"""

import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args, get_type_hints

import click

from audiolevel.cli import main
from audiolevel.site.sections import Site
from audiolevel.site.site_file import _RANGES

PAGE = Path(__file__).parents[1] / "docs" / "reference.md"
_PLACE = re.compile(
    r"(<!-- (commands|keys): [^>]*-->\n).*?(<!-- end of (?:commands|keys) -->)", re.DOTALL
)
_UNITS = {
    "db": "dB",
    "hz": "Hz",
    "per_octave": "dB an octave",
    "dba": "dB(A)",
    "dbfs": "dB FS",
    "s": "s",
    "m": "m",
    "c": "°C",
    "kpa": "kPa",
    "percent": "%",
    "gb": "GB",
    "mbit_s": "Mbit/s",
    "kept": "days",
}
# what a key means, and a value of it as the file has it
KEYS = {
    "site.name": ("what the place is called", '"Quarry Lane"'),
    "site.kind": ("for your own record; without effect", '"busy road"'),
    "site.wet_share": ("share of days on which the road is wet", "0.25"),
    "microphone.spl_at_full_scale_db": ("dB SPL of a sine that just fills the scale", "110"),
    "microphone.calibration_within_db": ("how good that is, 95 % to each side", "0.5"),
    "microphone.self_noise_dba": ("the capsule's own noise", "31"),
    "microphone.converter_noise_dbfs": ("the noise behind the gain, A-weighted", "-90"),
    "microphone.high_cut_hz": ("where the camera's own low-pass begins", "800"),
    "microphone.high_cut_db_per_octave": ("how fast it falls", "12"),
    "microphone.gain_control": ("what the clap test found", '"none found"'),
    "microphone.calibrated_on": ("the day of the calibration", "2026-02-20"),
    "gain.recorded_at": ("the camera's setting while you recorded", '"mid"'),
    "gain.steps": ("what each setting does, in dB", '[["low", -12], ["mid", 0]]'),
    "gain.keep": ("leave the gain as recorded", "true"),
    "display.readings": ("what the camera showed, and the dB FS then", "[[3.4, -54], [6.6, -41]]"),
    "trigger.modes": ("what the camera can do", '["threshold", "rise"]'),
    "trigger.window_s": ("how far back a change looks", "1"),
    "trigger.hold_s": ("how long before it fires", "0.5"),
    "trigger.rearm_s": ("how long after a firing there is no other", "10"),
    "trigger.release_db": ("how far the level must fall in between", "2"),
    "limits.false_triggers_per_day": ("false firings a day you put up with", "5"),
    "limits.detection": ("how often each wanted sound must be caught", "0.8"),
    "limits.clipped_share": ("share of samples that may clip", "0.001"),
    "limits.days_kept": ("how long the card must last", "14"),
    "wanted.sound": ("a built-in sound (`audiolevel sounds`)", '"breaking glass"'),
    "wanted.file": ("or a recording of your own", '"own.wav"'),
    "wanted.distance_m": ("how far from the microphone", "5"),
    "wanted.level_dba": ("its level, if you measured it", "95"),
    "wanted.level_spread_db": ("how far such sounds differ", "6"),
    "wanted.at_m": ("the distance at which you measured it", "1"),
    "wanted.obstruction_db": ("what a wall or fence takes away", "5"),
    "wanted.must": ("false: count it, but do not choose by it", "false"),
    "place.name": ("where people may be", '"bus stop"'),
    "place.distance_m": ("how far from the microphone", "9"),
    "place.raised_share": ("how much of the talk there is in a raised voice", "0.2"),
    "place.shout_share": ("how much of it is shouted", "0.05"),
    "visit.recording": ("a file or folder in `visits`", '"REC00012.wav"'),
    "visit.start": ("when it began, by the local clock", "2026-03-04T17:30:00"),
    "visit.weather": ("dry or wet", '"wet"'),
    "visit.marks": ("its marks, a file in `visits`", '"heard.csv"'),
    "visit.from": ("use it from here", "30"),
    "visit.to": ("to here", "1800"),
    "visit.channel": ("one channel, from 1", "2"),
    "visit.level_column": ("of a meter's log: the level", '"LAFmax"'),
    "visit.time_column": ("of a meter's log: the time", '"Date"'),
    "air.temperature_c": ("of the air", "15"),
    "air.humidity_percent": ("of the air", "60"),
    "air.pressure_kpa": ("of the air", "98"),
    "storage.card_gb": ("what the card holds", "64"),
    "storage.recording_mbit_s": ("picture and sound together", "4"),
    "storage.before_s": ("kept before a firing", "5"),
    "storage.after_s": ("kept after it", "20"),
    "storage.other_recording_share": ("share of time something else records", "0.1"),
    "storage.audio_codec": ("if the rate above is of the picture alone", '"G.711"'),
    "storage.overhead_share": ("what the card's file system takes", "0.003"),
    "schedule.active": ("when the trigger is on", '["mon-fri 18:00-07:00"]'),
    "schedule.traffic_by_hour": ("24 flows, or a national mean", '"published"'),
    "schedule.zone": ("time zone of the camera's clock", '"Europe/Vienna"'),
}


def sections() -> Iterator[tuple[str, type[Any]]]:
    """The sections of a site file: how each is headed, and the record of its keys."""
    hints = get_type_hints(Site)
    for item in fields(Site):
        hint: Any = hints[item.name]
        inner = get_args(hint)
        if hasattr(hint, "__dataclass_fields__"):
            yield f"[{item.name}]", hint
        elif inner and hasattr(inner[0], "__dataclass_fields__"):
            yield f"[[{item.name}]]", inner[0]


def keys() -> str:
    """A table of the keys of every section."""
    lines = []
    for heading, kind in sections():
        lines += [
            f"### `{heading}`",
            "",
            "| key | what it is | range | without it | example |",
            "|---|---|---|---|---|",
        ]
        for item in fields(kind):
            name = item.metadata.get("key", item.name)
            means, example = KEYS[f"{heading.strip('[]')}.{name}"]
            bounds = _RANGES.get(item.name)
            span = "" if bounds is None else f"{bounds[0]:,g} to {bounds[1]:,g}"
            spanned = f"{span} {_unit(name)}".strip()
            lines.append(f"| `{name}` | {means} | {spanned} | {_default(item)} | {example} |")
        lines.append("")
    return "\n".join(lines)


def _unit(name: str) -> str:
    ends = [end for end in _UNITS if name.endswith(f"_{end}")]
    # mbit_s before s
    return _UNITS[max(ends, key=len)] if ends else "s" if name in ("from", "to") else ""


def _default(item: Any) -> str:
    if item.default is item.default_factory:
        return "needed"
    value = item.default
    if value is None or value in ("", ()):
        return "–"
    if isinstance(value, tuple):
        return ", ".join(value)
    return str(value).lower() if isinstance(value, bool) else f"{value}"


def commands() -> str:
    """A table of the commands with the options that matter first."""
    lines = ["| command | what it answers | options first |", "|---|---|---|"]
    context = click.Context(main)
    for name in main.list_commands(context):
        command = main.get_command(context, name)
        if command is None or command.hidden:
            continue
        told = (command.help or "").split("\n\n")[0]
        shown = (
            command.get_help(click.Context(command, info_name=name))
            .split("\nMore:")[0]
            .split("\nOptions:")[-1]
        )
        first = re.findall(r"^  (?:-\w, )?(--[\w-]+)", shown, re.MULTILINE)
        options = ", ".join(f"`{one}`" for one in dict.fromkeys(first) if one != "--help")
        lines.append(f"| `{name}` | {' '.join(told.split())} | {options} |")
    return "\n".join(lines) + "\n"


def page() -> str:
    """The page with its made parts renewed."""
    made = {"commands": commands, "keys": keys}
    text = PAGE.read_text(encoding="utf-8")
    return _PLACE.sub(lambda found: f"{found[1]}{made[found[2]]()}{found[3]}", text)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
