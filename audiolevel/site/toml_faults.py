"""Lines of a site file that are no TOML: what is wrong with one, and its right form.

Entry point: `toml_fault`.
"""

import re

# values as people write them who do not know TOML: what to put in their place, and why
_VALUES = (
    (r"(?:yes|on|True)", "true", "yes is true, without capitals or quotes"),
    (r"(?:no|off|False)", "false", "no is false, without capitals or quotes"),
    (r"(\d\d)\.(\d\d)\.(\d{4})", r"\3-\2-\1", "a date is year-month-day"),
    (r"\d{4}-\d\d-\d\d", "2026-02-20", "there is no such day; write one like this"),
    (r"([-+]?\d+),(\d+)\b.*", r"\1.\2", "a number has a decimal point, and no unit"),
    (r"([-+]?\d+(?:\.\d+)?)\s*%", r"\1e-2", "90 % is 0.9"),
    (r"([-+]?\d+(?:\.\d+)?)\s*[^\W\d].*", r"\1", "a number stands without its unit"),
    (r"\[([^]\d\"']+)\]", r'["\1"]', "put text in quotes"),
    (r"([^\W\d][^\"'=]*)", r'"\1"', "put text in quotes"),
)


def toml_fault(text: str, said: str) -> str:
    """What is wrong in a text that is no TOML.

    Parameters
    ----------
    text : str
    said : str
        What the reader of TOML said of it.

    Returns
    -------
    str
        The line by its number, what is wrong with it and how to write it.
    """
    rows = text.splitlines()
    at = re.search(r"at line (\d+)", said)
    # at the end of the document: the last line that holds anything
    filled = [i for i, row in enumerate(rows, 1) if row.strip()] or [1]
    number = min(int(at[1]) if at else filled[-1], filled[-1])
    # a comment is none of the value
    row = re.sub(r"\s+#.*", "", rows[number - 1]).strip()
    return f"line {number}, {row[:60]!r}: {_fault(row, said)}"


def _fault(row: str, said: str) -> str:
    if "twice" in said or "overwrite" in said:
        return "stands there twice; leave one, with all that belongs to it"
    if row.startswith("["):
        return f"a section is written [{row.strip('[] ') or 'site'}]"
    key, joined, value = (part.strip() for part in row.partition("="))
    if not joined:
        name, *rest = re.split(r"[\s:]+", row, maxsplit=1)
        if not re.fullmatch(r"\w+", name):
            return 'is none of a site file, whose lines look like [site] and name = "Quarry Lane"'
        return f"a key and its value are joined by =, like {name} = {' '.join(rest) or 1}"
    if not value:
        return f"says nothing; give a value, like {key} = 1, or leave the line out"
    for like, form, why in _VALUES:
        if found := re.fullmatch(like, value):
            put = found.expand(form)
            # a share of so many per cent
            put = f"{float(put):g}" if put.endswith("e-2") else put
            return f"{why}: {key} = {put}"
    if any(value.count(sign) % 2 for sign in "\"'"):
        return f'text begins and ends with a quote: {key} = "{value.strip(chr(34) + chr(39))}"'
    return f"has no value that can be read ({said}); write text in quotes, numbers without"
