"""The part of a page in which firings are listened to and labelled.

The page holds the level over time and the moments of the firings, no sound: that comes from the
file that the reader opens, and stays on the reader's computer (scripts/player.js).

Entry points: `listening_part`, `listening_object`, `trial_object`, `LISTENING`.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from itertools import groupby

from audiolevel.ground.records import Object
from audiolevel.metering.annotations import LABELS
from audiolevel.metering.calibration import Scale
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.survey import Survey
from audiolevel.planning.trial import Trial
from audiolevel.report.html import Html, table, tag
from audiolevel.report.trace import played_firings, trace_object
from audiolevel.sounds.catalogue import SOUNDS

# the scripts of the section, in their order
LISTENING = ("sortable", "trace_drawing", "trace_view", "labels", "player", "listen")
_KEYS = (
    "The keys on the buttons work anywhere on the page; on a trace + and − look closer and wider, "
    "the arrows go along it, and Home shows all of it."
)


def listening_object(plan: SitePlan) -> Object:
    """What the script needs beside the plan's JSON: traces, labels, firings of every setting."""
    scale = plan.survey.scale
    of_curves = [
        _at_gain(scale, one.gain_db, one.trigger.mode, one.curve.prediction.settings_db.tolist())
        for one in plan.options
    ]
    return _listening(plan.survey, {**_firings(plan), "at_gain": of_curves})


def trial_object(survey: Survey, trials: Sequence[Trial]) -> Object:
    """What the script needs of a trial: traces, labels, and the firings at each gain.

    Parameters
    ----------
    survey : Survey
    trials : sequence of Trial
        By gain, then by recording.
    """
    lists: list[object] = []
    of_gains = []
    for gain_db, at_gain in groupby(trials, key=lambda trial: trial.gain.gain_db):
        heard = list(at_gain)
        lists.append(played_firings([one.fired for one in heard], survey.row_s))
        settings = heard[0].prediction.settings_db.tolist()
        of_gains.append(_at_gain(survey.scale, gain_db, heard[0].trigger.mode, settings))
    of_curve = list(range(len(lists)))
    return _listening(survey, {"of_curve": of_curve, "lists": lists, "at_gain": of_gains})


def _at_gain(scale: Scale, gain_db: float, mode: str, at_db: Sequence[float]) -> Object:
    """What turns the trace into levels at a gain, and the trigger's levels; a change has none."""
    level = [scale.shown(one, gain_db) for one in at_db] if mode == "threshold" else None
    return {"shift_db": scale.shown(gain_db, gain_db), "level_db": level}


def _listening(survey: Survey, firings: Object) -> Object:
    recordings = trace_object(survey.measurements)
    labels = [{"recording": i, **asdict(mark)} for i, of in enumerate(survey.labels) for mark in of]
    # labels belong to recordings, whatever is made of them
    what = json.dumps([recordings, labels], sort_keys=True).encode()
    return {
        "id": hashlib.sha256(what).hexdigest()[:16],
        "unit": survey.scale.unit,
        "recordings": recordings,
        "firings": firings,
        "labels": labels,
        "sounds": _names(survey),
    }


def _firings(plan: SitePlan) -> Object:
    """Firings of every curve of the plan's JSON, in its order; equal ones are held once."""
    lists: list[object] = []
    places: dict[str, int] = {}
    of_curve = []
    for option in plan.options:
        played = played_firings(option.curve.fired, plan.survey.row_s)
        # a gain that only shifts levels fires at the same moments
        key = json.dumps(played)
        if key not in places:
            places[key] = len(lists)
            lists.append(played)
        of_curve.append(places[key])
    return {"of_curve": of_curve, "lists": lists}


def _names(survey: Survey) -> list[str]:
    """Names to label with: what the site wants, what is marked already, what is built in."""
    wanted = [one.name for one in survey.wanted]
    wanted += [one.sound for one in survey.site.wanted if one.sound]
    marked = [mark.sound for of in survey.marks for mark in of]
    return list(dict.fromkeys([*wanted, *marked, *(one.name for one in SOUNDS)]))


def listening_part(survey: Survey) -> Html | None:
    """Where recordings are opened, drawn, listened to and labelled; None without anything heard."""
    if all(one.laf is None or not len(one.laf) for one in survey.measurements):
        return None
    hint = (
        "The line is the level over time at the gain chosen above, the marks on the rail are the "
        "firings, the arrow at the left is the trigger's level. Open the recording to hear them: "
        "it is read on this computer and goes nowhere."
    )
    parts = tag(
        "div",
        tag("p", hint),
        _opening(),
        tag("div", id="listen-traces"),
        _labelling(),
        tag("p", id="listen-progress", role="status"),
        _saving(),
        _list(),
        tag("audio", id="listen-audio", preload="metadata"),
        class_="script-only",
    )
    without = "This needs the page's script, which is switched off."
    return tag("div", tag("p", without, class_="without-script"), parts)


def _opening() -> Html:
    return tag(
        "p",
        tag("label", "Open the recording: ", for_="listen-file"),
        tag(
            "input",
            type="file",
            id="listen-file",
            accept="audio/*,video/*,.wav,.flac,.ogg",
            multiple=True,
        ),
        tag("span", id="listen-opened", role="status"),
        class_="control",
    )


def _labelling() -> Html:
    buttons = [
        ("previous", "◀ Previous", "p"),
        ("play", "Play five seconds", "space"),
        ("next", "Next ▶", "n"),
        ("wanted", "Wanted", "w"),
        ("false", "False", "f"),
        ("unsure", "Unsure", "u"),
        ("clear", "Clear", "x"),
    ]
    return tag(
        "div",
        tag("p", id="listen-current", aria_live="polite"),
        tag(
            "div",
            [
                tag("button", said, " ", tag("kbd", key), type="button", id=f"listen-{name}")
                for name, said, key in buttons
            ],
            class_="buttons",
        ),
        tag(
            "div",
            tag("label", "Name of what is wanted ", for_="listen-sound"),
            tag("input", id="listen-sound", list="listen-names", autocomplete="off"),
            tag("datalist", id="listen-names"),
            tag("label", " how far off, m ", for_="listen-distance"),
            tag("input", id="listen-distance", type="number", min="0", step="any"),
            # whoever speaks to the browser says letters that are no commands
            tag(
                "label", " ", tag("input", id="listen-keys", type="checkbox", checked=True), " keys"
            ),
            class_="control",
        ),
        tag("p", _KEYS, class_="dim keys"),
        class_="labelling",
        id="listen-panel",
        role="group",
        aria_label="listen and label",
    )


def _saving() -> Html:
    return tag(
        "div",
        tag("button", "Save the labels", type="button", id="listen-save"),
        tag("button", "Export the list of firings", type="button", id="listen-export"),
        tag("button", "Forget all labels", type="button", id="listen-forget"),
        tag(
            "p",
            f"Labels ({', '.join(LABELS)}) stay in this browser until they are forgotten. The "
            "saved file is what audiolevel plan --marks reads, one for each recording.",
            class_="dim",
        ),
        class_="buttons",
    )


def _list() -> Html:
    head = ("firing", "in the recording", "by the clock", "loudest", "label", "sound")
    return tag("div", table(head, [], id="listen-list", class_="sortable"), id="listen-table")
