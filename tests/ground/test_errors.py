"""Errors are one family, and the command line tells each in one line with its status."""

import click
import pytest
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.ground.errors import AudioLevelError, RecordingError, SettingError


@pytest.mark.parametrize("kind", [AudioLevelError, RecordingError, SettingError])
def test_an_error_is_one_line_and_a_status(kind: type[AudioLevelError]) -> None:
    @main.command("fails")
    def fails() -> None:
        raise kind("a.wav: is empty; record again")

    try:
        run = CliRunner().invoke(main, ["fails"])
    finally:
        del main.commands["fails"]
    assert isinstance(fails, click.Command)
    assert run.exit_code == kind.exit_code == 1
    assert run.stderr == "audiolevel: a.wav: is empty; record again\n"
    assert run.stdout == ""


def test_who_catches_value_errors_catches_all_of_them() -> None:
    assert issubclass(RecordingError, AudioLevelError)
    assert issubclass(SettingError, AudioLevelError)
    assert issubclass(AudioLevelError, ValueError)


def test_names_in_an_error_move_no_cursor_and_end_no_line() -> None:
    said = str(SettingError("a\x1b[31m\x00b\nc\u2028.csv: no column t\x9bime\udc80 – é"))
    assert said == "a�[31m�b�c�.csv: no column t�ime\\x80 – é"
