"""report.md: the collection in a page of Markdown, for a repository, a pull request or a job summary.

GitHub-flavoured tables; every outside text is escaped, so that a title can neither break a table
nor become a link, a picture or HTML.
"""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import TYPE_CHECKING

from pipeline.problems import place_of
from pipeline.report import words
from pipeline.report.habits import shown_habits
from pipeline.report.todo import Task
from pipeline.report.view import View, view

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
    shown = view(result)
    parts = [f"# {shown.headline}", "", _opening(shown), ""]
    for group in shown.todo:
        if group.tasks:
            parts += [f"## {group.headline}", ""]
            parts += [_task(task) for task in group.tasks[:MOST_TASKS]]
            if len(group.tasks) > MOST_TASKS:
                parts.append(f"- and {len(group.tasks) - MOST_TASKS} more")
            parts.append("")
    habits = shown_habits(result)
    if habits:
        parts += ["## Habits", ""]
        parts += [f"- **{escaped(h.phrase)}.** {escaped(h.question)}" for h in habits]
        parts.append("")
    if shown.patterns:
        parts += ["## Patterns across the collection", ""]
        for pattern, links in shown.patterns:
            names = words.listing([escaped(title) for title, _ in links], 4)
            parts.append(f"- **{escaped(pattern.headline)}.** {escaped(pattern.advice)} ({names})")
        parts.append("")
    if shown.index:
        parts += ["## All recipes", "", "Stated → computed, per serving.", ""]
        parts += _table(shown)
    if shown.review:
        parts += ["", "## Lines to look at", ""]
        parts += ["| line | taken for | why | open energy |", "|---|---|---|---:|"]
        for r in shown.review:
            parts.append(
                f"| {escaped(r['text'])} | {escaped(r['food'])} | {escaped(r['why'])} |"
                f" {r['open_text']} |"
            )
    if shown.problems:
        parts += ["", "## Problems of the input", ""]
        for p in shown.problems:
            at = place_of(p)
            where = f"{escaped(at)}: " if at else ""
            parts.append(f"- {p['severity']}: {where}{escaped(p['what'])}. {escaped(p['fix'])}")
        if shown.problem_total > len(shown.problems):
            parts.append(f"- and {shown.problem_total - len(shown.problems)} more")
    parts += ["", "## What these numbers are not", ""]
    parts += [f"- **{topic}.** {statement}" for topic, statement in words.CAUTIONS]
    return "\n".join(parts) + "\n"


def _task(task: Task) -> str:
    subject = f"“{escaped(task.subject)}” in " if task.subject and task.title else ""
    name = escaped(task.title or task.subject)
    numbers = "; ".join(f"{n.lower()} {was} → {should}" for n, was, should, _ in task.numbers)
    reasons = "; ".join(escaped(reason) for reason in (task.why, task.other) if reason)
    return f"- {subject}**{name}**{f': {numbers}' if numbers else ''}. {reasons}"


def _opening(shown: View) -> str:
    counts = words.standing_counts(shown.counts)
    return (
        f"{words.plural(shown.total, 'recipe')}: {counts or 'none judged'}. Weighed with"
        f" {escaped(shown.table)}; a number may differ by {shown.profile}."
    )


def _table(shown: View) -> list[str]:
    rows = [
        "| no. | recipe | verdict | kcal | protein g | carbohydrate g | fat g | known |",
        "|---:|---|---|---:|---:|---:|---:|---:|",
        *(_row(e) for e in shown.index[:MOST_ROWS]),
    ]
    left = shown.total - min(len(shown.index), MOST_ROWS)
    if left > 0:
        rows += ["", f"{left} more recipes are in recipes.csv."]
    return rows


def _row(entry: SimpleNamespace) -> str:
    cells = " | ".join(
        f"{stated} → {computed} {_MARK.get(verdict, '')}".strip()
        for _, stated, computed, verdict in entry.cells
    )
    word = "accepted" if entry.accepted else entry.word
    return f"| {entry.number} | {escaped(entry.title)} | {word} | {cells} | {entry.coverage} |"
