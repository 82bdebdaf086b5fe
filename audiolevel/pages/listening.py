"""The part of a plan's page in which firings are listened to and labelled.

The page holds the level over time and the moments of the firings, no sound: that comes from the
file that the reader opens, and stays on the reader's computer (listen.js).

Entry points: `listening_section`, `listening_object`.
"""

import hashlib
import json

from audiolevel.metering.annotations import LABELS
from audiolevel.pages.document import section, table
from audiolevel.pages.html import Html, tag
from audiolevel.pages.trace import played_firings, trace_object
from audiolevel.planning.plan import SitePlan
from audiolevel.records import Object
from audiolevel.sounds.catalogue import SOUNDS


def listening_object(plan: SitePlan) -> Object:
    """What the script needs beside the plan's JSON: traces, firings and labels."""
    survey = plan.survey
    recordings = trace_object(survey.measurements)
    labels = [
        {
            "recording": i,
            "start_s": mark.start_s,
            "end_s": mark.end_s,
            "sound": mark.sound,
            "distance_m": mark.distance_m,
            "label": mark.label,
        }
        for i, of in enumerate(survey.labels)
        for mark in of
    ]
    # labels belong to recordings, whatever is planned from them
    what = json.dumps([recordings, labels], sort_keys=True).encode()
    return {
        "id": hashlib.sha256(what).hexdigest()[:16],
        "spl_at_full_scale_db": survey.scale.spl_at_full_scale_db,
        "unit": survey.scale.unit,
        "recordings": recordings,
        "firings": _firings(plan),
        "labels": labels,
        "sounds": _names(plan),
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


def _names(plan: SitePlan) -> list[str]:
    """Names to label with: what the site wants, what is marked already, what is built in."""
    wanted = [one.name for one in plan.survey.wanted]
    wanted += [one.sound for one in plan.survey.site.wanted if one.sound]
    marked = [mark.sound for of in plan.survey.marks for mark in of]
    return list(dict.fromkeys([*wanted, *marked, *(one.name for one in SOUNDS)]))


def listening_section(plan: SitePlan) -> Html | None:
    """Where recordings are opened, drawn, listened to and labelled; None without anything heard."""
    if all(one.laf is None or not len(one.laf) for one in plan.survey.measurements):
        return None
    return section(
        "listen",
        "Listen to what fires",
        tag("p", "This needs the page's script, which is switched off.", class_="without-script"),
        tag(
            "div",
            tag(
                "p",
                "The line is the level over time, the marks on the rail above it are the firings "
                "of the setting chosen above. Open the recording to hear them: it is read on this "
                "computer and goes nowhere.",
            ),
            _opening(),
            tag("div", id="listen-traces"),
            _labelling(),
            tag("p", id="listen-progress", role="status"),
            _saving(),
            _list(),
            tag("audio", id="listen-audio", preload="metadata"),
            class_="script-only",
        ),
    )


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
            class_="control",
        ),
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
