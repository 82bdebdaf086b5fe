"""Standard streams: in any encoding, closed, or with no room behind them.

Entry points: `prepare`, `failure`.
"""

import codecs
import io
import logging
import os
import sys
import unicodedata
from contextlib import suppress

# characters of the texts that old encodings lack; a number keeps its sign
_PLAIN = str.maketrans(
    {"−": "-", "–": "-", "—": "-", "×": "x", "≥": ">=", "≤": "<=", "±": "+-", "µ": "u", "·": "*"}
    | {"‘": "'", "’": "'", "“": '"', "”": '"', "→": "->", "⁻": "-"}
)


def _nearest(error: UnicodeError) -> tuple[str, int]:
    """What stands for characters that an encoding lacks: plain letters and signs, or "?"."""
    assert isinstance(error, UnicodeEncodeError)  # nothing is read with it
    signs = error.object[error.start : error.end].translate(_PLAIN)
    plain = (unicodedata.normalize("NFKD", sign).encode("ascii", "ignore") for sign in signs)
    return "".join(one.decode("ascii") or "?" for one in plain), error.end


codecs.register_error("nearest", _nearest)


def prepare() -> None:
    """Make the streams fit for any text, and take the places of those that are closed.

    The next file that is opened would otherwise take such a place, and error messages go into it.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            # the lowest number that is free
            os.open(os.devnull, os.O_RDWR)
    if sys.stdin is None:
        sys.stdin = open(os.devnull)  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")  # noqa: SIM115  # open as long as the program runs
    if sys.stdout is None:
        # one to read, so that what was asked for is not lost without a word
        sys.stdout = open(os.devnull)  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="nearest")
    # where it can keep its caches or not is nothing to be read here
    logging.getLogger("matplotlib").setLevel(logging.ERROR)


def failure(error: OSError | MemoryError | ImportError) -> str:
    """What the system would not give, in one line; what is left to be written is given up."""
    with suppress(OSError):
        sys.stdout.flush()
    # or the end of the program would try once more
    sys.stdout = None
    if isinstance(error, MemoryError):
        return f"out of memory ({error or 'no more is given'}); end other programs"
    if isinstance(error, ImportError):
        return f"a part of the program cannot be loaded ({error}); install it again"
    name = error.filename if error.filename is not None else "the output or a temporary folder"
    return f"{name}: cannot be used ({error.strerror or error}); make room or choose another place"
