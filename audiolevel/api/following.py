"""Hold a camera's own logs against a plan, and say what to set now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audiolevel.api.frames import frame
from audiolevel.api.plans import Plan, planned
from audiolevel.api.redacting import redacted
from audiolevel.api.results import Result, as_kind, marked
from audiolevel.counting.belief import wet_of
from audiolevel.followup.comparison import LogComparison
from audiolevel.followup.event_log import LogFormat, read_log
from audiolevel.followup.log_checks import refuse_overlap, refuse_setting, setting_of, shown_of
from audiolevel.followup.plan_file import Expectation, expectation_of, read_plan
from audiolevel.followup.verdict import Followup, follow
from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import json_mark, write_text, writing
from audiolevel.ground.names import printable
from audiolevel.ground.records import Object, json_text
from audiolevel.ground.tables import TextTable, text_table
from audiolevel.metering.parts import Moment, moment_of
from audiolevel.metering.visit import AnyPath, Table, each_of
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.followup import json as followup_json
from audiolevel.report.followup.document import followup_document

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class FollowUp(Followup, Result):
    """What a camera did beside its plan, and what to set now."""

    plan_name: str = "the plan"
    inputs: tuple[AnyPath, ...] = ()
    _stem = "followup"

    def __repr__(self) -> str:
        decision = self.decision
        what = "keep" if decision.keep else f"set {decision.set_db:g} {self.expectation.unit}"
        return f"<FollowUp of {self.plan_name}: {self.verdict.value}; {what}>"

    def redacted(self) -> "FollowUp":
        """The same without names of logs, dates and hours of the day."""
        bare = tuple(_undated(one, number) for number, one in enumerate(self.comparisons, 1))
        return redacted(replace(self, comparisons=bare))

    @property
    def unit(self) -> str:
        """Of every level, the plan's."""
        return self.expectation.unit

    def to_frame(self) -> "pd.DataFrame":
        """A row a day of each log: hours covered, firings expected and observed."""
        rows = [
            {
                "day": day.name,
                "at_db": log.at_db,
                "covered_h": day.covered_h,
                "expected": day.expected.best,
                "low": day.expected.low,
                "high": day.expected.high,
                "observed": day.observed,
                "stands_out": day.stands_out,
            }
            for log in self.comparisons
            for day in log.by_day
        ]
        return frame(rows)

    def to_object(self) -> Object:
        """The object that `audiolevel followup --json` writes."""
        return followup_json.as_json(self)

    def document(self) -> Document:
        """What to set now, what the log shows, by date and hour."""
        return followup_document(self, self.plan_name)

    def _pictures(self) -> dict[str, Picture]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.followup.figure import pictures_of

        return pictures_of(self)

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        from audiolevel.report.followup.page import followup_page

        return followup_page(self, self.plan_name, pictures)

    def corrected_plan(self) -> Object:
        """The plan with what to set now and what the logs have taught; follow it up again."""
        return followup_json.corrected_plan_json(self)

    def save_plan(self, path: AnyPath, *, force: bool = False) -> Path:
        """Write the corrected plan to a file, never over the plan or a log that it comes from.

        Raises
        ------
        AudioLevelError
            As in `save_json`.
        """
        with writing(self.inputs, force=force):
            text = json_text(marked(self.corrected_plan(), self._stem))
            write_text(path, text, json_mark(self._stem))
        return Path(path)


def _undated(one: LogComparison, number: int) -> LogComparison:
    """A log against its plan by numbered days; what it shows by the hour is left out."""
    log = replace(one.log, name=f"log {number}", rows_s=None)
    days = tuple(replace(day, name=f"day {i}") for i, day in enumerate(one.by_day, 1))
    return replace(one, log=log, by_hour=(), by_day=days)


def follow_up(
    plan: Plan | AnyPath,
    logs: Table | Sequence[Any] | AnyPath,
    *,
    settings: Sequence[float | str] = (),
    shown: Sequence[float] = (),
    log_format: LogFormat | None = None,
    begins: Sequence[Moment | None] | Moment = (),
    ends: Sequence[Moment | None] | Moment = (),
    weather: Sequence[str | None] = (),
) -> FollowUp:
    """Compare a camera's logs with its plan.

    Parameters
    ----------
    plan : Plan or path
        A plan, or the JSON of one.
    logs : path, DataFrame or sequence of datetime, or sequence of such logs
        One after another; the last is at the setting of today. A sequence of `datetime` or
        `datetime64` is one log.
    settings : sequence of float or str, optional
        Level or change that each log was made at, in the plan's unit; by default the plan's. In
        text a number without `dB` behind it is refused where it may be of the camera's own scale.
    shown : sequence of float, optional
        The same on the camera's own scale.
    log_format : LogFormat, optional
        Which columns hold what, and the time zone of the camera's clock; by default what is found
        out, and the plan's zone.
    begins, ends : sequence of datetime, str or datetime64, optional
        What each log covers; by default from its first to its last row.
    weather : sequence of "dry", "wet" or None, optional
        Whether the road was dry or wet all through each log; None if nobody knows.

    Returns
    -------
    FollowUp

    Raises
    ------
    SettingError
        A file cannot be used; one line that says why and what to do.
    """
    paths = _each_log(logs)
    if not paths:
        raise SettingError("logs: none is given; give one or more")
    expectation, name = _expectation(plan)
    reading = log_format or LogFormat()
    reading = replace(
        reading,
        # no zone known: a clock that is never changed
        zone=reading.zone or expectation.zone or None,
        # of the plan: rows nearer than that are one firing
        rearm_s=expectation.rearm_s,
    )
    if settings and shown:
        raise SettingError("settings and shown: both say the setting; give one of them")
    # nobody changed the setting if nobody says so
    at_db = (
        [setting_of(expectation, one) for one in settings]
        or [shown_of(expectation, one) for one in shown]
        or [expectation.set_db] * len(paths)
    )
    covered = zip(
        *(each_of(of, paths, "begins, ends", "log") for of in (begins, ends)), strict=True
    )
    formats = [
        replace(reading, begin=moment_of(begin, "begins"), end=moment_of(end, "ends"))
        for begin, end in covered
    ]
    if len(at_db) != len(paths):
        raise SettingError(f"settings: {len(at_db)} for {len(paths)} logs; give one for each")
    for setting in at_db:
        refuse_setting(expectation, setting)
    read = [
        (read_log(path, one), setting)
        for path, one, setting in zip(paths, formats, at_db, strict=True)
    ]
    refuse_overlap([log for log, _ in read], expectation.counted_s)
    inputs = [] if isinstance(plan, Plan) else [plan]
    inputs += [one for one in paths if not isinstance(one, TextTable)]
    found = follow(
        expectation, read, [wet_of(one) for one in each_of(weather, paths, "weather", "log")]
    )
    return as_kind(FollowUp, found, plan_name=name, inputs=tuple(inputs))


def _each_log(logs: Any) -> list[AnyPath]:
    if isinstance(logs, str | PathLike):
        return [logs]
    alone = text_table(logs)
    return [text_table(one) or one for one in logs] if alone is None else [alone]


def _expectation(plan: Plan | AnyPath) -> tuple[Expectation, str]:
    if isinstance(plan, Plan):
        return expectation_of(planned(plan)), plan.name
    return read_plan(plan), printable(Path(plan).name)
