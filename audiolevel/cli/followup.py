"""`audiolevel followup`."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.followup.event_log import LogFormat

T = TypeVar("T")


class _Gap(click.ParamType):  # type: ignore[type-arg]
    """Two moments in ISO 8601 with a slash between them."""

    name = "ISO8601/ISO8601"

    def convert(
        self, value: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[datetime, datetime]:
        try:
            off, on = (datetime.fromisoformat(part) for part in value.split("/"))
        except ValueError:
            self.fail(f"{value!r} is no stretch like 2026-03-02T17:30/2026-03-02T19:00", param, ctx)
        return off, on


@click.command()
@click.argument("plan_file", metavar="PLAN.json")
@click.argument("logs", nargs=-1, required=True, metavar="LOG.csv...")
@click.option(
    "--setting",
    "settings",
    type=float,
    multiple=True,
    help="Level or change (dB) that was set; once for each log.  [default: the plan's]",
)
@click.option("--time-column", "time_columns", multiple=True, help="Name or number; date, time.")
@click.option("--time-format", default="", help="As of strptime.  [default: ISO 8601]")
@click.option("--kind-column", default="", help="Where the kind of event stands.")
@click.option("--kind", "kinds", multiple=True, help="Kind of the sound trigger's; repeatable.")
@click.option("--length-column", default="", help="Length of the recording in seconds.")
@click.option("--zone", default=None, help="Time zone of the camera's clock, like CET.")
@click.option(
    "--from", "begins", type=options.MOMENT, multiple=True, help="Start of what a log covers."
)
@click.option("--to", "ends", type=options.MOMENT, multiple=True, help="End of what it covers.")
@click.option("--gap", "gaps", type=_Gap(), multiple=True, help="When the camera was off.")
@click.option("--write-plan", "plan_out", metavar="FILE", help="Write the corrected plan.")
@options.json_file
def followup(
    plan_file: str,
    logs: tuple[str, ...],
    settings: tuple[float, ...],
    time_columns: tuple[str, ...],
    time_format: str,
    kind_column: str,
    kinds: tuple[str, ...],
    length_column: str,
    zone: str | None,
    begins: tuple[datetime, ...],
    ends: tuple[datetime, ...],
    gaps: tuple[tuple[datetime, datetime], ...],
    plan_out: str | None,
    json_file: str | None,
) -> None:
    """Days later: did the camera do what the plan expected, and what now?

    Several logs, one after another, may have been result at several settings; the last is today's.
    """
    from pathlib import Path

    from audiolevel.counting.schedule import zone_named
    from audiolevel.followup.event_log import LogFormat, read_log
    from audiolevel.followup.plan_file import read_plan
    from audiolevel.followup.verdict import follow
    from audiolevel.report import followup_json, followup_text

    expectation = read_plan(plan_file)
    clock = zone if zone is not None else expectation.zone
    reading = LogFormat(
        time_columns=time_columns,
        time_format=time_format,
        kind_column=kind_column,
        kinds=kinds,
        length_column=length_column,
        zone=zone_named(clock) if clock else None,
        rearm_s=expectation.rearm_s,
        gaps=gaps,
    )
    readings = _each(reading, logs, begins, ends)
    at = _of_each(settings, logs, "--setting") or [expectation.set_db] * len(logs)
    result = follow(
        expectation,
        [
            (read_log(path, one), setting)
            for path, one, setting in zip(logs, readings, at, strict=True)
        ],
    )
    if plan_out is not None:
        options.write_json(plan_out, followup_json.corrected_plan_json(result))
    text = followup_text.as_text(result, Path(plan_file).name)
    options.deliver(followup_json.as_json(result), text, json_file)


def _each(
    reading: "LogFormat",
    logs: Sequence[str],
    begins: Sequence[datetime | None],
    ends: Sequence[datetime | None],
) -> "list[LogFormat]":
    """How each log is read: all alike but for what they cover."""
    from dataclasses import replace

    nothing: list[datetime | None] = [None] * len(logs)
    begin = _of_each(begins, logs, "--from") or nothing
    end = _of_each(ends, logs, "--to") or nothing
    return [replace(reading, begin=a, end=b) for a, b in zip(begin, end, strict=True)]


def _of_each(values: Sequence[T], logs: Sequence[str], option: str) -> list[T]:
    if values and len(values) != len(logs):
        raise click.UsageError(f"{option} is given once for each log, in their order, or never")
    return list(values)
