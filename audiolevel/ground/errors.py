"""What can go wrong, said in one line to the person who can mend it."""

from audiolevel.ground.names import plain


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
