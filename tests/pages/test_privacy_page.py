"""The sheet as a page: all its words, its pictures where they belong, room to write."""

import html
import re

from audiolevel.pages.privacy_page import privacy_page
from audiolevel.report import privacy_figure, rings_figure
from audiolevel.report.privacy_text import review_sheet
from audiolevel.report.sheet import RADII, RINGS
from tests.privacy.made_review import review_of


def test_every_word_of_the_sheet_stands_on_the_page() -> None:
    sheet = review_sheet(review_of(), "<b>school</b> road", "2026-03-03")
    page = privacy_page(sheet, {})
    said = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.partition("<main")[2])).split())
    for section in sheet.sections:
        for text in (section.title, *section.paragraphs, *section.points):
            assert " ".join(text.split()) in said
        for row in section.table.rows if section.table else ():
            assert " ".join(" ".join(row).split()) in said
    assert "<b>school" not in page


def test_pictures_stand_in_the_sections_that_they_show() -> None:
    review = review_of()
    sheet = review_sheet(review, "school road", "2026-03-03")
    pictures = {
        RINGS: (rings_figure.rings(review, "school road"), "around it"),
        RADII: (privacy_figure.radii_and_index(review, "school road"), "by distance"),
    }
    parts = privacy_page(sheet, pictures).split("<section")[1:]
    shown = {
        one.title: ("around it" in part, "by distance" in part)
        for one, part in zip(sheet.sections, parts, strict=True)
    }
    assert shown["Who could be overheard"] == (True, False)
    assert shown["Annex: From how far talk is caught while the camera is on"] == (False, True)
    assert sum(map(sum, shown.values())) == 2
