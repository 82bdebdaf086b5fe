"""What the reader of a result should be careful about."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Notice:
    """A stable code, and what it means here."""

    code: str
    text: str
