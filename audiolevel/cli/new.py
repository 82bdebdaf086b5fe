"""`audiolevel new`."""

import sys

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command


@click.command(cls=Command)
@click.argument("folder", type=options.PATH)
@click.option("--name", help="Of the place.")
@click.option("--limit", type=float, help="False firings a day that are put up with.")
@click.option(
    "--wanted", multiple=True, metavar="SOUND@METRES", help="breaking glass@5m; repeatable."
)
@click.option("--active", multiple=True, help="mon-fri 18:00-07:00; repeatable.")
@click.option("--calibration", type=float, help="dB SPL of a sine that just fills the scale.")
@click.option("--card", type=float, help="GB that the card holds.")
def new(
    folder: str,
    name: str | None,
    limit: float | None,
    wanted: tuple[str, ...],
    active: tuple[str, ...],
    calibration: float | None,
    card: float | None,
) -> None:
    """Make a folder for a site, and ask what is known of it.

    Each answer may be skipped. Options answer in advance; where nobody sits at a terminal nothing
    is asked.
    """
    import audiolevel as al

    given: dict[str, object] = {
        "site.name": name,
        "limits.false_triggers_per_day": limit,
        "schedule.active": list(active) or None,
        "microphone.spl_at_full_scale_db": calibration,
        "storage.card_gb": card,
    }
    sounds = list(wanted)
    if _at_a_terminal():
        _ask(given, sounds)
    file = al.new_site(folder, given, wanted=sounds)
    options.remind(f"wrote {file}")
    click.echo(al.open_site(folder).to_text())


def _at_a_terminal() -> bool:
    return sys.stdin.isatty()


def _ask(given: dict[str, object], sounds: list[str]) -> None:
    """Ask for what no option has answered."""
    from audiolevel.api.site_folder import site_questions

    for question in site_questions():
        if question.key == "wanted":
            while not sounds or sounds[-1]:
                sounds.append(click.prompt(question.asks, default="", show_default=False))
            sounds.pop()
        elif given.get(question.key) is None:
            told = f"{question.asks} [{question.default}]" if question.default else question.asks
            answer = click.prompt(told, default="", show_default=False).strip()
            given[question.key] = _value(question.key, answer)


def _value(key: str, answer: str) -> object:
    """An answer as the site file's key holds it; None where it was skipped."""
    if not answer:
        return None
    if key == "schedule.active":
        return [part.strip() for part in answer.split(",")]
    if key == "site.name":
        return answer
    try:
        return float(answer.replace(",", "."))
    # the site file's own reader says what is wrong with it
    except ValueError:
        return answer
