"""What was found or decided, in words: calibrations, faults, follow-ups, ways to capture less."""

from collections.abc import Callable, Mapping

from audiolevel.followup.decision import Decision, Reason
from audiolevel.followup.faults import REGULAR_RUN, Fault, FaultKind
from audiolevel.metering.calibration import Calibration, CalibrationMethod
from audiolevel.privacy.mitigation import Mitigation, MitigationKind
from audiolevel.report.words.quantities import days as in_days


def calibration_method(calibration: Calibration) -> str:
    """What a calibration rests on."""
    if calibration.method is CalibrationMethod.TONE:
        return f"calibrator tone, {calibration.tone_level_db:g} dB, {calibration.tone_s} s"
    return str(calibration.method.value)


# --- follow-up -----------------------------------------------------------------------------------


def fault_text(fault: Fault) -> str:
    """What a detector that looks stuck does, in words that follow "it"."""
    while_others = ", while other events were logged" if fault.other_events else ""
    if fault.kind is FaultKind.EVERY_REARM:
        return f"fires at every re-arm ({fault.interval_s:g} s), {REGULAR_RUN} times on end or more"
    if fault.kind is FaultKind.CLOCKWORK:
        return f"fires every {fault.interval_s:.0f} s like a clock, which is not what sounds do"
    if fault.kind is FaultKind.NEVER_FIRED:
        return f"has not fired at all{while_others}"
    assert fault.silent_s is not None  # of a silence it is known
    return (
        f"did not fire for {fault.silent_s / 3600:.0f} h from {fault.began:%Y-%m-%d %H:%M} on"
        f"{while_others}"
    )


def decision_text(decision: Decision) -> str:
    """Why a follow-up keeps a setting or changes it."""
    best = decision.level.best
    broken = best is not None and decision.set_db < best
    if decision.reason is Reason.LIMIT_BROKEN and broken:
        return "the log shows more firings than the limit; this setting does not keep it yet"
    return _DECISIONS[decision.reason]


_DECISIONS: Mapping[Reason, str] = {
    Reason.KEPT: "the log shows neither a broken limit nor wanted sounds that a safe setting "
    "would catch",
    Reason.LIMIT_BROKEN: "the log shows more firings than the limit; from this setting on it is "
    "kept by the best estimate",
    Reason.WANTED_MISSED: "the plan knows that wanted sounds are missed, and the log "
    "allows a lower setting",
    Reason.GIVEN_BACK: "the log allows a lower setting, which catches more",
    Reason.SILENT: "no firing at all tells nothing of the level: make a sound that must fire it "
    "(mind ears and neighbours) and see whether it is logged",
    Reason.FIRED_ELSEWHERE: "it fired, but only in hours in which it should be off: look at "
    "the camera's clock, its time zone (--zone) and its schedule",
    Reason.SILENT_AGAIN: "a second check without any firing, and wanted sounds are missed at this "
    "setting; make a sound that must fire it before you trust the new one",
    Reason.FAULT: "the detector looks stuck; put that right before any level is changed",
    Reason.HEARS_LESS: "the camera hears less than the sample did: was its gain changed, does it "
    "control the gain by itself, is the microphone covered? No level puts that right",
}


# --- privacy -------------------------------------------------------------------------------------


def mitigation_text(mitigation: Mitigation) -> str:
    """What is done to capture less speech."""
    return _MITIGATIONS[mitigation.kind][0](**mitigation.facts)


def mitigation_cost(mitigation: Mitigation) -> str:
    """What it costs, in words; "" where it costs nothing."""
    if mitigation.weaker_db:
        weaker = (f"{name} {db:.0f} dB" for name, db in mitigation.weaker_db.items())
        return "weaker by " + ", ".join(weaker)
    return _MITIGATIONS[mitigation.kind][1]


_FILTER_COST = "wanted sounds are weaker too"
# what is done, made of the facts, and what it costs
_MITIGATIONS: Mapping[MitigationKind, tuple[Callable[..., str], str]] = {
    MitigationKind.NONE: (lambda: "as recommended", ""),
    MitigationKind.HIGHER_SETTING: (
        lambda mode, by_db: f"{'a level' if mode == 'threshold' else 'a step'} {by_db:g} dB higher",
        "misses what is quieter",
    ),
    MitigationKind.OTHER_MODE: (
        lambda mode, in_place_of: f"{mode} instead of {in_place_of}",
        "fires on other sounds than before",
    ),
    MitigationKind.SHORTER_CLIPS: (
        lambda clip_s, in_place_of_s: f"clips of {clip_s:g} s in place of {in_place_of_s:g} s",
        "may end before what matters has ended",
    ),
    MitigationKind.FEWER_HOURS: (
        lambda from_hour, to_hour: f"active from {from_hour:02d}:00 to {to_hour:02d}:00 only",
        "catches nothing outside them",
    ),
    MitigationKind.LOWER_GAIN: (
        lambda by_db: f"gain {by_db:g} dB lower",
        "quiet sounds sink into the converter's noise",
    ),
    MitigationKind.TURNED_AWAY: (
        lambda by_db: (
            f"a directional microphone turned away, or a covered one (some {by_db:g} dB, common "
            "practice)"
        ),
        "wanted sounds from there are weaker too; measure it by a walk test",
    ),
    MitigationKind.DELETION: (
        lambda days, card_days: (
            f"deletion after {days:g} days, where the card would keep {in_days(card_days)}"
        ),
        "what is noticed later is gone",
    ),
    MitigationKind.NO_SOUND: (
        lambda: "fire on the level, store no sound",
        "no sound to judge by; pictures and log remain",
    ),
    MitigationKind.LOW_PASS: (
        lambda hz, db_per_octave: f"low-pass at {_hertz(hz)}, {db_per_octave:g} dB an octave",
        _FILTER_COST,
    ),
}


def _hertz(value: float) -> str:
    return f"{value:g} Hz" if value < 1000 else f"{value / 1000:g} kHz"
