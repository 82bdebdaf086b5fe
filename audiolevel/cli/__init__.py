"""The command line: read the options, call the rooms, print what they say. No arithmetic.

One file a command; each imports what it needs when it runs, so that `--help` answers at once.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import click

from audiolevel import AudioLevelError, __version__
from audiolevel.cli.answers import answer
from audiolevel.cli.batch import batch
from audiolevel.cli.calibrate import calibrate
from audiolevel.cli.followup import followup
from audiolevel.cli.measure import measure
from audiolevel.cli.plan import plan
from audiolevel.cli.privacy import privacy
from audiolevel.cli.sounds import sounds
from audiolevel.cli.trial import trial


class _Failure(click.ClickException):
    """An error told in one line."""

    def __init__(self, message: str, exit_code: int) -> None:
        super().__init__(message)
        self.exit_code = exit_code  # type: ignore[misc]  # click reads it from the instance

    def show(self, file: object = None) -> None:
        click.echo(f"audiolevel: {self.format_message()}", err=True)


class _Commands(click.Group):
    """Turns the errors of the rooms and of what was typed into one line and an exit status."""

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


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="audiolevel")
def main() -> None:
    """From a short recording made on site to a camera's microphone gain and sound trigger.

    Recording people may need their consent or a notice, and rules differ by place: ask before
    audio is switched on. Mind ladders, traffic and mains power while fitting.
    """


for command in (measure, trial, plan, calibrate, sounds, batch, privacy, followup):
    main.add_command(command)
