"""A human's answers about lines: "this text means this food, and so many grams"."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.memory.files import csv_text, locked, number, read_rows, write_atomically
from pipeline.problems import Problem

COLUMNS = ["text", "food_id", "grams", "applies_to", "decided_on", "note"]


@dataclass(frozen=True, slots=True)
class Decision:
    """One answer.

    Attributes:
        text: the ingredient line, or the food name when ``applies_to`` is "name".
        food_id: the food meant; "" leaves the food to the matcher; "none" says it is no food.
        grams: edible grams of the whole line, None to leave the weighing to the tool.
        applies_to: "line" (lines with this text) or "name" (all lines of this food name).
    """

    text: str
    food_id: str
    grams: float | None = None
    applies_to: str = "line"
    decided_on: str = ""
    note: str = ""


@dataclass(slots=True)
class Decisions:
    """All answers of a collection, looked up by text in any case and spacing."""

    rows: list[Decision] = field(default_factory=list)
    path: Path | None = None
    _lines: dict[str, Decision] = field(default_factory=dict)
    _names: dict[str, Decision] = field(default_factory=dict)

    def add(self, decision: Decision) -> None:
        """Add an answer; a later one about the same text stands."""
        self.rows.append(decision)
        table = self._names if decision.applies_to == "name" else self._lines
        table[same_text(decision.text)] = decision

    def find(self, text: str, name: str = "") -> Decision | None:
        """The answer for a line: by its text first, else by its food name."""
        return self._lines.get(same_text(text)) or (
            self._names.get(same_text(name)) if name else None
        )

    def __len__(self) -> int:
        return len(self.rows)


def same_text(text: str) -> str:
    """The form in which two texts count as the same: case and spacing do not matter."""
    return " ".join(text.casefold().split())


def load_decisions(path: Path | None) -> tuple[Decisions, list[Problem]]:
    """Read ``decisions.csv``; a row that cannot be used is a problem and the rest stands."""
    decisions = Decisions(path=path)
    problems: list[Problem] = []
    if path is None or not path.is_file():
        return decisions, problems
    rows, problems = read_rows(path, "decisions")
    for line, row in rows:
        grams = number(row["grams"]) if row.get("grams") else None
        bad_grams = bool(row.get("grams")) and (grams is None or grams < 0)
        scope = row.get("applies_to") or "line"
        if not row.get("text") or bad_grams or scope not in {"line", "name"}:
            problems.append(
                Problem(
                    "decision-unusable",
                    f'decision about "{row.get("text", "")}" cannot be used',
                    "it needs a text, grams that are a number or empty, and applies_to line or name",
                    "mend the row",
                    source=path.name,
                    source_line=line,
                )
            )
            continue
        decisions.add(
            Decision(
                row["text"],
                row.get("food_id", ""),
                grams,
                scope,
                row.get("decided_on", ""),
                row.get("note", ""),
            )
        )
    return decisions, problems


def save_decision(path: Path, decision: Decision) -> None:
    """Add an answer to ``decisions.csv``, replacing one about the same text; atomic and locked.

    Raises:
        TimeoutError: another process holds the file.
    """
    with locked(path):
        rows = [r for _, r in read_rows(path, "decisions")[0]] if path.is_file() else []
        key = (same_text(decision.text), decision.applies_to)
        kept = [
            r for r in rows
            if (same_text(r.get("text", "")), r.get("applies_to") or "line") != key
        ]  # fmt: skip
        grams = "" if decision.grams is None else f"{decision.grams:g}"
        new = {
            "text": decision.text, "food_id": decision.food_id, "grams": grams,
            "applies_to": decision.applies_to, "note": decision.note,
            "decided_on": decision.decided_on or dt.date.today().isoformat(),
        }  # fmt: skip
        write_atomically(path, csv_text(COLUMNS, [*kept, new]))


def remove_decision(path: Path, text: str, applies_to: str = "line") -> bool:
    """Take back the answer about a text; True when there was one."""
    with locked(path):
        rows = [r for _, r in read_rows(path, "decisions")[0]] if path.is_file() else []
        key = (same_text(text), applies_to)
        kept = [
            r for r in rows
            if (same_text(r.get("text", "")), r.get("applies_to") or "line") != key
        ]  # fmt: skip
        if len(kept) == len(rows):
            return False
        write_atomically(path, csv_text(COLUMNS, kept))
        return True
