"""Everything that hears the blocks of a recording, and what it has heard so far.

One reading of the file serves the meter, the summary, the onsets, the simulated gains, the spectrum
and the checks of samples and channels.

Entry points: `Listener`, `Request`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from audiolevel.metering.bandwidth import LongTermSpectrum
from audiolevel.metering.channels import ChannelCheck
from audiolevel.metering.gain import Gains, GainSimulator
from audiolevel.metering.irregularities import SampleCheck
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.meter import Meter
from audiolevel.metering.readers import Block
from audiolevel.metering.recordings import Recording
from audiolevel.metering.row_gatherer import RowGatherer, Span

Progress = Callable[[int], object]
BlockListener = Callable[[Block], object]


@dataclass(frozen=True)
class Request:
    """What `measure` was asked for."""

    channel: int | None
    start: datetime | None
    history: HistoryWriter | None
    gains: Gains | None
    on_block: BlockListener | None
    progress: Progress | None
    span: Span | None
    second_core: bool
    keep_levels: bool


class Listener:
    """Everything that hears the blocks of a recording, and what they have heard so far."""

    def __init__(self, recording: Recording, request: Request) -> None:
        channel, gains = request.channel, request.gains
        self._recording, self._request = recording, request
        self._meter = Meter(
            recording.rate_hz,
            recording.channels,
            clip_amplitude=recording.clip_amplitude,
            channel=None if channel is None else channel - 1,
            keep_waves=gains is not None,
            second_core=request.second_core,
        )
        self.rows = RowGatherer(
            request.history,
            request.span,
            channels=recording.channels if channel is None else 0,
            # the simulator keeps them anyway
            keep_levels=request.keep_levels and gains is None,
        )
        self.channels = recording.channels if channel is None else 1
        self.simulator = None if gains is None else _simulator(gains, recording, self.channels)
        self.check = ChannelCheck(recording.channels)
        first_s = 0 if request.span is None else request.span.first_s
        self.spectrum = LongTermSpectrum(recording.rate_hz, first_s)
        self.samples = SampleCheck(recording.rate_hz)
        self.frames = 0 if request.span is None else request.span.begin_s * recording.rate_hz
        self.beyond_half = 0

    def listen(self) -> None:
        """Go through the recording, or through what surrounds its span."""
        span = self._request.span
        first_s, stop_s = (0, None) if span is None else (span.begin_s, span.end_s)
        for block in self._recording.blocks(first_s=first_s, stop_s=stop_s):
            self._hear(block)

    def _hear(self, block: Block) -> None:
        recording, request = self._recording, self._request
        metered = self._meter.feed(block)
        self.rows.add(metered.rows, metered.channel_rows)
        inside = _inside(block, self.frames, recording.rate_hz, request.span)
        if recording.channels > 1:
            self.check.add(inside)
        listened = self._listened_to(inside)
        self.spectrum.add(listened)
        self.samples.add(listened)
        if self.simulator is not None:
            self.simulator.add(metered)
            # only a plan needs it, to tell how far a clipped recording was too loud
            self.beyond_half += _beyond_half(self._listened_to(block), recording)
        if request.on_block is not None:
            request.on_block(listened)
        self.frames += len(block)
        if request.progress is not None:
            # milliseconds
            request.progress(len(block) * 1000 // recording.rate_hz)

    @property
    def duration_s(self) -> float:
        """Length of what was heard of the span, or of the whole."""
        span, heard_s = self._request.span, self.frames / self._recording.rate_hz
        # only the last span can be cut short by the recording's end
        return heard_s if span is None else min(heard_s, span.stop_s) - span.first_s

    @property
    def half_scale_share(self) -> float:
        """Share of samples beyond half of full scale."""
        return self.beyond_half / (self.frames * self.channels)

    def _listened_to(self, block: Block) -> Block:
        channel = self._request.channel
        return block if channel is None else block[:, channel - 1 : channel]


def _inside(block: Block, at_frame: int, rate_hz: int, span: Span | None) -> Block:
    """The part of a block that lies in the span."""
    if span is None:
        return block
    # in frames of this block; a block before the span comes out empty
    first, stop = (max(0, s * rate_hz - at_frame) for s in (span.first_s, span.stop_s))
    return block[first:stop]


def _simulator(gains: Gains, recording: Recording, channels: int) -> GainSimulator:
    give_up = None
    if gains.clipped_share_limit is not None and recording.frames > 0:
        # a count of samples; past it the share of the whole cannot come back below the limit
        give_up = gains.clipped_share_limit * recording.frames * channels
    return GainSimulator(
        gains.gains_db, recording.rate_hz, noise=gains.noise, give_up_after=give_up
    )


def _beyond_half(block: Block, recording: Recording) -> int:
    half = 0.5 * recording.clip_amplitude
    # two comparisons, since an abs would copy the block
    return int(np.count_nonzero(block >= half) + np.count_nonzero(block <= -half))
