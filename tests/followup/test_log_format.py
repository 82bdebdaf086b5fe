"""How a log is read by default: everything is found out."""

from dataclasses import fields

from audiolevel.followup.log_format import LogFormat


def test_nothing_has_to_be_said() -> None:
    plain = LogFormat()
    said = {one.name for one in fields(plain) if getattr(plain, one.name)}
    # but the trigger's re-arm time, which is the program's own default
    assert said == {"rearm_s"}
    assert plain.rearm_s == 10.0
