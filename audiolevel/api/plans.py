"""A plan and a trial as they are given to whoever asked: levels in the unit of their site."""

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audiolevel.api.frames import frame
from audiolevel.api.results import Result, made_folder
from audiolevel.api.settings import Curve, Setting, curve_of, setting_of
from audiolevel.counting.expected import Expected
from audiolevel.followup.plan_checks import check_plan
from audiolevel.followup.plan_file import read_record
from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import text_mark, write_text, writing
from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object, json_text, to_object
from audiolevel.metering.quality import clipping_notices
from audiolevel.metering.visit import AnyPath
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan, survey_notices
from audiolevel.planning.plan_record import NoticeRecord, OptionRecord, PlanRecord, plan_of_object
from audiolevel.planning.survey import Survey as DomainSurvey
from audiolevel.planning.trial import Trial
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.plan import json as plan_json
from audiolevel.report.plan.document import plan_document
from audiolevel.report.trial import json as trial_json
from audiolevel.report.trial.document import trial_document
from audiolevel.report.words.settings import planned_words
from audiolevel.triggers.trigger import Trigger

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Plan(Result):
    """What to set, what it will do, and what it was chosen from; every level in `unit`.

    Its length is that of `options`, which it holds in order.

    Attributes
    ----------
    base : object or None
        What the program itself works with, with levels in dB FS; not for use outside. None where
        the plan was read from JSON.
    """

    base: SitePlan | None
    _read: Object | None = None
    _stem = "plan"

    @classmethod
    def from_json(cls, source: AnyPath) -> "Plan":
        """A plan from its JSON: all figures, without recordings to draw or to tell of.

        Parameters
        ----------
        source : path or str
            Of the file; or the JSON itself.

        Raises
        ------
        SettingError
            It is no plan.
        """
        text = os.fspath(source)
        if not text.lstrip().startswith("{"):
            read_record(source)
            text = Path(source).read_text(encoding="utf-8")
        try:
            read = json.loads(text)
        except ValueError as error:
            raise SettingError("plan: is not JSON; give what Plan.to_json made") from error
        check_plan(plan_of_object(read))
        return cls(None, read)

    def __repr__(self) -> str:
        return f"<Plan for {self.name}: {planned_words(self.record)}>"

    def __len__(self) -> int:
        return len(self.options)

    def __iter__(self) -> Iterator[Setting]:
        return iter(self.options)

    def __getitem__(self, index: int) -> Setting:
        return self.options[index]

    @cached_property
    def record(self) -> PlanRecord:
        """Every key of its JSON by name (docs/plan.schema.json), rounded as there.

        Of a plan made here without `caught_within_m`, which is worked out when it is written.
        """
        read = self._read
        value = to_object(plan_json.plan_record(self._base)) if read is None else read
        return plan_of_object(json.loads(json_text(value)))

    @property
    def name(self) -> str:
        """Of the site, or of its recordings."""
        if self.base is None:
            return "a site read from JSON"
        paths = (one.path.name for one in self.base.survey.measurements)
        return self.base.survey.site.site.name or ", ".join(paths)

    @property
    def unit(self) -> str:
        """Of every level: "dB SPL" where the site is calibrated, else "dB FS"."""
        return self.record.reference

    @property
    def recommended(self) -> Setting | None:
        """What to set; None if there is nothing to set."""
        found = self.record.recommended
        of = None if self.base is None else self.base.recommended
        return None if found is None else self._setting(found, of)

    @property
    def asked(self) -> Setting | None:
        """The setting that was insisted on."""
        found = self.record.asked
        of = None if self.base is None else self.base.asked
        return None if found is None else self._setting(found, of)

    @property
    def alternatives(self) -> tuple[Setting, ...]:
        """The others to choose from, where not everything can be had at once."""
        of = () if self.base is None else self.base.choice.alternatives
        return self._settings(self.record.alternatives, of)

    @property
    def options(self) -> tuple[Setting, ...]:
        """The best setting of every mode at every usable gain."""
        return self._settings(self.record.options, () if self.base is None else self.base.options)

    @property
    def curves(self) -> tuple[Curve, ...]:
        """What every setting does, of each option's mode and gain, in the order of `options`."""
        return tuple(curve_of(one, self.record) for one in self.record.curves)

    @property
    def limit_per_day(self) -> float:
        """False firings a day that are put up with."""
        return self.record.false_triggers_per_day_limit

    @property
    def warnings(self) -> tuple[NoticeRecord, ...]:
        """What to be careful about: each a `code` and a `text`."""
        return self.record.warnings

    @property
    def reliable(self) -> bool:
        """Whether the recordings support what is recommended."""
        return self.record.reliable

    def _settings(
        self, records: Sequence[OptionRecord], of: Sequence[Option]
    ) -> tuple[Setting, ...]:
        each: Sequence[Option | None] = of or [None] * len(records)
        return tuple(self._setting(*pair) for pair in zip(records, each, strict=True))

    def _setting(self, record: OptionRecord, of: Option | None) -> Setting:
        """A setting with its figures unrounded, where the plan was made here."""
        made = setting_of(record, self.record)
        if of is None or self.base is None:
            return made
        trigger, scale = of.trigger, self.base.survey.scale
        at_db = trigger.at_db
        if trigger.mode == "threshold":
            # sums of decimal steps, whose last bits mean nothing
            at_db = round(scale.shown(at_db, of.gain_db), 6)
        exact = replace(trigger, at_db=at_db, unit=made.trigger.unit, gain_db=of.gain_db)
        return replace(made, trigger=exact, expected=of.expected)

    def to_frame(self) -> "pd.DataFrame":
        """`options` as a pandas DataFrame, a row each."""
        return frame([one.row() for one in self.options])

    def to_object(self) -> Object:
        """The object that `audiolevel plan --json` writes (docs/plan.schema.json)."""
        return plan_json.as_json(self._base) if self._read is None else self._read

    def to_json(self) -> str:
        """The plan as JSON, which names the command and the version that made it."""
        return super().to_json() if self._read is None else json_text(self._read)

    def document(self) -> Document:
        """What to set, what it will do, what else there is, and how that is known."""
        return plan_document(self._base, self.name)

    def _repr_html_(self) -> str | None:
        return None if self.base is None else super()._repr_html_()

    @property
    def _base(self) -> SitePlan:
        if self.base is None:
            raise SettingError(
                "plan: was read from JSON, which holds figures and no recordings; plan again for "
                "its text and pictures"
            )
        return self.base

    def save_record(self, folder: AnyPath, *, force: bool = False) -> Path:
        """Write the commissioning record, a page to print and to sign, into a folder.

        Parameters
        ----------
        folder : path
            Made if it is not there.
        force : bool
            As in `save`.
        """
        from audiolevel.report.plan.page import record_page

        file, mark = made_folder(folder) / "record.html", text_mark(self._stem)
        with writing(force=force):
            write_text(file, record_page(self._base, self.name), mark)
        return file

    def _pictures(self) -> dict[str, Picture]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.plan.figure import pictures_of

        return pictures_of(self._base, self.name)

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        from audiolevel.report.plan.page import plan_page

        return plan_page(self._base, self.name, values, pictures)


@dataclass(frozen=True, eq=False)
class Tried:
    """A trigger on one recording at one gain.

    Attributes
    ----------
    name : str
        Of the recording.
    trigger : Trigger
        With its unit and gain.
    firings_s : array, shape (firings,)
        Seconds from the beginning.
    levels_db : array, shape (firings,)
        In `unit`.
    marked : array of bool, shape (firings,)
        Whether each lies in a marked stretch: a wanted sound, and no false firing.
    expected : Expected
        Firings to expect, from all recordings together.
    unit : str
        Of levels.
    """

    name: str
    trigger: Trigger
    firings_s: Array
    levels_db: Array
    marked: BoolArray
    expected: Expected
    unit: str

    def __repr__(self) -> str:
        gain = f"gain {self.trigger.gain_db or 0.0:+g} dB"
        return f"<Tried on {self.name}, {gain}: {len(self.firings_s)} firings>"


@dataclass(frozen=True, eq=False)
class Trials(Result):
    """One trigger on every recording at every gain that was asked for, in that order.

    Attributes
    ----------
    survey, base : object
        What the program itself works with, with levels in dB FS; not for use outside.
    """

    survey: DomainSurvey
    base: tuple[Trial, ...]
    _stem = "trial"

    def __repr__(self) -> str:
        return f"<Trials: {len(self)} of {self[0].trigger}>"

    def __len__(self) -> int:
        return len(self.base)

    def __iter__(self) -> Iterator[Tried]:
        return (self[i] for i in range(len(self)))

    def __getitem__(self, index: int) -> Tried:
        one, scale = self.base[index], self.survey.scale
        gain_db, trigger = one.gain.gain_db, one.trigger
        if trigger.mode == "threshold":
            at_db = round(scale.shown(trigger.at_db, gain_db), 6)
            trigger = replace(trigger, at_db=at_db, unit=scale.unit)
        at = np.array(one.firings, dtype=np.float64).reshape(-1, 2)
        return Tried(
            one.measurement.path.name,
            trigger,
            at[:, 0],
            at[:, 1] + scale.shown(0.0, gain_db),
            np.array(one.marked, dtype=bool),
            one.expected,
            scale.unit,
        )

    @property
    def unit(self) -> str:
        """Of every level."""
        return self.survey.scale.unit

    @property
    def notices(self) -> list[Notice]:
        """What the reader should be careful about."""
        notices = survey_notices(self.survey)
        several = len(self.survey.measurements) > 1
        for trial in self.base:
            clipped = clipping_notices(trial.measurement, trial.gain.gain_db)
            # with one recording its name would say nothing
            name = trial.measurement.path.name if several else ""
            notices += [one.of(name) for one in clipped]
        return notices

    def to_frame(self) -> "pd.DataFrame":
        """A row a firing: recording, gain, seconds, level in `unit`, whether it is marked."""
        names = ("recording", "gain_db", "at_s", "level_db", "marked")
        rows = [
            (one.name, one.trigger.gain_db, *at)
            for one in self
            for at in zip(one.firings_s, one.levels_db, one.marked, strict=True)
        ]
        return frame([dict(zip(names, row, strict=True)) for row in rows])

    def to_object(self) -> Object:
        """The object that `audiolevel trial --json` writes."""
        return trial_json.as_json(self.base, self.survey, self.notices)

    def document(self) -> Document:
        """How often it fired at each gain, and what that means a day."""
        return trial_document(self.survey, self.base, self.notices)

    def _pictures(self) -> dict[str, Picture]:
        from audiolevel.report.trial.figure import firings_over_time

        return {"trial": firings_over_time(self.base, self.survey.scale)}

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        from audiolevel.report.trial.page import trial_page

        return trial_page(self.survey, self.base, self.notices, pictures["trial"])


def planned(plan: Plan | AnyPath) -> PlanRecord:
    """The records of a plan, or of the JSON of one.

    Raises
    ------
    SettingError
        The file is no plan.
    """
    # by way of its JSON: a plan at hand and one read again give the same answer
    return plan.record if isinstance(plan, Plan) else read_record(plan)
