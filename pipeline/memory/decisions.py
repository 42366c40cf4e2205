"""A human's answers about lines: "this text means this food, and so many grams"."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import unicodedata
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.memory.files import Row, number, read_rows, replace_row, unread_columns
from pipeline.problems import Problem, input_problem

#: No line weighs more, in grams.
MOST_GRAMS = 1e7
COLUMNS = ["text", "food_id", "grams", "applies_to", "decided_on", "note", "numbers"]

SCOPES = ("line", "name", "recipe", "habit")


@dataclass(frozen=True, slots=True)
class Decision:
    """One answer.

    Attributes:
        text: the ingredient line, or the food name when ``applies_to`` is "name".
        food_id: the food meant; "" leaves the food to the matcher; "none" says it is no food.
        grams: edible grams of the whole line, None to leave the weighing to the tool.
        applies_to: "line" (lines with this text), "name" (all lines of this food name), "recipe"
            (the difference of the recipe with this id or title is accepted), or "habit" (``text`` is
            the key of a habit that a person refused; ``food_id`` is "none").
        numbers: of a recipe, what was stated and computed when it was accepted; see
            ``memory.accepted``.
    """

    text: str
    food_id: str
    grams: float | None = None
    applies_to: str = "line"
    decided_on: str = ""
    note: str = ""
    numbers: str = ""


@dataclass(slots=True)
class Decisions:
    """All answers of a collection, looked up by text in any case and spacing.

    Attributes:
        by_subject: scope and folded text → the answer that stands, in the order of the file.
        lines: the same → the line of the file it stands on.
    """

    rows: list[Decision] = field(default_factory=list)
    path: Path | None = None
    by_subject: dict[tuple[str, str], Decision] = field(default_factory=dict)
    lines: dict[tuple[str, str], int] = field(default_factory=dict)

    def add(self, decision: Decision, line: int | None = None) -> None:
        """Add an answer, of a line of the file; a later one about the same text stands."""
        self.rows.append(decision)
        subject = (decision.applies_to, same_text(decision.text))
        self.by_subject[subject] = decision
        if line is not None:
            self.lines[subject] = line

    def told(self, code: str, subject: tuple[str, str], **values: Any) -> Problem:
        """A problem of the answer about a subject, at its place in the file."""
        source = self.path.name if self.path else ""
        at = partial(input_problem, source=source, source_line=self.lines.get(subject))
        return at(code, about=self.by_subject[subject].text, **values)

    def with_foods(self, known: Callable[[str], bool]) -> tuple[Decisions, list[Problem]]:
        """The answers that name a food which is there, or none; the others lose it and are reported.

        Args:
            known: whether a table or the pantry has a food_id.
        """
        bad = {
            subject
            for subject, d in self.by_subject.items()
            if d.applies_to in ("line", "name") and d.food_id not in ("", "none")
            and not known(d.food_id)
        }  # fmt: skip
        if not bad:
            return self, []
        found = Decisions(path=self.path, lines=self.lines)
        for subject, decision in self.by_subject.items():
            left = replace(decision, food_id="") if subject in bad else decision
            if subject not in bad or left.grams is not None:
                found.add(left)
        told = [
            self.told("decision-food-unknown", s, food=self.by_subject[s].food_id)
            for s in self.by_subject if s in bad
        ]  # fmt: skip
        return found, told

    def find(self, text: str, name: str = "") -> Decision | None:
        """The answer for a line: by its text first, else by its food name.

        An answer about the line that gives its grams alone leaves the food to the name's answer.
        """
        line = self.by_subject.get(("line", same_text(text)))
        named = self.by_subject.get(("name", same_text(name))) if name else None
        if line is None or line.food_id or named is None:
            return line or named
        return replace(line, food_id=named.food_id)

    @property
    def recipes(self) -> dict[str, Decision]:
        """Accepted differences by ``same_text`` of the recipe's id or title."""
        return {text: d for (scope, text), d in self.by_subject.items() if scope == "recipe"}

    @property
    def refused_habits(self) -> frozenset[str]:
        """Keys of the habits that a person refused."""
        return frozenset(d.text for d in self.rows if d.applies_to == "habit")

    def __len__(self) -> int:
        return len(self.rows)


#: Between a figure and the word after it: "100g" is "100 g".
_FIGURE_WORD = re.compile(r"(?<=[\d¼-¾⅐-⅞])(?=[^\W\d_])")


def same_text(text: str) -> str:
    """The form in which two texts count as the same: case and spacing do not matter, nor how an
    accented letter is encoded or an apostrophe drawn."""
    plain = unicodedata.normalize("NFC", _bare(text)).replace("’", "'").casefold()
    return " ".join(_FIGURE_WORD.sub(" ", plain).split())


def text_key(text: str) -> str:
    """The name of a text in addresses and commands: equal where ``same_text`` is."""
    return hashlib.sha256(same_text(text).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def load_decisions(path: Path | None) -> tuple[Decisions, list[Problem]]:
    """Read ``decisions.csv``; a row that cannot be used is a problem and the rest stands."""
    decisions = Decisions(path=path)
    problems: list[Problem] = []
    if path is None or not path.is_file():
        return decisions, problems
    rows, problems = read_rows(path, "decisions")
    problems += unread_columns(rows, COLUMNS, (), path)
    for line, row in rows:
        grams = number(row["grams"]) if row.get("grams") else None
        bad_grams = bool(row.get("grams")) and (grams is None or not 0 <= grams <= MOST_GRAMS)
        scope = row.get("applies_to") or "line"
        if not row.get("text") or bad_grams or scope not in SCOPES:
            about = row.get("text", "")
            problems.append(
                input_problem("decision-unusable", source=path.name, source_line=line, about=about)
            )
        elif (decision := _as_decision(row)) is not None:
            if scope in ("line", "name") and not decision.food_id and decision.grams is None:
                about = decision.text
                told = partial(input_problem, source=path.name, source_line=line)
                problems.append(told("decision-empty", about=about))
                continue
            subject = (scope, same_text(decision.text))
            first = decisions.lines.get(subject)
            decisions.add(decision, line)
            if first is not None:
                problems.append(decisions.told("decision-twice", subject, first=first))
    return decisions, problems


def save_decision(path: Path, decision: Decision) -> None:
    """Add an answer to ``decisions.csv``, replacing one about the same text; atomic and locked.

    Raises:
        SteelyardError: the file cannot be read or is no CSV; it is left as it is.
        TimeoutError: another process holds the file.
    """
    change_decision(path, decision.text, decision.applies_to, lambda _: decision)


def remove_decision(path: Path, text: str, applies_to: str = "line") -> bool:
    """Take back the answer about a text; True when there was one. Raises as ``save_decision``."""
    if not path.is_file():
        return False
    return change_decision(path, text, applies_to, lambda _: None)[0] is not None


def change_decision(
    path: Path,
    text: str,
    applies_to: str,
    change: Callable[[Decision | None], Decision | None],
) -> tuple[Decision | None, Decision | None]:
    """Replace the answer about a text by what ``change`` makes of it, in one locked step.

    Args:
        path: ``decisions.csv``; made when missing.
        text: the line, or the food name when ``applies_to`` is "name".
        applies_to: one of ``SCOPES``.
        change: gets the answer in the file now, None when there is none; returns the new one, None
            to have none. It may raise to leave the file as it was.

    Returns:
        The answer before and after.

    Raises:
        SteelyardError, TimeoutError, OSError: as ``files.replace_row``.
    """
    key = (same_text(text), applies_to)

    def is_it(row: Row) -> bool:
        return (same_text(row.get("text", "")), row.get("applies_to") or "line") == key

    before, after = replace_row(
        path, "decisions", COLUMNS, is_it, lambda row: _as_row(change(_as_decision(row)))
    )
    return _as_decision(before), _as_decision(after)


def _as_decision(row: Row | None) -> Decision | None:
    """The answer of a row, None for none; grams that are no number count as none."""
    if row is None:
        return None
    told = {name: row.get(name, "") for name in ("food_id", "decided_on", "note", "numbers")}
    grams = number(row["grams"]) if row.get("grams") else None
    return Decision(
        _bare(row["text"]), grams=grams, applies_to=row.get("applies_to") or "line", **told
    )


def _as_row(decision: Decision | None) -> Row | None:
    if decision is None:
        return None
    return asdict(decision) | {
        "text": _guarded(decision.text),
        "grams": "" if decision.grams is None else f"{decision.grams:.10g}",
        "decided_on": decision.decided_on or dt.date.today().isoformat(),
        "note": _guarded(decision.note),
    }


#: What a spreadsheet may take for a formula; such a text is written after an apostrophe.
_FORMULA = re.compile(r"[=+\-@\t\r]")


def _guarded(text: str) -> str:
    return f"'{text}" if _FORMULA.match(text) else text


def _bare(text: str) -> str:
    return text[1:] if text.startswith("'") and _FORMULA.match(text, 1) else text
