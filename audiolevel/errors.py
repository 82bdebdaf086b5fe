"""What can go wrong, said in one line to the person who can mend it."""

import re

# all of Unicode's control characters, line ends of its own, halves of pairs
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


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
    return _CONTROL.sub("\N{REPLACEMENT CHARACTER}", text)


class AudioLevelError(ValueError):
    """A job that cannot be done: the message names the file or key and says what to do."""

    exit_code = 1

    def __str__(self) -> str:
        """The message in one line, whatever stands in the names and cells that it quotes."""
        return plain(super().__str__())


class RecordingError(AudioLevelError):
    """A recording that cannot be read or measured."""


class PassingError(RecordingError):
    """A recording that cannot be read as things stand: the fault is not the recording's."""


class SettingError(AudioLevelError):
    """A setting, site file or option whose value makes no sense."""
