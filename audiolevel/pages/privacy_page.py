"""The page of a privacy review: the sheet, the rings around the microphone, room to sign.

Entry point: `privacy_page`.
"""

from collections.abc import Mapping

from audiolevel.pages.document import document, picture, section, table
from audiolevel.pages.html import Content, Html, tag
from audiolevel.report.figures import Picture
from audiolevel.report.sheet import Section, Sheet


def privacy_page(sheet: Sheet, pictures: Mapping[str, tuple[Picture, str]]) -> str:
    """A review as one HTML file.

    Parameters
    ----------
    sheet : Sheet
    pictures : mapping of str to (Picture, str)
        Each with the line under it, by what a section calls it (`Section.shown_by`).
    """
    drawn = {name: picture(one, name, caption) for name, (one, caption) in pictures.items()}
    parts = [_section(i, one, drawn) for i, one in enumerate(sheet.sections)]
    return document(sheet.title, *parts, command="privacy")


def _section(place: int, one: Section, drawn: Mapping[str, Html]) -> Html:
    content: list[Content] = [tag("p", said) for said in one.paragraphs]
    if one.table is not None:
        content.append(table(one.table.head, one.table.rows))
    if one.points:
        content.append(tag("ul", [tag("li", point) for point in one.points]))
    content.append(drawn.get(one.shown_by))
    heading = f"{place + 1}. {one.title}"
    return section(f"part-{place + 1}", heading, *content, class_=None if place else "lead")
