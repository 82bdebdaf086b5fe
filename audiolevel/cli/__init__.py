"""The command line: read the options, call the rooms, print what they say. No arithmetic.

One file a command; each imports what it needs when it runs, so that `--help` answers at once.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

import click

from audiolevel import AudioLevelError, __version__
from audiolevel.cli import options, streams
from audiolevel.cli.answers import answer
from audiolevel.cli.batch import batch
from audiolevel.cli.calibrate import calibrate
from audiolevel.cli.demo import demo
from audiolevel.cli.followup import followup
from audiolevel.cli.measure import measure
from audiolevel.cli.new import new
from audiolevel.cli.plan import plan
from audiolevel.cli.privacy import privacy
from audiolevel.cli.sounds import sounds
from audiolevel.cli.trial import trial
from audiolevel.ground.names import plain

# of address space, measured: the libraries alone map 400 MB on two cores
_LEAST_BYTES = 600 << 20


_GROUPS = {
    "A site": ("new", "plan", "trial", "followup", "privacy"),
    "Its camera and its sounds": ("calibrate", "measure", "sounds"),
    "Many recordings, and a first try": ("batch", "demo"),
}


class _Failure(click.ClickException):
    """An error told in one line."""

    def __init__(self, message: str, exit_code: int) -> None:
        super().__init__(message)
        self.exit_code = exit_code  # type: ignore[misc]  # click reads it from the instance

    def show(self, file: object = None) -> None:
        click.echo(f"audiolevel: {self.format_message()}", err=True)


class _Commands(click.Group):
    """Turns the errors of the rooms, and what the system denies, into one line and a status."""

    def main(self, *words: Any, **given: Any) -> Any:
        streams.prepare()
        try:
            _refuse_little_memory()
            return super().main(*words, **given)
        except (OSError, MemoryError, ImportError) as error:
            said = streams.failure(error)
        # outside, so that the memory is there again
        with suppress(OSError):
            click.echo(f"audiolevel: {plain(said)}", err=True)
        sys.exit(1)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """A command by its name; a folder alone asks where its site stands."""
        if len(args) == 1 and args[0] not in self.commands and os.path.isdir(args[0]):
            return "stands", self.commands["stands"], args
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands by what they are for, each with its whole summary."""
        for title, names in _GROUPS.items():
            with formatter.section(title):
                each = [(name, self.commands[name].get_short_help_str(limit=200)) for name in names]
                formatter.write_dl(each)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        with _in_one_line():
            return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        with _in_one_line():
            return super().invoke(ctx)


@contextmanager
def _in_one_line() -> Iterator[None]:
    try:
        yield
    # only the program's own errors; a fault in the code keeps its traceback
    except AudioLevelError as error:
        raise _Failure(str(error), error.exit_code) from error
    # without any words the help is the answer
    except click.exceptions.NoArgsIsHelpError:
        raise
    except click.UsageError as error:
        raise _Failure(answer(error), error.exit_code) from error


def _refuse_little_memory() -> None:
    """Below some limit the libraries end the process, or wait for ever."""
    with suppress(ImportError):
        import resource

        allowed, _ = resource.getrlimit(resource.RLIMIT_AS)
        if 0 <= allowed < _LEAST_BYTES:
            raise MemoryError(f"{allowed >> 20} MB are allowed, {_LEAST_BYTES >> 20} MB are needed")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="audiolevel")
def main() -> None:
    """From a short recording made on site to a camera's microphone gain and sound trigger.

    Recording people may need their consent or a notice, and rules differ by place: ask before
    audio is switched on. Mind ladders, traffic and mains power while fitting.
    """


@click.command(hidden=True)
@click.argument("folder", type=options.PATH)
def stands(folder: str) -> None:
    """Where a site's folder stands, or each site of a folder of sites."""
    from audiolevel.api.site_folder import open_sites

    click.echo(open_sites(folder).to_text())


for command in (
    *(new, demo, measure, trial, plan, calibrate, sounds, batch, privacy, followup, stands),
):
    main.add_command(command)
