"""What click says of a wrong option or argument, in one line, in plain words and with an example.

Entry point: `answer`.
"""

import re
from dataclasses import fields, is_dataclass

import click

# a range as click writes it: 0.5<x<=0.999
_RANGE = re.compile(r"(?P<low>.+?)(?P<above><=?)x<=(?P<high>.+)")


def answer(error: click.UsageError) -> str:
    """What is wrong with what was typed, and how to write it."""
    message = " ".join(error.format_message().split()).rstrip(".")
    context = error.ctx or click.get_current_context()
    command = context.command
    # click's parser does not say whose option it is
    if error.ctx is None and isinstance(command, click.Group):
        command = command.commands.get(context.invoked_subcommand or "", command)
    if isinstance(error, click.NoSuchOption):
        return f"no option {error.option_name}; {_nearest(error.option_name, command)}"
    if found := re.match(r"No such command '(.*?)'", message):
        from audiolevel.ground.names import hint

        every = command.commands if isinstance(command, click.Group) else {}
        names = [name for name, one in every.items() if not one.hidden]
        return f"no command {found[1]}; {hint(found[1], names)}"
    if isinstance(error, click.MissingParameter) and error.param is not None:
        return f"{error.param.make_metavar(context)} is missing; write {_usage(command, context)}"
    if found := re.match(r"Got unexpected extra arguments? \((.*)\)", message):
        return f"{found[1]} is one word too many; write {_usage(command, context)}"
    if found := re.match(r"Option '(.*?)' requires", message):
        return f"{found[1]} needs a value; write {found[1]} {_example(found[1], command)}"
    if isinstance(error, click.BadParameter) and error.param is not None:
        name = error.param.opts[0]
        return f"{name}: {_value(name, error.message.rstrip('.'))}"
    return message


def _value(name: str, said: str) -> str:
    """What is wrong with a value; what the program's own types say of one stays."""
    if found := re.fullmatch(r"'(.*)' is not a valid (float|integer)( range)?", said):
        digits = re.match(r"[-+]?\d+([.,]\d+)?", found[1])
        number = float(digits[0].replace(",", ".")) if digits else 10.0
        number /= 100 if found[1].endswith("%") else 1
        whole = found[2] == "integer"
        form = f"{round(number)}" if whole else f"{number:g}"
        return f"{found[1]!r} is no {'whole ' * whole}number; write {name} {form}"
    if found := re.fullmatch(r"(.*) is not in the range (.*)", said):
        value, ends = float(found[1]), _RANGE.fullmatch(found[2])
        assert ends is not None  # click writes no other
        told = f"lie between {ends['low']} and {ends['high']}"
        if ends["above"] == "<":
            told = f"be above {ends['low']} and at most {ends['high']}"
        share = f"; {value:g} % is {value / 100:g}" if ends["high"] == "0.999" and value > 1 else ""
        return f"{value:g} must {told}{share}"
    if found := re.fullmatch(r"(.*) is not one of (.*)", said):
        return f"{found[1]} is none of {found[2].replace(chr(39), '')}"
    return said


def _nearest(typed: str, command: click.Command) -> str:
    """The option that was meant, or the key of the site file that says it."""
    from audiolevel import Site
    from audiolevel.ground.names import hint

    if isinstance(command, click.Group):
        return f"options follow the command, as in audiolevel plan {typed}"
    known = [name for one in command.params for name in one.opts if name.startswith("--")]
    site = Site()
    keys = [
        f"{section.name}.{key.name}"
        for section in fields(site)
        if is_dataclass(values := getattr(site, section.name))
        for key in fields(values)
    ]
    # limit is limits.false_triggers_per_day, gain-steps gain.steps
    words = set(typed.strip("-").replace("limits", "limit").split("-"))
    held = [one for one in keys if words <= set(re.split(r"[._]", one.replace("limits", "limit")))]
    otherwise = f"audiolevel {command.name} --help lists them"
    # "at" and "db" are in too many keys to mean one
    if held and len(max(words, key=len)) > 2:
        otherwise = f"a site file says it, as {held[0]} (--site FILE.toml)"
    return hint(typed, known, otherwise=otherwise)


def _usage(command: click.Command, context: click.Context) -> str:
    """The command with what must be given."""
    given = [
        one.make_metavar(context) for one in command.params if one.param_type_name == "argument"
    ]
    return " ".join(["audiolevel", command.name or "", *given])


def _example(name: str, command: click.Command) -> str:
    """What an option takes."""
    option = next(one for one in command.params if name in one.opts)
    if option.nargs == 1 and isinstance(option.type, click.types.FloatParamType):
        return "84.5"
    return option.make_metavar(click.Context(command))
