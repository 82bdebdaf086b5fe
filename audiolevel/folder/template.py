"""A new site file: what was answered, with a comment a key.

Entry points: `QUESTIONS`, `Question`, `site_text`, `wanted_of`.
"""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audiolevel.ground.errors import SettingError

_WANTED = re.compile(r"(?P<sound>.+?)\s*@\s*(?P<metres>\d+(\.\d+)?)\s*m?")


@dataclass(frozen=True)
class Question:
    """What a new site is asked for.

    Attributes
    ----------
    key : str
        Of the site file, `section.name`.
    asks : str
        In plain words, for a person on site.
    comment : str
        Behind the key in the file.
    default : str
        What holds where nobody answers.
    """

    key: str
    asks: str
    comment: str
    default: str = ""


# in the order in which somebody on site can answer; nothing that listening finds out
QUESTIONS = (
    Question("site.name", "What is the place called?", "is on every paper"),
    Question(
        "limits.false_triggers_per_day",
        "How many false firings a day do you put up with?",
        "false firings a day that are put up with",
        "20",
    ),
    Question(
        "wanted",
        "Which sound must be caught, and how far off (breaking glass@5m, say; empty: no more)?",
        "",
    ),
    Question(
        "schedule.active",
        "When is the trigger on (like: mon-fri 18:00-07:00)?",
        "when the trigger is on; none means always",
        "always",
    ),
    Question(
        "microphone.spl_at_full_scale_db",
        "If the microphone is calibrated: which dB SPL fills its scale?",
        "dB SPL of a sine that just fills the scale (audiolevel calibrate)",
        "not known",
    ),
    Question(
        "storage.card_gb", "How many GB does the card hold?", "GB that the card holds", "not known"
    ),
)


def wanted_of(text: str) -> tuple[str, float]:
    """A sound and its distance in metres, of `breaking glass@5m`.

    Raises
    ------
    SettingError
        It is not of that form.
    """
    found = _WANTED.fullmatch(text.strip())
    if found is None:
        raise SettingError(f"wanted {text!r}: write the sound and its distance, breaking glass@5m")
    return found["sound"], float(found["metres"])


def site_text(values: Mapping[str, object], wanted: Sequence[tuple[str, float]]) -> str:
    """The text of a site file.

    Parameters
    ----------
    values : mapping of str to object
        By key; None is left out.
    wanted : sequence of (str, float)
        Sounds and their distances in metres.
    """
    comments = {one.key: one.comment for one in QUESTIONS}
    sections: dict[str, list[str]] = {}
    for key, value in values.items():
        if value is None:
            continue
        section, _, name = key.partition(".")
        comment = comments.get(key, "")
        # TOML writes text, numbers, lists and truth as JSON does
        line = f"{name} = {json.dumps(value, ensure_ascii=False)}"
        sections.setdefault(section, []).append(f"{line}   # {comment}" if comment else line)
    parts = ["# All of it is optional: docs/reference.md lists every key."]
    parts += ["\n".join([f"[{name}]", *lines]) for name, lines in sections.items()]
    parts += [
        f"[[wanted]]\nsound = {json.dumps(sound, ensure_ascii=False)}   # audiolevel sounds\n"
        f"distance_m = {metres:g}   # from the microphone"
        for sound, metres in wanted
    ]
    return "\n\n".join(parts) + "\n"
