"""Review what a plan means for people's speech."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as Date
from datetime import datetime
from pathlib import Path

from audiolevel.api.planning import Marks, marks_of, marks_within
from audiolevel.api.results import (
    AnyPath,
    Progress,
    Result,
    as_kind,
    each_of,
    name_of,
    names_its_site,
    parts_of,
    paths_of,
    quiet,
    site_of,
    sources_of,
)
from audiolevel.errors import RecordingError
from audiolevel.files import text_mark, write_text
from audiolevel.metering.level_log import is_history
from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import Recording
from audiolevel.metering.sound_files import open_recording
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import gains_to_simulate, refuse_twice, survey_of
from audiolevel.privacy.audibility import SpeechAnalyser
from audiolevel.privacy.read_aloud import read_walk_test
from audiolevel.privacy.review import Review, make_review, redacted
from audiolevel.records import Object
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.markdown import as_markdown
from audiolevel.report.privacy import json as privacy_json
from audiolevel.report.privacy.document import review_document, review_page
from audiolevel.site.sections import Site
from audiolevel.site.site_file import check_number


@dataclass(frozen=True, eq=False)
class PrivacyReview(Review, Result):
    """How much speech would be recorded, from how far it could be understood, what reduces it."""

    date: str = ""
    _stem = "privacy"

    @property
    def name(self) -> str:
        """Of the site, or of its recordings."""
        survey = self.plan.survey
        return survey.site.site.name or ", ".join(one.path.name for one in survey.measurements)

    def document(self) -> Document:
        """The review as a sheet for whoever decides."""
        return review_document(self, self.name, self.date)

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
        return [*files, where / "privacy.md"]

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        return review_page(self.document(), pictures)


@names_its_site
def review_privacy(
    recordings: Sequence[AnyPath] | AnyPath,
    *,
    site: Site | AnyPath | None = None,
    starts: Sequence[datetime | None] = (),
    marks: Sequence[Marks] = (),
    channel: int | None = None,
    from_s: Sequence[float | None] = (),
    to_s: Sequence[float | None] = (),
    sequence: bool = False,
    assume_full_scale_db: float | None = None,
    date: str | None = None,
    redact: bool = False,
    walk_test: AnyPath | None = None,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress = quiet,
) -> PrivacyReview:
    """Review a site for what recording there means for people's speech.

    It informs and is no legal advice. No speech is transcribed, nobody is identified.

    Parameters
    ----------
    recordings : path or sequence of path
        Sound files; a level history holds nothing to judge speech by.
    site, starts, marks, channel, from_s, to_s, sequence, confidence, seed, progress
        As in `plan`.
    assume_full_scale_db : float, optional
        Without a calibration: assume this SPL for a sine that fills the scale.
    date : str, optional
        Of the sheet; by default today's.
    redact : bool
        Leave the recordings' names out.
    walk_test : path, optional
        What a listener wrote down of words read at known distances, to be compared.

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    known, folder = site_of(site)
    if assume_full_scale_db is not None:
        check_number(assume_full_scale_db, "assume_full_scale_db", "spl_at_full_scale_db")
    assumed = known.microphone.spl_at_full_scale_db is None and assume_full_scale_db is not None
    # a calibration of the site's own is never overruled by an assumption
    if assumed:
        microphone = replace(known.microphone, spl_at_full_scale_db=assume_full_scale_db)
        known = replace(known, microphone=microphone)
    gains = gains_to_simulate(known)
    measurements, analyses = [], []
    for path in paths_of(recordings):
        if is_history(path):
            raise RecordingError(
                f"{path}: is a level history and holds nothing to judge speech by; give the sound"
            )
    sources = sources_of(recordings, starts, sequence=sequence)
    parts, each_start = parts_of(from_s, to_s, sources), each_of(starts, sources, "starts")
    for source, part, given in zip(sources, parts, each_start, strict=True):
        sound = source if isinstance(source, Recording) else open_recording(source)
        start = given or sound.start
        # fed while measuring: the sound is read once and never kept
        analyser = SpeechAnalyser(sound.rate_hz, part.start(start))
        with progress(name_of(sound)) as advance:
            measurements.append(
                measure(
                    sound,
                    channel=channel,
                    start=given,
                    gains=gains,
                    on_block=analyser.add,
                    progress=advance,
                    part=part,
                )
            )
        analyses.append(analyser.result())
    refuse_twice(measurements)
    survey = survey_of(
        measurements,
        known,
        marks=marks_within(marks_of(marks, sources), parts),
        folder=folder,
        confidence=confidence,
        seed=seed,
    )
    # silence beside sound says nothing of the noise that hides talk
    silent = [one.path for one in survey.left_out]
    each = zip(measurements, analyses, strict=True)
    analyses = [analysis for one, analysis in each if one.path not in silent]
    readings = () if walk_test is None else read_walk_test(walk_test)
    review = make_review(plan_of(survey), analyses, calibration_assumed=assumed, walk_test=readings)
    # after the review, which still needs the recordings
    if redact:
        review = redacted(review)
    return as_kind(PrivacyReview, review, date=date or f"{Date.today()}")
