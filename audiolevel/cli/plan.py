"""`audiolevel plan`."""

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command

if TYPE_CHECKING:
    from audiolevel import Site, Visit


@click.command(cls=Command)
@options.gain_setting
@options.mode
@options.setting
@click.option("--shown", type=float, help="A threshold on the camera's own scale.")
@click.option("--keep-gain", is_flag=True, help="Leave the gain as recorded.")
@options.chance
@click.option(
    "--print-record",
    "with_record",
    is_flag=True,
    help="Write the commissioning record to print, too.",
)
@options.writes
@options.visits(options.log_columns, options.marks, options.weather)
@options.results(options.out, options.page, options.full)
def plan(
    visits: "list[Visit]",
    site_file: str | None,
    settings: tuple[str, ...],
    mode: str,
    level_db: float | None,
    shown: float | None,
    change_db: float | None,
    keep_gain: bool,
    confidence: float,
    seed: int,
    with_record: bool,
    deliver: options.Delivery,
) -> None:
    """Which gain and which trigger should be set, and what will they do per hour and day?

    Several recordings of one site, made at the same gain, are one plan; three to five visits of ten
    minutes on different days and hours tell more than one long one. With --level, --shown or
    --change the plan also says what a setting of your own would do, at --gain and in --mode.
    """
    import audiolevel as al

    if with_record and deliver.out is None:
        raise click.UsageError("--print-record goes with --out, the folder to write it into")
    asked = None
    if any(value is not None for value in (level_db, shown, change_db)):
        # one asked setting has one gain; None is the recorded one
        gain = settings[0] if settings else None
        asked = al.Asked(gain, mode, level_db=level_db, shown=shown, change_db=change_db)
    # an option without effect would pass for one that had it
    elif settings or mode != "threshold":
        raise click.UsageError("--gain and --mode go with --level, --shown or --change")
    site: str | Site | None = site_file
    if keep_gain:
        read = al.read_site(site_file)
        site = replace(read, gain=replace(read.gain, keep=True))
    result = al.plan(
        visits,
        site=site,
        asked=asked,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    result = deliver.shared(result)
    if with_record and deliver.out is not None:
        result.save_record(deliver.out)
    deliver(result)
