"""Commands run as a person runs them, for the tests of each."""

import json

from click.testing import CliRunner, Result

from audiolevel.cli import main


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def json_of(*words: object) -> dict:
    done = run(*words, "--json", "-")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)
