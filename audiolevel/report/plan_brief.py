"""A plan's decision in at most 24 lines: what to set, what it will do, what to mind.

All else stands in the full text (`plan_text`). Each part has several forms, the longest first;
where they are too long together, parts give way in a fixed order. A figure goes with its interval,
or stays with it.

Entry point: `in_brief`.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from audiolevel.notices import Notice
from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan_wording import (
    advice_text,
    chance_text,
    hours_a_day,
    parts_in_a_line,
    reason,
    trigger_text,
)
from audiolevel.report.sentences import notice_text
from audiolevel.report.text import WIDTH, count, entry, expected, gain, together
from audiolevel.report.wording import card_days, short, span

# as many as a terminal of the oldest size shows without scrolling
LINES = 24
_NAME = 24
# whatever spoils all levels, then what spoils some, then what a number lacks; others follow
_WEIGHTIEST = (
    *(
        "silent",
        "not heard",
        "gain control",
        "nonlinear",
        "low-frequency overload",
        "clipped",
        "truncated",
    ),
    *("channel dead", "channel inverted", "irregular", "time gaps", "marks contradict", "short"),
    *("card", "display range", "no peaks", "coarse history", "uncalibrated", "gain not told"),
)
# a damaged recording is mended before anything is narrowed
_FIRST_STEPS = ("lower the gain", "record again", "narrows most", "listen longer", "nearer")
_GIVES_WAY = (
    *("active", "marked", "next", "take care", "or instead", "catches", "asked for", "because"),
    *("by part", "first", "blank"),
)


@dataclass(frozen=True)
class _Part:
    """Lines of one subject, in forms from the longest to the shortest."""

    subject: str
    forms: tuple[list[str], ...]

    @property
    def shorter(self) -> "_Part":
        return replace(self, forms=self.forms[1:] or self.forms)


def in_brief(plan: SitePlan, name: str, rest: str) -> str:
    """The decision of a plan.

    Parameters
    ----------
    plan : SitePlan
    name : str
    rest : str
        Where all that is left out stands.
    """
    option = plan.recommended
    parts = [_heading(plan, name), _Part("blank", ([""], []))]
    if option is None:
        parts += [_entry("SET", "nothing yet", 1), _entry("because", reason(plan), 2)]
    else:
        parts += _decision(plan, option)
    cautions, steps = _cautions(plan), _steps(plan)
    # all forms name both, so what stays unsaid is known before they are fitted
    parts += [_take_care(cautions), _next(steps), _more(cautions, steps, rest)]
    return "\n".join(line for part in _fitted(parts) for line in part.forms[0])


def _fitted(parts: Sequence[_Part]) -> list[_Part]:
    """Parts that have given way, each by a form a round, until they fit."""
    fitted = list(parts)
    rounds = max(len(part.forms) for part in parts)
    for subject in _GIVES_WAY * rounds:
        if sum(len(part.forms[0]) for part in fitted) <= LINES:
            break
        fitted = [part.shorter if part.subject == subject else part for part in fitted]
    return fitted


def _decision(plan: SitePlan, option: Option) -> list[_Part]:
    """What to set, why, and what it will do."""
    why = reason(plan)
    life = plan.card_life(option)
    parts = [
        *(_first(one) for one in plan.warnings if one.code == "other recording"),
        _entry("SET", _set(option, plan), 3),
        *_by_part(plan, option),
        _entry("because", why[0].lower() + why[1:], 4, 3, 2),
        _entry("expect", expected(option.expected), 3),
        *_active(plan),
        *_caught("catches", option, own=False),
        *_caught("marked", option, own=True),
        *([_entry("card", card_days(life), 1)] if life is not None else []),
    ]
    if not plan.reliable:
        parts.append(_entry("", "Not reliable yet: a place to start from.", 1))
    parts += [_other("OR INSTEAD", one, plan) for one in plan.choice.alternatives[:1]]
    return parts + ([_other("ASKED FOR", plan.asked, plan)] if plan.asked is not None else [])


def _heading(plan: SitePlan, name: str) -> _Part:
    after = f": {span(plan.survey.duration_s)} heard; levels in {plan.survey.scale.unit}"
    before = "Plan for "
    named = short(" ".join(name.split()), WIDTH - len(before + after))
    return _Part("", (together(f"{before}{named}{after}"),))


def _first(caution: Notice) -> _Part:
    return _entry("FIRST", notice_text(caution), 2, 1)


def _set(option: Option, plan: SitePlan) -> str:
    setting = option.gain.setting
    known = short(setting, _NAME) if isinstance(setting, str) else setting
    return f"{gain(option.gain_db, known)}; {_trigger(option, plan)}"


def _trigger(option: Option, plan: SitePlan) -> str:
    return trigger_text(option, plan, "audiolevel calibrate")


def _by_part(plan: SitePlan, option: Option) -> list[_Part]:
    said = parts_in_a_line(plan, option)
    return [_entry("by part", said, 3, 2)] if said else []


def _active(plan: SitePlan) -> list[_Part]:
    windows = plan.survey.site.schedule.active
    if not windows:
        return []
    said = f"{hours_a_day(windows)} by the site file; counts of a day are of these"
    return [_Part("active", (_lines("active", said), []))]


def _caught(label: str, option: Option, *, own: bool) -> list[_Part]:
    """Wanted sounds with their chances, as many as there is room for, the least caught first."""
    curves = [one for one in option.curve.detections if (one.distance_m is None) is own]
    if not curves:
        return []
    seldom = sorted(curves, key=lambda one: float(one.probability[option.row]))
    chances = [chance_text(one, option.row, short(one.sound, _NAME)) for one in curves]
    forms = [_lines(label, "; ".join(chances))]
    for shown in range(min(len(curves) - 1, 6), 0, -1):
        told = [chance_text(one, option.row, short(one.sound, _NAME)) for one in seldom[:shown]]
        more = f"{len(curves) - shown} more, each at least as often"
        forms.append(_lines(label, "; ".join([*told, more])))
    # more lines than these would crowd out the rest whatever else there is
    most = 2 if own else 4
    forms = [form for form in forms if len(form) <= most]
    # what was marked is not what will come: it may go
    return [_Part(label, (*forms, *([[]] if own else [])))]


def _other(label: str, option: Option, plan: SitePlan) -> _Part:
    """Another setting: its firings, the sound it catches least, its card."""
    rate, day = option.expected.rate, option.expected.count
    first = plan.recommended
    same_gain = first is not None and option.gain_db == first.gain_db
    said = f"{_trigger(option, plan) if same_gain else _set(option, plan)}: "
    if rate.best is None:
        said += f"fewer than {count(rate.high)} a day"
    else:
        said += (
            f"{count(rate.best)} a day ({count(rate.low)} to {count(rate.high)} on average, "
            f"{count(day.low)} to {count(day.high)} on a single day)"
        )
    forms = [said]
    least = option.least_detected
    if least is not None:
        caught = chance_text(least, option.row, short(least.sound, _NAME))
        forms.insert(0, f"{said}; catches least: {caught}")
    life = plan.card_life(option)
    if life is not None:
        forms.insert(0, f"{forms[0]}; card {card_days(life)}")
    return _Part(label.lower(), tuple(_lines(label, form) for form in forms))


def _cautions(plan: SitePlan) -> list[Notice]:
    """The cautions, the weightiest first; without the one that stands above all."""
    rank = {code: i for i, code in enumerate(_WEIGHTIEST)}
    others = [one for one in plan.warnings if one.code != "other recording"]
    return sorted(others, key=lambda one: rank.get(one.code, len(rank)))


def _take_care(cautions: Sequence[Notice]) -> _Part:
    said = [f"{one.code}: {_caution(one)}" for one in cautions[:2]]
    if not said:
        return _Part("take care", ([],))
    forms = [
        [
            line
            for one, most in zip(said, each, strict=False)
            for line in _cut("take care", one, most)
        ]
        for each in ((3, 3), (2, 2), (2, 1), (1, 1))
    ]
    return _Part("take care", tuple(forms))


def _caution(caution: Notice) -> str:
    return notice_text(replace(caution, source=short(caution.source, _NAME)))


def _steps(plan: SitePlan) -> list[Notice]:
    """What would help, in the order in which it does."""
    rank = {code: i for i, code in enumerate(_FIRST_STEPS)}
    return sorted(plan.advice, key=lambda one: rank.get(one.code, len(rank)))


def _next(steps: Sequence[Notice]) -> _Part:
    if not steps:
        return _Part("next", ([],))
    return _entry("next", advice_text(steps[0]), 3, 2, 1)


def _more(cautions: Sequence[Notice], steps: Sequence[Notice], rest: str) -> _Part:
    """What is left out, and where it stands."""
    left = [_number(len(cautions) - 2, "caution"), _number(len(steps) - 1, "hint")]
    said = ", ".join([*filter(None, left), "each gain and mode"])
    return _Part("left out", (_lines("left out", f"{said}: see {rest}"),))


def _number(more: int, what: str) -> str:
    return f"{more} {what}{'s' if more > 1 else ''}" if more > 0 else ""


def _entry(label: str, said: str, *most: int) -> _Part:
    """A label and its text, in forms of so many lines at most."""
    return _Part(label.lower(), tuple(_cut(label, said, lines) for lines in most))


def _lines(label: str, said: str) -> list[str]:
    # unlike in the full text a word that is too long is broken: 80 columns hold whatever its name
    return entry(label, said, break_long_words=True)


def _cut(label: str, said: str, most: int) -> list[str]:
    """So many lines of a text, up to the end of a clause where there is one, then of a word."""
    whole = _lines(label, said)
    if len(whole) <= most:
        return whole
    for end in (*_ends(said, r"[:;,.] "), *_ends(said, " ")):
        lines = _lines(label, f"{said[:end]} …")
        # a first clause of a word or two says nothing
        if len(lines) <= most and end > len(said) // 4:
            return lines
    return _lines(label, said)[:most]


def _ends(said: str, pattern: str) -> Iterable[int]:
    """Where a text may be cut, the last first: never within brackets, which hold intervals."""
    for found in reversed(list(re.finditer(pattern, said))):
        before, after = said[: found.start()], said[found.end() :]
        # nor between a figure, its unit and its interval
        if before.count("(") == before.count(")") and not _OF_A_FIGURE.match(after):
            yield found.start()


_OF_A_FIGURE = re.compile(r"(\S+ )?\(|[%±]")
