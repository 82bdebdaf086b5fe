"""Placements against the plain trigger: a sound laid into the history, and the history alone."""

import numpy as np
import pytest

from audiolevel.ground.arrays import Centi
from audiolevel.metering.decibels import centibels
from audiolevel.metering.meter import ROW_S
from audiolevel.triggers.response import SweptTrigger
from audiolevel.triggers.trigger import MODES, Trigger, sweep


def _site(rng: np.random.Generator) -> Centi:
    level = -55 + np.convolve(rng.normal(0, 5, 3060), np.ones(60) / 8, "valid")[:3000]
    for at in rng.integers(0, 3000, 12):
        level[at : at + 60] += 20
    return centibels(level)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize(("hold_s", "rearm_s"), [(0.0, 10.0), (0.05, 0.5)])
def test_each_placement_is_what_the_whole_history_with_the_sound_gives(
    mode: str, hold_s: float, rearm_s: float
) -> None:
    rng = np.random.default_rng(7)
    site, sound_rows = _site(rng), 80
    trigger = Trigger(mode, 5.0 if mode != "threshold" else -40.0, hold_s=hold_s, rearm_s=rearm_s)
    settings = [-50.0, -42.0, -36.0] if mode == "threshold" else [4.0, 9.0, 15.0]
    swept = SweptTrigger(site, trigger, settings, ROW_S)
    rows = rng.integers(swept.armed_from, len(site) - sound_rows, 60)
    context = swept.context
    mixed = np.stack(
        [site[np.maximum(np.arange(row - context, row + sound_rows), 0)] for row in rows]
    )
    mixed[:, context:] = np.maximum(mixed[:, context:], -3800)
    hits = swept.fires(mixed, rows)
    for place, row in enumerate(rows):
        whole = site.copy()
        whole[row : row + sound_rows] = mixed[place, context:]
        fired = sweep(whole, trigger, settings, ROW_S)
        inside = [bool(((at >= row) & (at < row + sound_rows)).any()) for at in fired]
        assert hits[place].tolist() == inside


def test_before_it_is_armed_nothing_fires() -> None:
    # armed from the end of the first second on: row 99 ends at 1 s
    swept = SweptTrigger(np.full(500, -6000, np.int16), Trigger("threshold", -40.0), [-40.0], ROW_S)
    assert swept.armed_from == 99
    assert swept.context == 0  # a threshold without hold looks at the sound alone
