"""`audiolevel demo`."""

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command


@click.command(cls=Command)
@click.argument("folder", type=options.PATH)
def demo(folder: str) -> None:
    """Lay the sample out as a site's folder, to try the other commands on.

    The place is invented and every sound is computed; nobody was recorded.
    """
    from audiolevel.api.demo import lay_out

    files = lay_out(folder)
    options.remind(f"wrote {', '.join(map(str, files))}; next: audiolevel plan {folder}")
