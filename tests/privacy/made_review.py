"""A review of a made street, for the tests of what is computed and said about it."""

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile as sf

from audiolevel.metering.measurement import measure
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.privacy.audibility import SpeechAnalyser, SpeechAnalysis
from audiolevel.privacy.review import Review, make_review
from audiolevel.site.sections import Microphone, Place, Site, Wanted
from tests.studies.street_noises import MAKERS, RATE_HZ

SITE = Site(
    microphone=Microphone(spl_at_full_scale_db=110.0),
    wanted=(Wanted(sound="vehicle horn", distance_m=10.0),),
    place=(Place("bench", 3.0),),
)


@lru_cache(maxsize=4)
def plan_and_analysis(site: Site = SITE) -> tuple[SitePlan, SpeechAnalysis]:
    """A plan from a minute of road at 16 kHz, and the analysis of its sound."""
    road = np.concatenate([MAKERS["road"](np.random.default_rng(k)) for k in range(6)])
    samples = np.asarray(0.05 * road / np.abs(road).max(), dtype=np.float32)
    analyser = SpeechAnalyser(RATE_HZ)
    analyser.add(samples[:, None])
    gains = gains_to_simulate(site)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "by_the_school.wav"
        sf.write(path, samples, RATE_HZ)
        measurement = measure(path, gains=gains)
        return plan_of(survey_of([measurement], site)), analyser.result()


@lru_cache(maxsize=4)
def review_of(site: Site = SITE) -> Review:
    """The review of that plan."""
    plan, analysis = plan_and_analysis(site)
    return make_review(plan, [analysis])
