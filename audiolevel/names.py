"""Names of files as they are shown and written: a name need not be text, nor one line.

Entry points: `printable`, `plain`.
"""

import os
import re

# what Python reads bytes as that are no UTF-8 (PEP 383), and halves of a character elsewhere
_NO_TEXT = re.compile("[\ud800-\udfff]")
# all of Unicode's control characters, and line ends of its own
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")


def printable(name: str | os.PathLike[str]) -> str:
    r"""A name, or a sentence with names, as text: a byte that is none becomes `\xe9`.

    Only the name itself opens the file.
    """
    return _NO_TEXT.sub(_escaped, os.fspath(name))


def _escaped(found: re.Match[str]) -> str:
    code = ord(found[0])
    # a byte from 0x80 on stands 0xDC00 higher
    return f"\\x{code - 0xDC00:02x}" if 0xDC80 <= code <= 0xDCFF else f"\\u{code:04x}"


def plain(text: str) -> str:
    r"""A text in one line, without the characters that move a terminal's cursor or colour it.

    Parameters
    ----------
    text : str
        With names in it that somebody else gave.

    Examples
    --------
    >>> import audiolevel as al
    >>> al.plain("two\nlines")
    'two�lines'
    """
    return _CONTROL.sub("\N{REPLACEMENT CHARACTER}", printable(text))
