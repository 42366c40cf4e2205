"""What a person owns that touches nothing of the collection: told, so that a slip is seen.

Answers about a line or a name that no line has, grams for a line of several foods, acceptances that
fit no recipe, settings of a creator who has none. Only a whole collection can say so.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pipeline.lines import parse_many
from pipeline.memory.accepted import orphans
from pipeline.memory.decisions import Decisions, same_text
from pipeline.near_names import near_names, offered
from pipeline.problems import Problem, input_problem
from pipeline.settings import FILE_NAME

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.settings import Settings

#: Texts among which one that comes near is looked for, and answers for which that is done; more
#: would take longer than the run.
_MOST_TEXTS, _MOST_ANSWERS = 5_000, 10
_SHOWN = 120


def unused_answers(
    decisions: Decisions, texts: Iterable[str], several: Iterable[str]
) -> list[Problem]:
    """Answers about lines and names that touch no line of the whole collection.

    Args:
        texts: the distinct line texts, those of the foods of a line that holds several included.
        several: the texts that are counted as several foods.
    """
    open_ = {s for s in decisions.by_subject if s[0] in ("line", "name")}
    if not open_:
        return []
    wanted = {text for scope, text in open_ if scope == "line"}
    names = _ByWord(text for scope, text in open_ if scope == "name")
    lines: set[str] = set()
    near: list[str] = []
    for text in texts:
        plain = same_text(text)
        names.look(text, plain)
        if plain in wanted:
            lines.add(plain)
        elif len(near) < _MOST_TEXTS:
            near.append(text)
    found = {("line", text) for text in lines} | {("name", text) for text in names.found()}
    of_several = {
        subject
        for text in several
        if (d := decisions.by_subject.get(subject := ("line", same_text(text)))) and not d.food_id
    }
    told = [
        decisions.told("decision-of-several", s) for s in decisions.by_subject if s in of_several
    ]
    for subject in decisions.by_subject:
        if subject in open_ - found:
            told.append(_unused(decisions, subject, near if len(told) < _MOST_ANSWERS else []))
    return told


class _ByWord:
    """Food names that are looked for among lines: the few lines that hold their words are parsed."""

    def __init__(self, names: Iterable[str]) -> None:
        self._names: dict[str, set[str]] = {}
        for name in names:
            self._names.setdefault(max(name.split(), key=len), set()).add(name)
        self._texts: list[str] = []

    def look(self, text: str, plain: str) -> None:
        """Keep a line that may be of one of the names."""
        if self._names and any(
            all(word in plain for word in name.split())
            for key, names in self._names.items() if key in plain for name in names
        ):  # fmt: skip
            self._texts.append(text)

    def found(self) -> set[str]:
        """Names of the lines that were kept."""
        return {same_text(line.name) for line in parse_many(self._texts)}


def _unused(decisions: Decisions, subject: tuple[str, str], near: list[str]) -> Problem:
    decision = decisions.by_subject[subject]
    close = [text[:_SHOWN] for text in near_names(decision.text, near, 2)]
    if subject[0] == "name":
        what, why = "food name", "no line has a food of that name"
    else:
        what, why = "line", "no line of the collection reads so"
    lead = offered(close)
    fix = "write the text as it stands in the recipe, or take the row out"
    fix = f"{lead} {fix}" if lead else fix
    return decisions.told("decision-unused", subject, of=what, why=why, fix=fix)


def unused_creators(settings: Settings, creators: Iterable[str]) -> list[Problem]:
    """Conventions of creators that no recipe of the whole collection names."""
    there = sorted({name for name in creators if name})
    return [
        input_problem(
            "creator-unknown", source=FILE_NAME, creator=name,
            fix=offered(near_names(name, there, 2))
            or "write the creator's name as the recipes give it, or take the table out",
        )
        for name in settings.creators if name not in there
    ]  # fmt: skip


def unused(
    decisions: Decisions,
    settings: Settings,
    recipes: pd.DataFrame,
    findings: pd.DataFrame,
    lines: pd.DataFrame,
    creators: Iterable[str],
) -> list[Problem]:
    """All of it, of a whole collection that was run in memory."""
    several = lines.loc[lines["basis"] == "parts", "text"].unique()
    return [
        *unused_answers(decisions, lines["text"].unique(), several),
        *orphans(recipes, findings, decisions),
        *unused_creators(settings, creators),
    ]
