"""What the reader of a result should be careful about, as facts; `report.words` says them."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

Fact = float | int | str | None


@dataclass(frozen=True)
class Notice:
    """One caution.

    Attributes
    ----------
    code : str
        Stable name, for programs.
    cause : str
        Which of several causes behind the same code; "" where there is only one.
    source : str
        Name of the recording or log it is about; "" where it is about all of them.
    facts : mapping of str to float, int or str
        What its sentence is made of; units in the names.
    """

    code: str
    cause: str = ""
    source: str = ""
    facts: Mapping[str, Fact] = field(default_factory=dict)

    def of(self, source: str) -> "Notice":
        """The same caution about a named recording or log."""
        return replace(self, source=source)


def notice(code: str, cause: str = "", **facts: Fact) -> Notice:
    """A caution made of the facts given by name."""
    return Notice(code, cause, facts=facts)
