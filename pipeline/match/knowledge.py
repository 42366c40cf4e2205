"""What cooks call foods: the tables under ``shared/`` that the match stage stands on.

``names/*.csv``        a name → the table's food, by state
``names_absent.csv``   names of foods the table lacks, with the nearest one to show
``name_words.csv``     words that never change the food ("ripe", "organic")
``spelling_variants.csv`` regional words, at word or phrase level
``states.csv``         words that say a state, and the state they say
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.match.words import words
from pipeline.resources import shared_path

Phrase = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NameRow:
    """One row of ``names/*.csv``: these names, in these states, mean this food.

    Attributes:
        code: the source's own code of the food.
        phrases: the names, as words.
        states: states under which the row is meant; empty when any.
        default: meant when the line says no state.
        fat_pct: g fat per 100 g where the names are told apart by fat.
        doubt: what the table's writers say of it: "" none; ``stand_in`` another food that is near
            enough; ``varies`` the name covers products that differ; ``state`` the default state is
            a guess.
    """

    code: str
    phrases: tuple[Phrase, ...]
    states: frozenset[str]
    default: bool
    fat_pct: float | None
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class AbsentRow:
    """A food that people cook with and the table lacks."""

    phrases: tuple[Phrase, ...]
    nearest_code: str
    why: str


@dataclass(frozen=True, slots=True)
class Knowledge:
    """All of it, read once; ``digest`` changes when any of the tables does.

    ``name_rows`` counts the rows of ``names``, which an index read from its store no longer needs.
    """

    names: tuple[NameRow, ...]
    absent: tuple[AbsentRow, ...]
    harmless: frozenset[str]
    variants: Mapping[Phrase, Phrase] = field(default_factory=dict)
    state_phrases: Mapping[Phrase, frozenset[str]] = field(default_factory=dict)
    digest: str = ""
    name_rows: int = 0

    def canonical(self, phrase: Phrase) -> Phrase:
        """``phrase`` with regional words replaced by one form, longest first."""
        return replace_phrases(phrase, self.variants)


def replace_phrases(phrase: Phrase, table: Mapping[Phrase, Phrase], longest: int = 4) -> Phrase:
    """Replace, from the left and longest first, each part of ``phrase`` that ``table`` knows."""
    out: list[str] = []
    at = 0
    while at < len(phrase):
        for size in range(min(longest, len(phrase) - at), 0, -1):
            to = table.get(phrase[at : at + size])
            if to is not None:
                out.extend(to)
                at += size
                break
        else:
            out.append(phrase[at])
            at += 1
    return tuple(out)


def _rows(path: Path) -> Iterable[dict[str, str]]:
    if not path.is_file():
        return
    with path.open(encoding="utf-8", newline="") as handle:
        yield from csv.DictReader(handle)


def _split(cell: str | None) -> list[str]:
    return [part.strip() for part in (cell or "").split(";") if part.strip()]


def load_knowledge(folder: Path | None = None) -> Knowledge:
    """Read the names tables.

    Args:
        folder: where they stand; the project's own ``shared/`` by default.
    """
    folder = folder or shared_path("")
    variants = {
        words(row["from"]): words(row["to"])
        for row in _rows(folder / "spelling_variants.csv")
        if words(row["from"]) != words(row["to"])
    }

    def phrases(cell: str | None) -> tuple[Phrase, ...]:
        read = (replace_phrases(words(name), variants) for name in _split(cell))
        return tuple(dict.fromkeys(p for p in read if p))

    names = tuple(
        NameRow(
            code=row["code"].strip(),
            phrases=phrases(row["names"]),
            states=frozenset(_split(row.get("states"))),
            default=(row.get("default") or "").strip().lower() == "y",
            fat_pct=float(row["fat_pct"]) if (row.get("fat_pct") or "").strip() else None,
            doubt=(row.get("doubt") or "").strip(),
        )
        for path in sorted((folder / "names").glob("*.csv"))
        for row in _rows(path)
    )
    absent = tuple(
        AbsentRow(
            phrases(row["name"]), (row.get("nearest_code") or "").strip(), row.get("why") or ""
        )
        for row in _rows(folder / "names_absent.csv")
    )
    harmless = frozenset(w for row in _rows(folder / "name_words.csv") for w in words(row["word"]))
    state_phrases: dict[Phrase, frozenset[str]] = {}
    for row in _rows(folder / "states.csv"):
        for phrase in phrases(row["words"]):
            state_phrases[phrase] = state_phrases.get(phrase, frozenset()) | {row["state"]}
    return Knowledge(
        names, absent, harmless, variants, state_phrases, knowledge_digest(folder), len(names)
    )


def knowledge_digest(folder: Path | None = None) -> str:
    """Digest of all names tables: changes when any of them does."""
    folder = folder or shared_path("")
    digest = hashlib.sha256()
    for path in (
        *sorted((folder / "names").glob("*.csv")),
        *(folder / f"{name}.csv" for name in _GENERAL),
    ):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


_GENERAL = ("names_absent", "name_words", "spelling_variants", "states")
