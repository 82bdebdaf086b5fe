"""Review what a plan means for people's speech."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date as Date
from hashlib import sha256
from pathlib import Path

from audiolevel.api.measuring import measured
from audiolevel.api.plans import Plan, planned
from audiolevel.api.redacting import redacted
from audiolevel.api.results import Progress, Result, as_kind, names_its_site, site_of
from audiolevel.folder.visits import FolderVisit
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.ground.files import text_mark, write_text
from audiolevel.ground.records import Object
from audiolevel.ground.texts import read_bytes
from audiolevel.metering.listener import BlockListener
from audiolevel.metering.sound_files import recording_of
from audiolevel.metering.visit import AnyPath, Visit, Visits, visits_of
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import gains_to_simulate, refuse_twice, survey_of
from audiolevel.privacy.audibility import SpeechAnalyser, SpeechAnalysis
from audiolevel.privacy.read_aloud import read_walk_test
from audiolevel.privacy.review import Review, make_review
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.markdown import as_markdown
from audiolevel.report.privacy import json as privacy_json
from audiolevel.report.privacy.assessment import assessment
from audiolevel.report.privacy.document import ANEW, review_document
from audiolevel.report.privacy.page import review_page
from audiolevel.site.sections import Site

ASSESSMENT = "assessment.md"


@dataclass(frozen=True, eq=False, repr=False)
class PrivacyReview(Review, Result):
    """How much speech would be recorded, from how far it could be understood, what reduces it."""

    date: str = ""
    whose: str = ANEW
    _stem = "privacy"

    @property
    def name(self) -> str:
        """Of the site, or of its recordings."""
        survey = self.plan.survey
        return survey.site.site.name or ", ".join(one.path.name for one in survey.measurements)

    @property
    def unit(self) -> str:
        """Of its levels: dB SPL, or dB FS without a calibration."""
        return self.plan.survey.scale.unit

    def redacted(self) -> "PrivacyReview":
        """The same without names of files, moments and hours of the day."""
        listened = replace(self.listened, hours=())
        return redacted(replace(self, by_hour={}, listened=listened))

    def document(self) -> Document:
        """The review as a sheet for whoever decides."""
        return review_document(self, self.name, self.date, self.whose)

    def to_object(self) -> Object:
        """The object that `audiolevel privacy --json` writes."""
        return privacy_json.as_json(self, self.document())

    def _pictures(self) -> dict[str, Picture]:
        # no calibration, no distance, no picture; the sheet says why
        if not self.curves:
            return {}
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.privacy.figure import radii_and_index
        from audiolevel.report.privacy.rings import rings

        return {"privacy": radii_and_index(self, self.name), "rings": rings(self, self.name)}

    def _save_pictures(self, where: Path, pictures: Mapping[str, Picture]) -> list[Path]:
        files = super()._save_pictures(where, pictures)
        mark = text_mark(self._stem)
        shown = {name: (f"{name}.png", one.alternative) for name, one in pictures.items()}
        # a comment: no reader of the sheet sees it
        words = f"{as_markdown(self.document(), shown)}\n<!-- {mark} -->\n"
        write_text(where / "privacy.md", words, mark)
        files.append(where / "privacy.md")
        if not self.leaves_assessment(where):
            body = as_markdown(self._assessment())
            end = f"<!-- {mark}: {_digest(body)} -->\n"
            write_text(where / ASSESSMENT, f"{body}\n{end}", mark)
            files.append(where / ASSESSMENT)
        return files

    def leaves_assessment(self, folder: AnyPath) -> bool:
        """Whether a folder has an assessment that somebody has filled in, and which is kept."""
        asked = Path(folder) / ASSESSMENT
        if not asked.exists():
            return False
        text = read_bytes(asked).decode("utf-8", "replace")
        body, _, end = text.rpartition("\n<!-- ")
        # as it was written, by its own digest: nobody has touched it
        return end != f"{text_mark(self._stem)}: {_digest(body)} -->\n"

    def _assessment(self) -> Document:
        return assessment(self, self.name, self.date)

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        return review_page(self, self.document(), pictures, self._assessment())


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()[:16]


@names_its_site
def review_privacy(
    recordings: Visits,
    *,
    site: Site | AnyPath | None = None,
    plan: Plan | AnyPath | None = None,
    date: str | None = None,
    walk_test: AnyPath | None = None,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress | None = None,
) -> PrivacyReview:
    """Review a site for what recording there means for people's speech.

    It informs and is no legal advice. No speech is transcribed, nobody is identified.

    Parameters
    ----------
    recordings : Visit or path, or sequence of them
        Sound files; a level history holds nothing to judge speech by.
    site, confidence, seed, progress
        As in `plan`. A site without a calibration may assume one (`Site.assuming`).
    plan : Plan or path, optional
        A plan that was made before, or the JSON of one: the review speaks of its setting. Without
        one the site is planned anew from these recordings.
    date : str, optional
        Of the sheet; by default today's.
    walk_test : path, optional
        What a listener wrote down of words read at known distances, to be compared.

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    try:
        day = Date.today() if date is None else Date.fromisoformat(date)
    except ValueError as error:
        raise SettingError(f"date: {date!r} is no day; write it like 2026-03-02") from error
    known = site_of(site)
    visits = visits_of(recordings)
    for visit in visits:
        if visit.is_history:
            raise RecordingError(
                f"{visit.name}: is a level history and holds nothing to judge speech by; give the "
                "sound"
            )
    heard = [_Heard(visit) for visit in visits]
    visits = [one.visit for one in heard]
    measurements = measured(
        visits,
        known,
        gains=gains_to_simulate(known),
        on_block=[one.listener for one in heard],
        progress=progress,
    )
    refuse_twice(measurements)
    survey = survey_of(measurements, known, confidence=confidence, seed=seed)
    # silence beside sound says nothing of the noise that hides talk
    silent = [one.path for one in survey.left_out]
    each = zip(measurements, [one.analysis() for one in heard], strict=True)
    analyses = [analysis for one, analysis in each if one.path not in silent]
    readings = () if walk_test is None else read_walk_test(walk_test)
    made = plan_of(survey)
    whose = ANEW
    if plan is not None:
        record = planned(plan)
        made = made.speaking_of(record)
        logged = "" if record.followed is None else ", its firings as the camera's log has shown"
        whose = f"of the plan{logged}"
    review = make_review(made, analyses, walk_test=readings)
    return as_kind(PrivacyReview, review, date=f"{day}", whose=whose)


class _Heard:
    """What a review hears in a visit: fed while it is measured, or kept from an earlier review.

    The sound is read once and never kept.
    """

    def __init__(self, visit: Visit) -> None:
        # once, since a stream comes but once
        sound = recording_of(visit.source)
        self.visit = replace(visit, recording=sound)
        self._kept = visit.kept_speech() if isinstance(visit, FolderVisit) else None
        self._found = None if self._kept is None else self._kept.get(SpeechAnalysis)
        self._analyser: SpeechAnalyser | None = None
        if self._found is None:
            start = visit.part.start(visit.began or sound.start)
            self._analyser = SpeechAnalyser(sound.rate_hz, start)

    @property
    def listener(self) -> BlockListener | None:
        """Who must hear the blocks; None where nobody must."""
        return None if self._analyser is None else self._analyser.add

    def analysis(self) -> SpeechAnalysis:
        """Of all that was heard."""
        if self._found is not None:
            return self._found
        assert self._analyser is not None  # what is not kept was heard
        made = self._analyser.result()
        if self._kept is not None:
            self._kept.put(made)
        return made
