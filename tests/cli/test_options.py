"""Options that several commands share: what they take, and where results go."""

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import click
import pytest

from audiolevel.api.results import Result
from audiolevel.cli import main, options
from audiolevel.ground.records import Object


class _Told(Result):
    _stem = "told"

    def to_object(self) -> Object:
        return {"level_db": -31.5}

    def to_text(self) -> str:
        return "-31.5 dB FS"


def test_an_option_for_each_recording_is_given_once_or_for_each() -> None:
    assert options.for_each("--weather", ["wet"], ["a", "b"]) == ["wet", "wet"]
    assert options.for_each("--weather", ["wet", "dry"], ["a", "b"]) == ["wet", "dry"]
    assert options.for_each("--weather", [], ["a", "b"]) == [None, None]
    with pytest.raises(click.UsageError, match="--weather is given 2 times for 3 files"):
        options.for_each("--weather", ["wet", "dry"], ["a", "b", "c"])
    with pytest.raises(click.UsageError, match="--start is given once for 2 files"):
        options.once_each("--start", ["x"], ["a", "b"])


@pytest.mark.parametrize("command", ["measure", "trial", "plan", "privacy"])
def test_a_channel_and_a_moment_are_read_alike_by_every_command(command: str) -> None:
    by_name = {one.name: one for one in main.commands[command].params}
    channel, start = by_name["channel"].type, by_name["starts"].type
    assert [channel.convert(text, None, None) for text in ("mean", "2")] == [None, 2]
    assert start.convert("2026-03-02T17:30", None, None) == datetime(2026, 3, 2, 17, 30)
    for kind, text in ((channel, "0"), (channel, "left"), (start, "noon")):
        with pytest.raises(click.BadParameter, match=text):
            kind.convert(text, None, None)


def test_a_result_goes_where_it_is_asked_to(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options.Delivery(None)(_Told())
    assert capsys.readouterr().out == "-31.5 dB FS\n"
    options.Delivery("-")(_Told())
    told = json.loads(capsys.readouterr().out)
    assert (told["level_db"], told["command"]) == (-31.5, "told")
    options.Delivery(str(tmp_path / "a.json"), str(tmp_path / "out"))(_Told())
    assert capsys.readouterr().out == "-31.5 dB FS\n"
    assert json.loads((tmp_path / "a.json").read_text()) == told
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["told.json", "told.txt"]


def test_no_bar_in_a_pipe_and_one_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with click.Context(main):
        options.progress(30.0, 60.0)
        assert capsys.readouterr().err == ""
        monkeypatch.setattr("sys.stderr.isatty", lambda: True)
        # of level histories nobody knows the length
        options.progress(0.0, 0.0)
        assert capsys.readouterr().err == ""
        options.progress(30.0, 60.0)
        options.progress(60.0, 60.0)
        assert "100%" in capsys.readouterr().err
        options.told_soon("")


def test_what_takes_longer_than_two_seconds_says_so_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The clock is a fake: it strikes as soon as it is started, unless it is not patient enough."""
    patience: list[float] = []

    class Clock:
        def __init__(self, seconds: float, say: Callable[[str], None], said: list[str]) -> None:
            patience.append(seconds)
            self.start, self.cancel = lambda: say(*said), lambda: patience.append(0.0)

    monkeypatch.setattr(options, "Timer", Clock)
    with click.Context(main):
        options.told_soon("drawing, about 5 s")
        assert (capsys.readouterr().err, patience) == ("", [])
        monkeypatch.setattr("sys.stderr.isatty", lambda: True)
        options.told_soon("drawing, about 5 s")
        assert capsys.readouterr().err == "audiolevel: drawing, about 5 s\n"
        options.told_soon("")
        assert (capsys.readouterr().err, patience) == ("", [2.0, 0.0])
