"""What several tests need."""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from jsonschema import Draft202012Validator

from audiolevel.ground.records import Object, json_text
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan import json as plan_json

# the same examples every time: a search for new ones is a run of its own (docs/robustness.md)
settings.register_profile("same every time", derandomize=True, database=None, deadline=None)
settings.register_profile("search", max_examples=2000, deadline=None)
settings.load_profile("same every time")

ROOT = Path(__file__).parents[1]

# what is slow by nature, by file or folder: CI runs all of it, the README's second command the rest
SLOW_BY_NATURE = {
    "study": (
        *("studies/", "planning/test_evidence.py", "planning/test_wanted.py"),
        *("sounds/test_detection.py", "metering/test_gain_control.py", "test_sample_audio.py"),
        *("privacy/test_speech_detection.py", "planning/test_choice.py"),
        *("privacy/test_masking.py", "batch/test_sound_check.py", "followup/test_faults.py"),
        "test_confidentiality.py",
    ),
    "process": (
        *("batch/test_executors.py", "batch/test_runner.py", "cli/test_batch.py"),
        *("api/test_folders.py", "cli/test_same_bytes.py", "cli/test_no_network.py"),
        *("cli/test_bad_places.py", "cli/test_inputs.py", "cli/test_outputs.py"),
        "folder/test_kills.py",
    ),
    "browser": (
        *("report/test_plan_page_in_browser.py", "report/test_other_pages_in_browser.py"),
        "report/test_site_in_browser.py",
    ),
    "corpus": ("robustness/", "planning/test_histories.py", "cli/test_typed.py"),
    "whole": (
        *("cli/test_privacy.py", "planning/test_plan.py", "report/test_plan_document.py"),
        *("folder/test_kept.py", "planning/test_trade.py", "cli/test_site_folder.py"),
        *("api/test_surveys.py", "api/test_frames.py", "api/test_planning.py"),
        *("api/test_following.py", "api/test_reviewing.py", "report/test_documents.py"),
        *("report/test_batch_figure.py", "folder/test_visits.py", "batch/test_pooling.py"),
        *("cli/test_plan.py", "cli/test_trial.py", "cli/test_shared_outputs.py"),
        *("privacy/test_mitigation.py", "planning/test_asked.py", "planning/test_trial.py"),
        *("followup/test_verdict.py", "followup/test_comparison.py", "planning/test_storage.py"),
        *("api/test_redacting.py", "privacy/test_review.py", "planning/test_prediction.py"),
    ),
}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow by nature, but for the tests that are always run."""
    for item in items:
        if item.get_closest_marker("always"):
            continue
        # within the folder of the tests; doctests lie outside it
        name = item.path.as_posix().partition("/tests/")[2]
        for kind, places in SLOW_BY_NATURE.items():
            if name.startswith(places):
                item.add_marker(kind)


SCHEMA = ROOT / "docs" / "plan.schema.json"


@pytest.fixture(scope="session")
def recordings() -> Path:
    """The folder of real street recordings."""
    where = os.environ.get("AUDIOLEVEL_RECORDINGS")
    if not where or not Path(where).is_dir():
        pytest.skip("AUDIOLEVEL_RECORDINGS does not name the folder of street recordings")
    return Path(where)


@pytest.fixture(scope="session")
def real_levels() -> Path:
    """The folder of real days' levels."""
    where = os.environ.get("AUDIOLEVEL_REAL_LEVELS")
    if not where or not Path(where).is_dir():
        pytest.skip("AUDIOLEVEL_REAL_LEVELS does not name the folder of real days' levels")
    return Path(where)


@pytest.fixture(scope="session")
def sound_theme() -> Path:
    """The folder of a desktop's recorded sounds: events that nobody here made."""
    where = os.environ.get("AUDIOLEVEL_SOUND_THEME")
    if not where or not (Path(where) / "bell.oga").is_file():
        pytest.skip("AUDIOLEVEL_SOUND_THEME does not name the sounds of sound-theme-freedesktop")
    return Path(where)


@pytest.fixture(scope="session")
def sample_audio() -> Path:
    """The sample scenario in the repository."""
    return ROOT / "sample_audio"


def _first_rows(value: Any) -> Any:
    """Curves with three of their hundred settings, which are all alike: the rest takes long."""
    if isinstance(value, dict):
        return {name: _first_rows(one) for name, one in value.items()}
    if isinstance(value, list):
        # curves and sounds are records, and all of them are looked at
        rows = value if value and isinstance(value[0], dict) else value[:3]
        return [_first_rows(one) for one in rows]
    return value


@pytest.fixture(scope="session", autouse=True)
def every_plan_fits_its_schema() -> Iterator[None]:
    """Every plan that any test writes as JSON is held against the documented schema."""
    validator = Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8")))
    patch = pytest.MonkeyPatch()
    unchecked = plan_json.as_json

    def checked(plan: SitePlan) -> Object:
        written = unchecked(plan)
        whole = json.loads(json_text(written))
        validator.validate(whole | {"curves": _first_rows(whole["curves"])})
        return written

    patch.setattr(plan_json, "as_json", checked)
    yield
    patch.undo()
