"""report.md: the collection in a page of Markdown, for a repository, a pull request or a job summary.

``templates/report.md.j2`` lays it out. Every outside text is escaped, so that a title can neither
break a table nor become a link, a picture or HTML.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from pipeline.report import words
from pipeline.report.habits import shown_habits
from pipeline.report.html import templates
from pipeline.report.view import view

if TYPE_CHECKING:
    from pipeline.run import Result

#: Characters that Markdown or HTML would act on.
_ACTIVE = re.compile(r"[\\`*_\[\]!|<>&~$]|:(?=[/\w+-]*:|//)|@(?=\w)")
_AS = {"<": "&lt;", ">": "&gt;", "&": "&amp;", "@": "@\u200b"}
_MARK = {"disagrees": "✕", "uncertain": "≈", "agrees": "✓", "not_judged": "·", "": ""}

#: GitHub cuts a job summary at 1 MiB; this many recipes stay well below.
MOST_ROWS = 400
#: Things to do of one kind.
MOST_TASKS = 30


def escaped(text: object) -> str:
    """Outside text as plain words on one line."""
    flat = " ".join(str(text).split())
    return _ACTIVE.sub(lambda m: _AS.get(m[0], "\\" + m[0]), flat)


def render(result: Result) -> str:
    """The report as Markdown."""
    pages = templates().overlay(autoescape=False, keep_trailing_newline=True)
    pages.filters = {**pages.filters, "md": escaped, "listing": words.listing}
    shown = view(result)
    return pages.get_template("report.md.j2").render(
        v=shown, counts=words.standing_counts(shown.counts), habits=shown_habits(result),
        marks=_MARK, most_rows=MOST_ROWS, most_tasks=MOST_TASKS,
    )  # fmt: skip
