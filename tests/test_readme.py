"""The README tells the truth, and its commands are short."""

from pathlib import Path

from tests.guides import difference
from tests.readme import README, commands, printed, shown


def test_the_excerpt_is_what_the_command_prints(tmp_path: Path) -> None:
    assert difference(shown(), printed(tmp_path)) is None, "run python -m tests.readme"
    assert 6 <= len([line for line in shown() if line]) <= 12


def test_there_are_two_commands_short_enough_to_read() -> None:
    install, test = commands()
    assert "venv" in install
    assert "pytest" in test
    assert all(len(line) <= 100 for line in [*install.splitlines(), *test.splitlines()])


def test_it_opens_with_a_short_sentence() -> None:
    sentence = README.read_text(encoding="utf-8").split("\n\n")[1].split(".")[0]
    assert len(sentence.split()) < 15
