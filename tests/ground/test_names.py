"""Names that are no text, as they are shown."""

import os
from pathlib import Path

from audiolevel.ground.errors import RecordingError
from audiolevel.ground.names import printable


def test_bytes_that_are_no_text_are_written_as_python_does() -> None:
    name = b"caf\xe9 \xff \xc3\xa9.wav"
    shown = printable(Path(os.fsdecode(name)))
    assert shown == name.decode("utf-8", "backslashreplace") == "caf\\xe9 \\xff \xe9.wav"
    assert printable(shown) == shown
    # half of a character, as a name on Windows may hold
    assert printable("a\ud800b") == "a\\ud800b"


def test_an_error_can_be_printed_whatever_it_names() -> None:
    name = os.fsdecode(b"\xe9.wav")
    assert str(RecordingError(f"{name}: is empty")) == "\\xe9.wav: is empty"
