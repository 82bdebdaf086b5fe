"""Dead and inverted channels on made signals, both sides of each limit."""

import numpy as np
import pytest

from audiolevel.metering.channels import DEAD_BELOW_DB, ChannelCheck

RNG = np.random.default_rng(4)
SITE = RNG.normal(0.0, 0.1, 16_000).astype(np.float32)
OTHER = RNG.normal(0.0, 0.1, 16_000).astype(np.float32)


def _faults(*channels: np.ndarray) -> list[tuple[int, str]]:
    check = ChannelCheck(len(channels))
    check.add(np.stack(channels, axis=1).astype(np.float32))
    return check.faults()


def test_channels_that_hear_the_same_have_no_fault() -> None:
    assert _faults(SITE, SITE) == []
    assert _faults(SITE, OTHER) == []  # far apart: no relation is no fault
    assert _faults(SITE) == []


@pytest.mark.parametrize(("under_db", "dead"), [(0.1, True), (-0.1, False)])
def test_a_channel_is_dead_from_forty_decibels_under_the_loudest(
    under_db: float, dead: bool
) -> None:
    weak = SITE * 10 ** (-(DEAD_BELOW_DB + under_db) / 20)
    assert _faults(SITE, weak) == ([(2, "dead")] if dead else [])


@pytest.mark.parametrize(("noise", "inverted"), [(0.5, True), (1.0, False)])
def test_a_mirror_is_inverted_from_a_correlation_of_minus_0_8(noise: float, inverted: bool) -> None:
    # correlation with the mirror and noise of as much more: -1/sqrt(1 + 0.25) and -1/sqrt(2)
    assert _faults(SITE, -SITE + noise * OTHER) == ([(2, "inverted")] if inverted else [])


def test_of_three_the_odd_one_is_inverted() -> None:
    assert _faults(SITE, SITE, -SITE) == [(3, "inverted")]
    assert _faults(SITE, -SITE, SITE) == [(2, "inverted")]
    # the first is never called so: the others are not either, for they agree with each other
    assert _faults(SITE, -SITE, -SITE) == []


def test_all_silent_is_no_fault_of_a_channel() -> None:
    assert _faults(np.zeros(100), np.zeros(100)) == []


def test_two_checks_together_are_one() -> None:
    both = np.stack([SITE, -SITE], axis=1)
    whole, first, second = ChannelCheck(2), ChannelCheck(2), ChannelCheck(2)
    whole.add(both)
    first.add(both[:7000])
    second.add(both[7000:])
    first.include(second)
    assert first.faults() == whole.faults() == [(2, "inverted")]
