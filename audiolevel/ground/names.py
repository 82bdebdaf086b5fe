"""Names as they are shown: a file's need not be text, nor one line, and some are misspelt.

Entry points: `printable`, `plain`, `hint`.
"""

import os
import re
from collections.abc import Iterable

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


def hint(typed: str, known: Iterable[str], *, otherwise: str = "") -> str:
    """What to say of a name that is not known: the one that was meant, if that is plain.

    Parameters
    ----------
    typed : str
    known : iterable of str
    otherwise : str
        What to say where none is near; by default all that are known.

    Returns
    -------
    str
        A question after a name that is one or two slips of the pen away, or of which whole words
        were typed.
    """
    every, word = list(known), typed.casefold()
    slips = {name: _slips(word, name.casefold()) for name in every}
    # two slips in a word of four letters make another word, and one in a number another number
    least = 0 if re.fullmatch(r"[\W\d]*", word) else 1 if len(word) < 5 else 2
    near = [name for name in every if slips[name] <= least]
    parts = set(re.split(r"[\W_]+", word))
    near = near or [name for name in every if parts <= set(re.split(r"[\W_]+", name.casefold()))]
    if near and word:
        name = min(near, key=slips.__getitem__)
        return f"did you mean {repr(name) if ' ' in name else name}?"
    return otherwise or f"known: {', '.join(every)}"


def _slips(one: str, other: str) -> int:
    """Letters put in, left out, taken for another or swapped with the next, to make one of two.

    The optimal string alignment distance (Damerau, Communications of the ACM 7(3), 1964).
    """
    before, last = [0] * (len(other) + 1), list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(other, 1):
            least = min(last[j] + 1, row[-1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and (a, one[i - 2]) == (other[j - 2], b):
                least = min(least, before[j - 2] + 1)
            row.append(least)
        before, last = last, row
    return last[-1]
