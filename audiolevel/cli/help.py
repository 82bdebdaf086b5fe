"""The help of a command: the options that matter first, the rest under More.

Entry point: `Command`.
"""

import click

# what somebody on site needs, of all commands; the others are for special recordings and scripts
_FIRST = frozenset(
    {"--site", "--start", "--marks", "--out", "--full", "--json", "--plan", "--plans", "--help"}
    | {"--level", "--keep-gain", "--record", "--print-record"}
    | {"--kind", "--setting", "--zone", "--walk-test", "--jobs", "--compare", "--render"}
    | {"--tone-db", "--meter-laeq-db", "--sensitivity-dbfs", "--reading", "--write"}
    | {"--name", "--limit", "--wanted", "--active", "--card", "--calibration"}
)


class Command(click.Command):
    """A command whose help has two lists of options."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options that matter, then the others."""
        lists: dict[str, list[tuple[str, str]]] = {"Options": [], "More": []}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is not None and isinstance(parameter, click.Option):
                first = not _FIRST.isdisjoint(parameter.opts)
                lists["Options" if first else "More"].append(record)
        for title, records in lists.items():
            if records:
                with formatter.section(title):
                    formatter.write_dl(records)
