"""The JSON of a plan: every key, what it means and how it is rounded.

`report.plan_json` fills these records from a plan, `followup` reads them back, and `docs/` has the
JSON Schema made of them. `SCHEMA` is raised when a key changes its meaning or goes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audiolevel.counting.day_counts import DayCount
from audiolevel.ground.errors import SettingError
from audiolevel.ground.records import from_object, key

# 1 was the form without a number; in 2 a chance of detection knew of no spread
SCHEMA = 4
# of the rate, so that a log can be held against the whole of what was believed
RATE_SHARES = (0.005, 0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975, 0.995)

Hours = tuple[float | None, ...]

THOUSAND_YEARS_DAYS = 365_250.0
"""What happens less often than once in so long never happens, and a card that lasts longer is never
full: the far tail of a distribution is no finding."""
# half a minute in a thousand years
LEAST_SHARE = 1e-9


def _a_day(about: str, *, absent: bool = False) -> Any:
    """A rate a day."""
    about += "; 0 if less than one in a thousand years"
    return key(about, figures=4, least=1 / THOUSAND_YEARS_DAYS, absent=absent)


def _an_hour(about: str) -> Any:
    """A rate an hour."""
    about += "; 0 if less than one in a thousand years"
    return key(about, figures=4, least=1 / (24 * THOUSAND_YEARS_DAYS))


def _days(about: str) -> Any:
    """Days that a card lasts."""
    return key(f"{about}; null beyond a thousand years", figures=4, most=THOUSAND_YEARS_DAYS)


@dataclass(frozen=True, kw_only=True)
class QuantilesRecord:
    """Quantiles of the mean daily rate."""

    shares: tuple[float, ...] = key("probabilities, 0 to 1")
    per_day: tuple[float | None, ...] = _a_day("rate at each of them, firings a day")


@dataclass(frozen=True, kw_only=True)
class ExpectedRecord:
    """Firings to expect of one setting; a rate is a mean, a count is one day's."""

    per_hour: float | None = _an_hour("rate in hours like the recording's, best estimate")
    per_hour_low: float | None = _an_hour("lower end of its interval")
    per_hour_high: float | None = _an_hour("upper end of its interval")
    per_day: float | None = _a_day(
        "mean rate of a day's active hours, best estimate; null where only a limit is known"
    )
    rate_low_per_day: float | None = _a_day("lower end of the rate's interval")
    rate_high_per_day: float | None = _a_day("upper end of the rate's interval")
    low_per_day: float | None = key("lower end of the interval of one day's count", figures=4)
    high_per_day: float | None = key("upper end of the interval of one day's count", figures=4)
    confidence: float = key("probability of every interval")
    method: str = key("counted, extrapolated or upper limit")
    by_hour: Hours | None = _an_hour("rate in each hour of the day, from 0 h, 24 numbers")
    by_hour_low: Hours | None = _an_hour("lower ends of their intervals")
    by_hour_high: Hours | None = _an_hour("upper ends of their intervals")
    hours_not_heard: tuple[int, ...] | None = key(
        "hours of the day in which the trigger is active and which no recording covers"
    )
    seen: int = key("firings in the recordings")
    rate_quantiles: QuantilesRecord = key("distribution of the rate")


@dataclass(frozen=True, kw_only=True)
class LimitRecord:
    """The setting that gives just the limit of firings a day."""

    best_db: float | None = key("with even odds", digits=2)
    safe_db: float | None = key("keeps the limit on a day with 90 % certainty", digits=2)
    low_db: float | None = key("lower end of its interval", digits=2)
    high_db: float | None = key("upper end of its interval", digits=2)


@dataclass(frozen=True, kw_only=True)
class DetectionRecord:
    """How likely a sound fires the trigger."""

    sound: str = key("its name")
    distance_m: float | None = key("from the microphone; null for one marked in the recording")
    in_recording: bool = key("marked in the recording, not placed into it")
    must: bool | None = key("whether it has a say in what is set", absent=True)
    out_of_reach: bool | None = key(
        "no setting catches it as often as asked, so that it is put aside", absent=True
    )
    probability: float | None = key("best estimate", digits=4)
    low: float | None = key("lower end of its interval", digits=4)
    high: float | None = key("upper end of its interval", digits=4)
    offset_db: float | None = key(
        "mean of the events against the level worked out; null for a marked sound", digits=2
    )
    event_spread_db: float | None = key("standard deviation from event to event", digits=2)
    mean_spread_db: float | None = key(
        "standard deviation of what is not known of the mean", digits=2
    )


@dataclass(frozen=True, kw_only=True)
class EvidenceRecord:
    """What marked events of a sound, at known distances, say of its level."""

    sound: str = key("its name")
    events: int = key("marked ones that rise above the road")
    median_offset_db: float | None = key("measured less worked-out level, median", digits=2)
    before_db: float | None = key("mean offset believed without them", digits=2)
    before_spread_db: float | None = key("and how far that was known", digits=2)
    after_db: float | None = key("mean offset believed with them", digits=2)
    after_spread_db: float | None = key("and how far that is known", digits=2)
    contradicts: bool = key("they lie off by more than 3 dB and than chance allows")


@dataclass(frozen=True, kw_only=True)
class StorageRecord:
    """How long the card lasts."""

    days_kept: float | None = _days("best estimate; null without one, and if nothing fills it")
    low_days: float | None = _days("lower end of its interval")
    high_days: float | None = _days("upper end of its interval")
    recorded_share: float | None = key(
        "share of the time that is recorded", figures=4, least=LEAST_SHARE
    )
    never_fills: bool = key("nothing fills it: nothing, or next to nothing, is ever recorded")
    dominated_by_other: bool = key("another recording writes at least half of it")


@dataclass(frozen=True, kw_only=True)
class OptionRecord:
    """One setting of one mode at one gain."""

    gain_db: float = key("relative to the recording", digits=2)
    gain_setting: float | str | None = key("the camera's own name or number for it")
    mode: str = key("threshold, rise, fall or change")
    level_db: float | None = key(
        "of a threshold, in the unit of `reference`", digits=2, absent=True
    )
    change_db: float | None = key("of the other modes", digits=2, absent=True)
    window_s: float | None = key("within which the change must come", absent=True)
    hold_s: float = key("how long the condition must hold")
    rearm_s: float = key("dead time after a firing")
    release_db: float = key("how far below a threshold it is released")
    display_level: float | None = key(
        "the level on the camera's own scale; null without readings of it", digits=1
    )
    display_uncertainty: float | None = key("of that number, 95 % to each side", digits=1)
    basis: str = key("how it keeps the limit: safe (90 % sure), best (best estimate) or none")
    expected: ExpectedRecord = key("firings to expect")
    level_for_limit: LimitRecord | None = key("the setting for the limit of firings")
    catching_db: float | None = key(
        "highest setting that catches every wanted sound often enough; null if none does, or "
        "none is named",
        digits=2,
    )
    caught: str = key(
        "how it catches enough: surely (by the lower end of the chance), best (by the best "
        "estimate) or none"
    )
    margin_db: float | None = key("decibels to spare; negative: what wanted sounds lack", digits=2)
    detection: tuple[DetectionRecord, ...] = key("each wanted or marked sound")
    storage: StorageRecord | None = key("null where the card is not known")

    @property
    def setting_db(self) -> float:
        """Its level or change."""
        at_db = self.level_db if self.mode == "threshold" else self.change_db
        if at_db is None:
            wanted = "level_db" if self.mode == "threshold" else "change_db"
            raise SettingError(f"{wanted}: is missing")
        return at_db


@dataclass(frozen=True, kw_only=True)
class GainRecord:
    """Room above and below the sound at one gain."""

    gain_db: float = key("relative to the recording", digits=2)
    gain_setting: float | str | None = key("the camera's own name or number for it")
    clipped_share: float | None = key("share of the samples at full scale", figures=4)
    headroom_db: float | None = key("from the highest sample to full scale", digits=2)
    headroom_l10_db: float | None = key("from L10 to a full-scale sine", digits=2)
    footroom_db: float | None = key("from L90 to the noise floor", digits=2)
    noise_dbfs: float | None = key("the noise floor", digits=2)
    limited_by: str = key("the louder part of the noise: capsule or converter")
    usable: bool = key("clips no more than allowed and leaves room above the noise")
    estimated: bool = key("the recording clipped: share and peak are estimates")
    wanted_clipped: tuple[str, ...] = key("wanted sounds heard only up to full scale")


@dataclass(frozen=True, kw_only=True)
class LevelsRecord:
    """Levels of all recordings together, in the unit of `reference`."""

    laeq_db: float | None = key("LAeq", digits=2)
    lceq_db: float | None = key("LCeq", digits=2)
    lzeq_db: float | None = key("LZeq", digits=2)
    lafmax_db: float | None = key("LAFmax", digits=2)
    lasmax_db: float | None = key("LASmax", digits=2)
    lafmin_db: float | None = key("LAFmin", digits=2)
    lae_db: float | None = key("LAE", digits=2)
    lcpeak_db: float | None = key("LCpeak", digits=2)
    sample_peak_dbfs: float | None = key("highest sample re full scale", digits=2)
    percentiles_db: Mapping[str, float | None] = key("levels exceeded, from LAF", digits=2)


@dataclass(frozen=True, kw_only=True)
class CurveDetectionRecord:
    """How likely a sound fires the trigger at each setting of a curve."""

    sound: str = key("its name")
    distance_m: float | None = key("from the microphone; null for one marked in the recording")
    in_recording: bool = key("marked in the recording, not placed into it")
    # as they are told: rounded twice, 61.499 % could come out as 62
    probability: tuple[float, ...] = key("best estimate at each setting", digits=2)
    low: tuple[float, ...] = key("lower ends of their intervals", digits=2)
    high: tuple[float, ...] = key("upper ends of their intervals", digits=2)
    caught_within_m: tuple[float | None, ...] | None = key(
        "farthest distance at which the share asked for is caught, at each setting, null where "
        "none is; at the recommended gain only",
        digits=1,
        absent=True,
    )


@dataclass(frozen=True, kw_only=True)
class CurveStorageRecord:
    """How long the card lasts at each setting of a curve; null where nothing fills it."""

    days_kept: tuple[float | None, ...] = _days("best estimate")
    low_days: tuple[float | None, ...] = _days("lower ends of their intervals")
    high_days: tuple[float | None, ...] = _days("upper ends of their intervals")
    recorded_share: tuple[float | None, ...] = key(
        "share of the time recorded", figures=4, least=LEAST_SHARE
    )


@dataclass(frozen=True, kw_only=True)
class CurveRecord:
    """Counts against the setting for one mode at one gain."""

    gain_db: float = key("relative to the recording", digits=2)
    mode: str = key("threshold, rise, fall or change")
    settings_db: tuple[float, ...] = key("levels in the unit of `reference`, or changes", digits=2)
    seen: tuple[int, ...] = key("firings in the recordings at each")
    per_day: tuple[float | None, ...] = _a_day("rate, best estimate")
    rate_low_per_day: tuple[float | None, ...] = _a_day("lower end of its interval")
    rate_high_per_day: tuple[float | None, ...] = _a_day("upper end of its interval")
    low_per_day: tuple[float | None, ...] = key("lower end of one day's count", figures=4)
    high_per_day: tuple[float | None, ...] = key("upper end of one day's count", figures=4)
    method: tuple[str, ...] = key("counted, extrapolated or upper limit")
    day_rate_90_per_day: tuple[float | None, ...] | None = _a_day(
        "rate of a day that nine days of ten stay below", absent=True
    )
    display_levels: tuple[float, ...] | None = key(
        "the settings on the camera's own scale", digits=1, absent=True
    )
    display_uncertainties: tuple[float, ...] | None = key(
        "of those numbers, 95 % to each side", digits=1, absent=True
    )
    detection: tuple[CurveDetectionRecord, ...] | None = key(
        "each wanted or marked sound at each setting", absent=True
    )
    storage: CurveStorageRecord | None = key(
        "the card at each setting, where it is known", absent=True
    )


@dataclass(frozen=True, kw_only=True)
class ScheduleRecord:
    """When the trigger is active."""

    active: tuple[str, ...] = key("windows of the week; none means always")
    zone: str = key("time zone of the camera's clock, by its IANA name")
    hours_active_per_day: float | None = key(
        "mean of the days on which it is active, which counts of a day are of", digits=4
    )
    days_active_per_week: int | None = key("how many of these a week has")


@dataclass(frozen=True, kw_only=True)
class WeatherRecord:
    """What a wet road does at the site."""

    wet_share: float = key("share of the days on which the road is wet")
    wet_db: float = key("how much louder it is then than when dry", digits=2)


@dataclass(frozen=True, kw_only=True)
class NoticeRecord:
    """A caution."""

    code: str = key("stable name")
    text: str = key("what it means here, and what to do about it")


@dataclass(frozen=True, kw_only=True)
class FollowedRecord:
    """What a corrected plan was first, and the days counted since."""

    planned: OptionRecord = key("the option that was planned")
    days: tuple[tuple[float, int, float], ...] = key("setting, count and mean days of each")
    louder_db: tuple[float, ...] | None = key(
        "by how much the weather made each louder than the mean day, where it was told",
        digits=3,
        absent=True,
    )
    counted_s: tuple[tuple[float, float], ...] | None = key(
        "first and last second of each log, since 1970 (UTC): no time counts twice",
        digits=1,
        absent=True,
    )

    @property
    def day_counts(self) -> tuple[DayCount, ...]:
        """The days counted."""
        louder = self.louder_db or (0.0,) * len(self.days)
        if len(louder) != len(self.days):
            raise SettingError("followed.louder_db: must have a number for each of followed.days")
        return tuple(DayCount(*day, by_db) for day, by_db in zip(self.days, louder, strict=True))


@dataclass(frozen=True, kw_only=True)
class PlanRecord:
    """A plan: what to set, what it will do, and all that it was chosen from."""

    audiolevel: str = key("version of the program")
    schema: int = key("version of this form")
    reference: str = key("unit of all levels: dB SPL, or dB FS without a calibration")
    heard_s: float | None = key("length of all recordings together", digits=3)
    false_triggers_per_day_limit: float = key("false firings a day that are put up with")
    recommended: OptionRecord | None = key("what to set; null if nothing can be defended")
    reason: str = key("why, and what is given up")
    case: str = key("both, limit only, neither or silent: what the recommended option meets")
    alternatives: tuple[OptionRecord, ...] = key("the other prong of a fork")
    asked: OptionRecord | None = key("the setting that was insisted on", absent=True)
    runners_up: tuple[OptionRecord, ...] = key("the best of each other mode, best first")
    options: tuple[OptionRecord, ...] = key("the best of each mode at each usable gain")
    gains: tuple[GainRecord, ...] = key("every gain considered")
    levels: LevelsRecord = key("of all recordings together")
    bandwidth_hz: float | None = key(
        "up to where the recordings carry sound; null for level histories", digits=0
    )
    gain_control: str = key(
        "what the site file says of the gain test: not tested, none found, found"
    )
    evidence: tuple[EvidenceRecord, ...] = key("what marked sounds say of the levels worked out")
    ceiling_dbfs: float | None = key("LAF from which on the input clips", digits=2)
    curves: tuple[CurveRecord, ...] = key("of each option, in the same order")
    schedule: ScheduleRecord = key("when the trigger is active")
    reliable: bool = key("whether the recordings support what is recommended")
    warnings: tuple[NoticeRecord, ...] = key("what to be careful about")
    advice: tuple[str, ...] = key("what would make it better")
    detection_asked: float | None = key(
        "share of its occurrences in which a wanted sound is to be caught", absent=True
    )
    weather: WeatherRecord | None = key("wet roads, as the plan takes them", absent=True)
    followed: FollowedRecord | None = key("of a plan corrected by a follow-up", absent=True)


def plan_of_object(value: object) -> PlanRecord:
    """A plan read again.

    Parameters
    ----------
    value
        What `json.loads` gives of a plan's JSON.

    Raises
    ------
    SettingError
        It is no plan, one of another version, or lacks a key.
    """
    if not isinstance(value, Mapping) or "recommended" not in value or "curves" not in value:
        raise SettingError("is not a plan; make it by audiolevel plan --json")
    # a plan without the key is older than the key itself: version 1
    if value.get("schema") != SCHEMA:
        raise SettingError(
            f"is a plan of another version (schema {value.get('schema', 1)}, not {SCHEMA}); "
            "plan again"
        )
    return from_object(PlanRecord, value)
