"""Names of files as they are shown and written: a name need not be text.

Entry point: `printable`.
"""

import os
import re

# what Python reads bytes as that are no UTF-8 (PEP 383), and halves of a character elsewhere
_NO_TEXT = re.compile("[\ud800-\udfff]")


def printable(name: str | os.PathLike[str]) -> str:
    r"""A name, or a sentence with names, as text: a byte that is none becomes `\xe9`.

    Only the name itself opens the file.
    """
    return _NO_TEXT.sub(_escaped, os.fspath(name))


def _escaped(found: re.Match[str]) -> str:
    code = ord(found[0])
    # a byte from 0x80 on stands 0xDC00 higher
    return f"\\x{code - 0xDC00:02x}" if 0xDC80 <= code <= 0xDCFF else f"\\u{code:04x}"
