"""One version: of the package as installed, of the Python API and of the command."""

from importlib.metadata import version

from click.testing import CliRunner

import audiolevel as al
from audiolevel.cli import main
from audiolevel.version import __version__


def test_the_package_the_api_and_the_command_say_the_same_version() -> None:
    assert __version__ == al.__version__ == version("audiolevel")
    run = CliRunner().invoke(main, ["--version"])
    assert run.output == f"audiolevel, version {__version__}\n"
