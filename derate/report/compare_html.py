"""Two designs beside each other as one page, in the style of the report."""

from __future__ import annotations

from datetime import date

from derate.judge.difference import Difference
from derate.report.compare import lists, partner_words, titles
from derate.report.html import environment


def compare_html(difference: Difference, day: date) -> str:
    """The comparison as HTML text. day: of the report"""
    old, new = titles(difference)
    page = environment().get_template("compare.html").render(
        difference=difference, found=lists(difference), old=old, new=new, partners=partner_words(difference), day=day,
    )  # fmt: skip
    return page if page.endswith("\n") else page + "\n"
