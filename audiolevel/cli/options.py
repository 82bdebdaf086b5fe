"""Options that several commands share, and what is done with them."""

import functools
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from math import isnan
from threading import Timer
from time import monotonic
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

if TYPE_CHECKING:
    from audiolevel import Visit
    from audiolevel.api.results import Result
    from audiolevel.api.site_folder import SiteFolder


class _Moment(click.ParamType):  # type: ignore[type-arg]
    """A moment in ISO 8601."""

    name = "ISO8601"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        try:
            return datetime.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is no date and time like 2026-03-02T17:30", param, ctx)


class _Start(_Moment):
    """The moment at which a recording began: a date alone would be midnight."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        moment = super().convert(value, param, ctx)
        # ISO 8601 parts date and time by a letter or a space
        if not any(sign in str(value) for sign in "T "):
            self.fail(f"{value!r} has no time of day: write {value}T09:30, say", param, ctx)
        return moment


class Range(click.FloatRange):
    """A number within limits, which click's own range takes nan for."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number, or what is wrong with it."""
        number = super().convert(value, param, ctx)
        if isnan(number):
            self.fail(f"{value!r} is no number", param, ctx)
        return float(number)


class _Channel(click.ParamType):  # type: ignore[type-arg]
    """A channel from 1, or the mean of all."""

    name = "N|mean"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> int | None:
        # channels count from 1 for people; None is the mean square of all
        if value is None or value == "mean":
            return None
        if not str(value).isdecimal() or int(value) < 1:
            self.fail(f"{value!r} is neither mean nor a channel from 1", param, ctx)
        return int(value)


class _Place(click.ParamType):  # type: ignore[type-arg]
    """A place in a recording."""

    name = "TIME"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        # imported here: `--help` waits for none of it
        from audiolevel.metering.parts import place_s

        try:
            return place_s(str(value))
        except ValueError as error:
            self.fail(str(error))


MOMENT = _Moment()
PLACE = _Place()
# completed by the shell; who opens it says what is wrong with it
PATH = click.Path(readable=False)

_Command = TypeVar("_Command", bound=Callable[..., Any])
_Result = TypeVar("_Result", bound="Result")


def _together(*parts: Callable[[Any], Any]) -> Callable[[_Command], _Command]:
    """Several options as one decorator, in the order in which `--help` shows them."""

    def decorate(command: _Command) -> _Command:
        # the decorator nearest to the function is applied first and shown last
        for part in reversed(parts):
            command = part(command)
        return command

    return decorate


recordings = click.argument(
    "recordings", nargs=-1, required=True, type=PATH, metavar="RECORDING..."
)
site = click.option(
    "--site", "site_file", type=PATH, metavar="FILE.toml", help="What is known of the site."
)
_json_file = click.option(
    "--json",
    "json_file",
    type=PATH,
    metavar="FILE",
    help="Write the result as JSON; - is standard output.",
)
out = click.option(
    "--out", type=PATH, metavar="FOLDER", help="Write figures and tables into this folder."
)
redact = click.option(
    "--redact",
    is_flag=True,
    help="Leave names of files, dates and hours out of all that is written, to share it.",
)
start = click.option(
    "--start",
    "starts",
    type=_Start(),
    multiple=True,
    help="When the recording began, by the local clock; once for each recording.",
)
channel = click.option(
    "--channel",
    type=_Channel(),
    default="mean",
    help="Listen to one channel, from 1, or to the mean square of all.  [default: mean]",
)
log_columns = _together(
    click.option(
        "--level-column", metavar="NAME", help="Of a level history with another header: its level."
    ),
    click.option(
        "--time-column",
        metavar="NAME",
        help="Its time: seconds, or dates and times, which also say the start.",
    ),
)
part = _together(
    click.option(
        "--from",
        "begins",
        type=PLACE,
        multiple=True,
        help="Look at a part only: from here (90, 1:30 or 1:02:03); once, or for each recording.",
    ),
    click.option(
        "--to",
        "ends",
        type=PLACE,
        multiple=True,
        help="To here, from the beginning of the recording; once, or for each.",
    ),
)
sequence = click.option(
    "--sequence",
    is_flag=True,
    help="The recordings are one, split by the recorder: join them in time order.",
)
weather = click.option(
    "--weather",
    "weather",
    type=click.Choice(["dry", "wet"]),
    multiple=True,
    help="Whether the road was dry or wet; once for all recordings or logs, or once for each.",
)
marks = click.option(
    "--marks",
    "marks",
    type=PATH,
    metavar="FILE.csv",
    multiple=True,
    help="Stretches that are wanted sounds (start_s,end_s,sound); once for each recording.",
)
mode = click.option(
    "--mode",
    type=click.Choice(["threshold", "rise", "fall", "change"]),
    default="threshold",
    show_default=True,
    help="What fires the trigger.",
)
plan_file = click.option(
    "--plan",
    "plan_file",
    type=PATH,
    metavar="PLAN.json",
    help="Speak of the setting of this plan, which was made before.",
)
gain_setting = click.option(
    "--gain",
    "settings",
    metavar="SETTING",
    multiple=True,
    help="A gain by the camera's own setting, as in the site file.",
)
setting = _together(
    click.option(
        "--level",
        "level_db",
        type=float,
        help="Of a threshold: dB SPL if calibrated, else dB FS.",
    ),
    click.option(
        "--change",
        "change_db",
        type=float,
        help="Step of a rise, fall or change, above 0.",
    ),
)
confidence = click.option(
    "--confidence",
    type=Range(0.5, 0.999, min_open=True),
    default=0.95,
    show_default=True,
    help="Of every interval.",
)
seed = click.option(
    "--seed",
    type=click.IntRange(0, 2**31 - 1),
    default=0,
    show_default=True,
    help="Of everything that is drawn by chance.",
)

force = click.option(
    "--force", is_flag=True, help="Replace a report that is there, whoever made it."
)
be_quiet = click.option(
    "--quiet", is_flag=True, help="Say nothing but errors, and what --json - asks for."
)

# parameters of commands that name files to read, and their kinds that name files to write
_READ = frozenset(
    {"recordings", "recording", "record", "site_file", "marks", "logs", "plan_file"}
    | {"manifest", "compare", "second_tone", "steady", "walk_test"}
)


def writes(command: _Command) -> _Command:
    """A command that spares what it reads, and ends by naming what it wrote.

    Gives it `--force` and `--quiet`; everything it may write is looked at before it begins.
    """

    @functools.wraps(command)
    def careful(*words: Any, force: bool, quiet: bool, **given: Any) -> Any:
        from audiolevel.api.results import outputs
        from audiolevel.ground.names import plain

        context = click.get_current_context()
        of_site = context.meta[_FOLDER] = _of_folder(context.info_name or "", given)
        # `deliver` and the progress bar ask for it
        context.meta[_QUIET] = quiet
        # a site file that keys are added to loses nothing
        added_to = {"site_file"} if given.get("site_file") == given.get("write") else set()
        read = [given[name] for name in sorted(_READ - added_to) if given.get(name)]
        inputs = [one for some in read for one in ([some] if isinstance(some, str) else some)]
        # each with its gain
        inputs += [path for path, _ in given.get("noise") or ()]
        written = [given.get("json_file"), given.get("plan_out")]
        told_soon("working: a log takes seconds, an hour of sound about half a minute")
        with (
            _at_last(),
            outputs(
                context.info_name or "",
                inputs=[one for one in inputs if one != "-"],
                folder=None if "manifest" in given else given.get("out"),
                json=[one for one in written if one not in (None, "-")],
                history=(given["history"], given["coarse"]) if given.get("history") else None,
                sound=given["render"][1] if given.get("render") else None,
                site=given.get("write"),
                force=force,
            ) as run,
        ):
            own = None if of_site is None else str(of_site.plan_file.parent)
            anew = own is not None and context.info_name == "plan" and given["out"] == own
            before = of_site.keep_followed() if of_site is not None and anew else None
            done = command(*words, **given)
            if of_site is not None and anew:
                of_site.note_origin(redact=given["redact"])
            if before is not None:
                remind(
                    f"this plan knows nothing of the logs; the one that they had corrected is "
                    f"{before}"
                )
        if run.written and not quiet:
            names = plain(", ".join(map(str, run.written)))
            # talk, not data: the output may be JSON that goes on into a pipe
            click.echo(f"audiolevel: wrote {names}", err=True)
        # a command gives another exit status than 0 back, so that the line above is not lost
        if done:
            context.exit(done)

    return cast(_Command, be_quiet(force(careful)))


def _of_folder(command: str, given: dict[str, Any]) -> "SiteFolder | None":
    """A site's folder in place of recordings: its site file, plan and place for results."""
    import audiolevel as al

    paths = given.get("recordings") or [given.get("plan_file") or ""]
    if len(paths) != 1 or not os.path.isdir(paths[0]):
        return None
    opened = al.open_site(paths[0])
    site_file = opened.folder / "site.toml"
    if "site_file" in given and given["site_file"] is None and site_file.is_file():
        given["site_file"] = str(site_file)
    if "out" in given and given["out"] is None and given.get("json_file") is None:
        given["out"] = str(opened.folder / command)
    has_plan = command == "privacy" and opened.plan_file.is_file()
    if has_plan and given.get("plan_file") is None:
        given["plan_file"] = str(opened.plan_file)
    return opened


def site_folder() -> "SiteFolder | None":
    """The site's folder that the command was given; None where it was given files."""
    return cast("SiteFolder | None", click.get_current_context().meta.get(_FOLDER))


_FOLDER = "audiolevel.site_folder"
_QUIET, _WAITING, _BAR = "audiolevel.quiet", "audiolevel.waiting", "audiolevel.bar"
# whoever waits longer wants to know for what
_PATIENCE_S = 2.0
# drawing takes about so long with three wanted sounds on one core (measured)
_DRAWING_S = 5


def told_soon(said: str) -> None:
    """Say on a terminal what goes on, once it has gone on for two seconds; "" is no more."""
    context = click.get_current_context(silent=True)
    if context is None:
        return
    waiting = context.meta.pop(_WAITING, None)
    if waiting is not None:
        waiting.cancel()
    if said and sys.stderr.isatty() and not quiet():
        waiting = Timer(_PATIENCE_S, remind_now, [said])
        waiting.daemon = True
        waiting.start()
        context.meta[_WAITING] = waiting


@contextmanager
def _at_last() -> Iterator[None]:
    try:
        yield
    finally:
        told_soon("")


def quiet() -> bool:
    """Whether the command that runs was asked to say nothing."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(_QUIET))


def remind(text: str) -> None:
    """One line beside the result, for a person; nothing where the command was asked to be quiet."""
    if not quiet():
        remind_now(text)


def remind_now(text: str) -> None:
    """One line beside the result, from wherever it is said."""
    from audiolevel.ground.names import plain

    click.echo(f"audiolevel: {plain(text)}", err=True)


# how sure the intervals are
chance = _together(confidence, seed)
full = click.option("--full", is_flag=True, help="Print all of it, not only what matters most.")
# of the commands that write a page
page = click.option(
    "--page",
    type=click.Choice(["html", "none"]),
    default="html",
    show_default=True,
    help="Whether --out writes the page, one HTML file.",
)


def visits(*more: Callable[[Any], Any]) -> Callable[[_Command], _Command]:
    """The recordings, and what options say of each: the command gets them as `visits`.

    `more` are those of `log_columns`, `marks` and `weather` that mean something to the command.
    """

    def decorate(command: _Command) -> _Command:
        @functools.wraps(command)
        def listening(*words: Any, recordings: tuple[str, ...], **given: Any) -> Any:
            of_visits = {name: given.pop(name, None) for name in _OF_VISITS}
            return command(*words, visits=_visits(recordings, **of_visits), **given)

        options = (recordings, site, channel, start, part, sequence, *more)
        return _together(*options)(cast(_Command, listening))

    return decorate


_OF_VISITS = (
    *("starts", "channel", "begins", "ends", "sequence"),
    *("level_column", "time_column", "marks", "weather"),
)


def _visits(paths: tuple[str, ...], *, sequence: bool, **given: Any) -> "list[Visit]":
    import audiolevel as al

    folder = site_folder()
    if folder is not None:
        if any(value not in (None, (), False) for value in (sequence, *given.values())):
            raise click.UsageError(
                "a site's folder says of its visits what it knows in [[visit]] of site.toml; leave "
                "out --start, --marks and the like"
            )
        for name, why in folder.left_out:
            remind(f"left out: {name}: {why}")
        folder.refuse_empty()
        return list(folder.visits)
    # the files that a recorder has split one recording into are one
    each: list[Any] = [paths] if sequence else list(paths)
    columns = {name: given[name] for name in ("channel", "level_column", "time_column")}
    return [
        al.Visit(
            recording,
            start=start,
            marks=marks or (),
            wet=None if weather is None else weather == "wet",
            from_s=begin,
            to_s=end,
            **columns,
        )
        for recording, start, marks, weather, begin, end in zip(
            each,
            once_each("--start", given["starts"], each),
            once_each("--marks", given["marks"], each),
            for_each("--weather", given["weather"], each),
            for_each("--from", given["begins"], each),
            for_each("--to", given["ends"], each),
            strict=True,
        )
    ]


def once_each(option: str, values: Sequence[Any] | None, files: Sequence[Any]) -> Sequence[Any]:
    """An option given once for each recording or log, or not at all."""
    if values and len(values) != len(files):
        times = "once" if len(values) == 1 else f"{len(values)} times"
        raise click.UsageError(
            f"{option} is given {times} for {len(files)} file{'s' * (len(files) != 1)}; give it "
            "once for each, in their order"
        )
    return values or [None] * len(files)


def for_each(option: str, values: Sequence[Any] | None, files: Sequence[Any]) -> Sequence[Any]:
    """An option given once for all recordings, or once for each."""
    # unlike `once_each`: a part or the weather may well be the same in all
    return (
        list(values) * len(files)
        if values and len(values) == 1
        else once_each(option, values, files)
    )


def progress(done_s: float, total_s: float) -> None:
    """A bar over the length of the recordings on a terminal, nothing in a pipe."""
    if not sys.stderr.isatty() or quiet() or not total_s:
        return
    meta = click.get_current_context().meta
    if _BAR not in meta:
        told_soon("")
        length = round(1000 * total_s)
        bar = click.progressbar(length=length, label="listening", file=sys.stderr)
        meta[_BAR] = bar.__enter__(), monotonic()
    bar, begun = meta[_BAR]
    bar.update(round(1000 * done_s) - bar.pos)
    if done_s >= total_s:
        bar.__exit__(None, None, None)
        del meta[_BAR]
        # what follows takes once to twice as long as hearing it all did (measured)
        told_soon(f"working out what that means, about {1.5 * (monotonic() - begun):.0f} s")


@dataclass(frozen=True)
class Delivery:
    """Where a result goes: the screen, a JSON file, a folder."""

    json_file: str | None
    out: str | None = None
    page: str = "none"
    full: bool = True
    redact: bool = False

    def shared(self, result: _Result) -> _Result:
        """A result as it may be shared, where that was asked for."""
        return result.redacted() if self.redact else result

    def __call__(self, result: "Result") -> None:
        """Print a result's text, or its JSON where that is the output, and save it where asked.

        Unless `full` only what matters most is printed, and where the rest stands.
        """
        result = self.shared(result)
        # first: whoever waits has the answer while pictures and page are drawn
        if self.json_file != "-" and not quiet():
            told = result.to_text() if self.full else result.to_brief(_rest(self.out, self.page))
            click.echo(told)
        if self.out is not None:
            told_soon(f"drawing the pictures and the page, about {_DRAWING_S} s")
            result.save(self.out, page=self.page == "html")
        # nothing but JSON on the output, so that it can be piped
        if self.json_file == "-":
            # as bytes: JSON is UTF-8 whatever the terminal's encoding (RFC 8259, 8.1)
            click.echo(result.to_json().encode(), nl=False)
        elif self.json_file is not None:
            result.save_json(self.json_file)


def results(*more: Callable[[Any], Any]) -> Callable[[_Command], _Command]:
    """`--json`, `--redact` and `more` of `out`, `page`, `full`: the command gets `deliver`."""

    def decorate(command: _Command) -> _Command:
        @functools.wraps(command)
        def delivering(*words: Any, json_file: str | None, **given: Any) -> Any:
            names = ("out", "page", "full", "redact")
            looks = {name: given.pop(name) for name in names if name in given}
            return command(*words, deliver=Delivery(json_file, **looks), **given)

        return _together(_json_file, *more, redact)(cast(_Command, delivering))

    return decorate


def _rest(out: str | None, page: str) -> str:
    """Where what is not printed stands."""
    if out is None:
        return "--full"
    # not the folder's own name: what is redacted is redacted on the screen too
    ending = "html" if page == "html" else "txt"
    return f"--full or {click.get_current_context().info_name}.{ending}"
