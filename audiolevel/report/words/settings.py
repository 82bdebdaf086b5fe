"""What is set and what it does, in words: gain, trigger, the camera's own number, firings expected.

`to_set` is the one phrase for whoever stands at the camera, wherever something is to be set.
"""

from audiolevel.counting.expected import Expected
from audiolevel.metering.calibration import DisplayLine, Scale
from audiolevel.planning.plan_record import PlanRecord
from audiolevel.planning.storage import CardLife
from audiolevel.report.words import quantities
from audiolevel.report.words.quantities import between, fewer, often, short, span
from audiolevel.site.sections import setting_name
from audiolevel.triggers.trigger import Trigger

# what a figure stands on
GROUNDS = {
    "counted": "counted",
    "extrapolated": "worked out from the loudest sounds heard",
    "upper limit": "none was heard, so only an upper limit is known",
}
_NAME = 24


def trigger_words(trigger: Trigger, gain_db: float, scale: Scale) -> str:
    """A trigger in words: `threshold at 84.5 dB SPL`, `rise of 12 dB within 1 s`."""
    if trigger.mode == "threshold":
        return f"threshold at {scale.shown(trigger.at_db, gain_db):g} {scale.unit}"
    if trigger.detect is not None:
        return f"detector of your own at {trigger.at_db:g}"
    return f"{trigger.mode} of {trigger.at_db:g} dB within {trigger.window_s:g} s"


def gain_words(gain_db: float, setting: float | str | None) -> str:
    """A gain in words: `gain 2 (as recorded)`, `gain -12 dB from the recording's`."""
    relative = "as recorded" if gain_db == 0 else f"{gain_db:+g} dB from the recording's"
    if setting is None:
        return f"gain {relative}"
    return f"gain {short(setting_name(setting), _NAME)} ({relative})"


def to_set(
    trigger: Trigger,
    gain_db: float,
    setting: float | str | None,
    scale: Scale,
    display: DisplayLine | None,
) -> str:
    """What to set: the gain by its name, the trigger, and its number on the camera's own scale.

    Parameters
    ----------
    trigger : Trigger
        A threshold in dB FS at this gain.
    gain_db : float
    setting : float, str or None
        The gain's name on the camera.
    scale : Scale
    display : DisplayLine or None
        The camera's own scale, where it was read.
    """
    number = ""
    if trigger.mode == "threshold":
        number = on_camera(
            None if display is None else display.shown(trigger.at_db),
            0.0 if display is None else display.uncertainty(trigger.at_db),
        )
    return f"{gain_words(gain_db, setting)}; {trigger_words(trigger, gain_db, scale)}{number}"


def planned_words(plan: PlanRecord) -> str:
    """What a plan's JSON says is to be set."""
    option = plan.recommended
    if option is None:
        return "nothing to set"
    if option.mode == "threshold":
        number = on_camera(option.display_level, option.display_uncertainty)
        what = f"threshold at {option.setting_db:g} {plan.reference}{number}"
    else:
        what = f"{option.mode} of {option.setting_db:g} dB within {option.window_s:g} s"
    return f"{gain_words(option.gain_db, option.gain_setting)}; {what}"


def on_camera(shown: float | None, uncertainty: float | None) -> str:
    """A threshold's number on the camera's own scale, or how to get it; goes behind the level."""
    # without the number a person at the camera would have nothing to type
    if shown is None or uncertainty is None:
        return " (its number on the camera is not known: audiolevel calibrate)"
    return f", on the camera {shown:.3g} ± {uncertainty:.2g}"


def expected(one: Expected) -> str:
    """Firings a day with their limits; never a number alone."""
    sure, heard = f"{100 * one.confidence:g} %", span(one.heard_s)
    if one.rate.best is None:
        return (
            f"{fewer(one.rate.high)} ({sure} sure); none was heard in {heard}, "
            "so there is no best estimate"
        )
    return (
        f"{often(one.rate.best)}; {sure} sure: {between(one.rate.low, one.rate.high)} a day on "
        f"average, {between(one.count.low, one.count.high)} on a single day "
        f"({GROUNDS[one.method]}, {one.seen} seen in {heard})"
    )


def rate(one: Expected) -> str:
    """Firings a day with the interval of their mean, short: `12 a day (0 to 87)`."""
    if one.rate.best is None:
        return fewer(one.rate.high)
    best = often(one.rate.best)
    # one in 2 days (0 to 4.7 a day)
    unit = "" if best.endswith(" a day") else " a day"
    return f"{best} ({between(one.rate.low, one.rate.high)}{unit})"


def card_text(life: CardLife) -> str:
    """How long a card lasts, with its interval."""
    return quantities.card(life.days_kept, life.low_days, life.high_days, life.recorded_share)


def card_days(life: CardLife) -> str:
    """How long a card lasts, with its interval, and no more."""
    return quantities.card_days(life.days_kept, life.low_days, life.high_days)
