"""`audiolevel followup`."""

from datetime import datetime
from typing import TYPE_CHECKING

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command

if TYPE_CHECKING:
    from audiolevel import FollowUp
    from audiolevel.api.site_folder import SiteFolder


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


@click.command(cls=Command)
@click.argument("plan_file", type=options.PATH, metavar="PLAN.json")
@click.argument("logs", nargs=-1, type=options.PATH, metavar="[LOG...]")
@click.option(
    "--setting",
    "settings",
    metavar="NUMBER",
    multiple=True,
    help="Level or change that was set, as 84 dB; once for each log.  [default: the plan's]",
)
@click.option(
    "--shown",
    type=float,
    multiple=True,
    help="The same on the camera's own scale; once for each log.",
)
@click.option("--time-column", "time_columns", multiple=True, help="Name or number; date, time.")
@click.option("--time-format", default="", help="As of strptime.  [default: found out]")
@click.option(
    "--date-order",
    type=click.Choice(["dmy", "mdy", "ymd"]),
    help="Day, month or year first.  [default: what the whole column says]",
)
@click.option("--kind-column", default="", help="Where the kind of event stands.")
@click.option("--kind", "kinds", multiple=True, help="Kind of the sound trigger's; repeatable.")
@click.option("--length-column", default="", help="Length of the recording in seconds.")
@click.option("--zone", default=None, help="Time zone of the camera's clock, like CET.")
@click.option(
    "--from", "begins", type=options.MOMENT, multiple=True, help="Start of what a log covers."
)
@click.option("--to", "ends", type=options.MOMENT, multiple=True, help="End of what it covers.")
@click.option("--gap", "gaps", type=_Gap(), multiple=True, help="When the camera was off.")
@options.weather
@click.option(
    "--write-plan", "plan_out", type=options.PATH, metavar="FILE", help="Write the corrected plan."
)
@options.writes
@options.results(options.out, options.page, options.full)
def followup(
    plan_file: str,
    logs: tuple[str, ...],
    settings: tuple[str, ...],
    shown: tuple[float, ...],
    time_columns: tuple[str, ...],
    time_format: str,
    date_order: str | None,
    kind_column: str,
    kinds: tuple[str, ...],
    length_column: str,
    zone: str | None,
    begins: tuple[datetime, ...],
    ends: tuple[datetime, ...],
    gaps: tuple[tuple[datetime, datetime], ...],
    weather: tuple[str, ...],
    plan_out: str | None,
    deliver: options.Delivery,
) -> None:
    """Days later: did the camera do what the plan expected, and what now?

    A log is a table in text, or a folder of clips whose names hold their times.

    Several logs, one after another, may have been made at several settings; the last is today's.
    """
    # imported here, as in every command, so that `--help` answers at once
    import audiolevel as al

    site_folder = options.site_folder()
    if site_folder is not None:
        plan_file = str(site_folder.plan_file)
        logs = logs or tuple(map(str, site_folder.new_logs()))
    if not logs:
        raise click.UsageError(
            "no log is given, or none is in the folder that was not followed up; "
            "write audiolevel followup PLAN.json LOG... (or the site's folder)"
        )
    options.once_each("--setting", settings, logs)
    options.once_each("--shown", shown, logs)
    options.once_each("--from", begins, logs)
    options.once_each("--to", ends, logs)
    result = al.follow_up(
        plan_file,
        logs,
        settings=settings,
        shown=shown,
        log_format=al.LogFormat(
            time_columns=time_columns,
            time_format=time_format,
            date_order=date_order or "",
            kind_column=kind_column,
            kinds=kinds,
            length_column=length_column,
            zone=zone,
            gaps=gaps,
        ),
        begins=begins,
        ends=ends,
        weather=options.for_each("--weather", weather, logs),
    )
    if plan_out is not None:
        result.save_plan(plan_out)
    deliver(result)
    if site_folder is not None:
        _keep(site_folder, result)


def _keep(site: "SiteFolder", result: "FollowUp") -> None:
    """Make the corrected plan the folder's, and say what becomes of the one before."""
    before, gone = site.keep_corrected(result)
    names = ", ".join(path.name for path in gone)
    removed = f", and what showed it is removed: {names}" if gone else ""
    options.remind(f"the corrected plan is {site.plan_file}; the one before is {before}{removed}")
