"""What cooks call foods: the files under ``shared/`` that the match stage stands on.

``words/*.csv``        a cook's word → a concept and when it is meant, one file per language; in any
                       but English, rows of doubt ``word`` give single words in English
``name_words.csv``     words that never change the food ("ripe", "organic")
``spelling_variants.csv`` regional words, at word or phrase level
``states.csv``         words that say a state, and the state they say
``match_words.csv``    lists of words and states by what they do in a name, a line or a description
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from pipeline.foods.words import words
from pipeline.resources import shared_path, word_lists

Phrase = tuple[str, ...]
#: ``doubt`` of a row whose food the embedded table lacks; its concept is the nearest one.
LACKING = "lacking"
#: ``doubt`` of a row that gives words in English ("gehackt" → "chopped"), and names no food.
WORD = "word"
#: The language of the words that concepts, states and the reference table are written in.
ENGLISH = "en"


#: Words that only join others, and those behind which a phrase no longer names its food.
GLUE, PREPOSITIONS = (frozenset(word_lists("match_words.csv")[n]) for n in ("glue", "preposition"))
JOINING = GLUE | PREPOSITIONS


class Concept(NamedTuple):
    """What a food's description has to hold: words in any order, perhaps the fat.

    Attributes:
        words: as ``words()`` gives them.
        fat_pct: g fat per 100 g of the food meant, None when the words tell enough.
        without: words that must not stand there.
    """

    words: Phrase
    fat_pct: float | None = None
    without: Phrase = ()

    @classmethod
    def read(cls, text: str) -> Concept:
        """A concept as the words files write it: ``"pork tenderloin raw -enhanced fat:2.2"``."""
        parts = text.split()
        plain = [part for part in parts if not part.startswith((FAT, WITHOUT))]
        fat = [float(part.removeprefix(FAT)) for part in parts if part.startswith(FAT)]
        barred = [part.removeprefix(WITHOUT) for part in parts if part.startswith(WITHOUT)]
        return cls(words(" ".join(plain)), fat[0] if fat else None, words(" ".join(barred)))


#: Longest phrase, in words, that is replaced by another.
LONGEST_SAID = 4
#: Before a word that must not stand in the description.
WITHOUT = "-"
#: Before the number of a concept's fat.
FAT = "fat:"


@dataclass(frozen=True, slots=True)
class NameRow:
    """One row of ``words/*.csv``: these names, in these states, mean this concept.

    Attributes:
        concept: what the food is, in words that any table's description may hold.
        phrases: the names, as words.
        states: states under which the row is meant; empty when any.
        default: meant when the line says no state.
        fat_pct: g fat per 100 g where the names are told apart by fat, as packs say it.
        doubt: what the writers say of it: "" none; ``stand_in`` another food that is near enough;
            ``varies`` the name covers products that differ; ``state`` the default state is a guess.
        language: of the file it stands in.
    """

    concept: Concept
    phrases: tuple[Phrase, ...]
    states: frozenset[str]
    default: bool
    fat_pct: float | None
    doubt: str = ""
    language: str = ENGLISH


@dataclass(frozen=True, slots=True)
class AbsentRow:
    """A food that people cook with and the embedded table lacks (doubt ``lacking``)."""

    phrases: tuple[Phrase, ...]
    nearest: Concept
    why: str


@dataclass(frozen=True)
class Knowledge:
    """All of it, read once; ``digest`` changes when any of the tables does.

    ``name_rows`` counts the rows of ``names``, which an index read from its store no longer needs.
    ``said`` holds the words and names of other languages, each with what it is in English; only
    their single words and states (rows of doubt ``word``) are ``variants`` too.
    """

    names: tuple[NameRow, ...]
    absent: tuple[AbsentRow, ...]
    harmless: frozenset[str]
    variants: Mapping[Phrase, Phrase] = field(default_factory=dict)
    state_phrases: Mapping[Phrase, frozenset[str]] = field(default_factory=dict)
    digest: str = ""
    name_rows: int = 0
    said: Mapping[str, Mapping[Phrase, Phrase]] = field(default_factory=dict)
    foreign: frozenset[str] = frozenset()  # words that only files of other languages hold

    def states_of(self, phrase: Phrase) -> frozenset[str]:
        """States that words of another language say, which the grammar of lines does not know."""
        if self.foreign.isdisjoint(phrase):
            return frozenset()
        at_words = (
            phrase[at : at + size]
            for at in range(len(phrase))
            for size in range(1, LONGEST_SAID + 1)
        )
        found = (
            self.state_phrases.get(self.variants[p])
            for p in at_words
            if p in self.variants and not self.foreign.isdisjoint(p)
        )
        return frozenset().union(*(states for states in found if states))

    def canonical(self, phrase: Phrase) -> Phrase:
        """``phrase`` with regional words replaced by one form, longest first."""
        begun = self._begun
        if not begun.keys().isdisjoint(phrase):
            for word, after in zip(phrase, (*phrase[1:], ""), strict=True):
                seconds = begun.get(word)
                if seconds is not None and (after in seconds or "" in seconds):
                    return replace_phrases(phrase, self.variants)
        return phrase

    @cached_property
    def _begun(self) -> dict[str, set[str]]:
        """First words of what is replaced, each with the words that may follow, "" for any."""
        begun: dict[str, set[str]] = {}
        for first, *rest in filter(None, self.variants):
            begun.setdefault(first, set()).add(rest[0] if rest else "")
        return begun


def replace_phrases(phrase: Phrase, table: Mapping[Phrase, Phrase]) -> Phrase:
    """Replace, from the left and longest first, each part of ``phrase`` that ``table`` knows."""
    if not table:
        return phrase
    out: list[str] = []
    at = 0
    while at < len(phrase):
        for size in range(min(LONGEST_SAID, len(phrase) - at), 0, -1):
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
    paths = sorted((folder / "words").glob("*.csv"), key=lambda p: (p.stem != ENGLISH, p.name))
    files = {path.stem: tuple(_rows(path)) for path in paths}
    spoken = {words(w) for row in files.get(ENGLISH, ()) for w in _split(row["words"])}
    variants = _variants(folder, files, spoken)
    names, absent = _name_rows(files, variants)
    said = {language: _in_english(rows) for language, rows in files.items() if language != ENGLISH}
    english = {w for row in names if row.language == ENGLISH for p in row.phrases for w in p}
    english |= {w for phrase in (*spoken, *variants.values()) for w in phrase}
    state_phrases: dict[Phrase, frozenset[str]] = {}
    for row in _rows(folder / "states.csv"):
        for phrase in _phrases(row["words"], variants):
            state_phrases[phrase] = state_phrases.get(phrase, frozenset()) | {row["state"]}
    return Knowledge(
        names=tuple(names), absent=tuple(absent), variants=variants, state_phrases=state_phrases,
        harmless=frozenset(w for r in _rows(folder / "name_words.csv") for w in words(r["word"])),
        digest=knowledge_digest(folder), name_rows=len(names), said=said,
        foreign=frozenset(w for of in said.values() for p in of for w in p) - english,
    )  # fmt: skip


#: Rows of each language's words file, English first.
_Files = Mapping[str, Sequence[dict[str, str]]]


def _variants(folder: Path, files: _Files, spoken: set[Phrase]) -> dict[Phrase, Phrase]:
    """Regional words and words of other languages, each with what is read instead."""
    variants = {
        words(row["from"]): words(row["to"])
        for row in _rows(folder / "spelling_variants.csv")
        if words(row["from"]) != words(row["to"])
    }
    for row in (row for rows in files.values() for row in rows if row["doubt"] == WORD):
        for phrase in map(words, _split(row["words"])):
            if phrase and phrase not in spoken:  # an English word stays English
                variants.setdefault(phrase, words(row["concept"]))
    return variants


def _phrases(cell: str, variants: Mapping[Phrase, Phrase]) -> tuple[Phrase, ...]:
    read = (replace_phrases(words(name), variants) for name in _split(cell))
    return tuple(dict.fromkeys(p for p in read if p))


def _name_rows(
    files: _Files, variants: Mapping[Phrase, Phrase]
) -> tuple[list[NameRow], list[AbsentRow]]:
    """Rows that name foods, and those of foods that the embedded table lacks."""
    names: list[NameRow] = []
    absent: list[AbsentRow] = []
    taken: set[Phrase] = set()  # by the languages read before
    for language, rows in files.items():
        own: set[Phrase] = set()
        for row in rows:
            if row["doubt"] == WORD:
                continue
            free = tuple(p for p in _phrases(row["words"], variants) if p not in taken)
            own.update(free)
            concept = Concept.read(row["concept"])
            if row["doubt"] == LACKING:
                absent.append(AbsentRow(free, concept, row["note"]))
                continue
            fat = float(row["fat_pct"]) if row["fat_pct"] else None
            states, ordinary = frozenset(_split(row["when"])), row["ordinary"] == "y"
            names.append(NameRow(concept, free, states, ordinary, fat, row["doubt"], language))
        taken |= own
    return names, absent


def _in_english(rows: Sequence[dict[str, str]]) -> dict[Phrase, Phrase]:
    """The words and ordinary names of another language, each with what it is in English."""
    said: dict[Phrase, Phrase] = {}
    for row in rows:
        meant = Concept.read(row["concept"]).words
        for phrase in map(words, _split(row["words"])):
            if row["doubt"] == WORD:
                said[phrase] = words(row["concept"])
            elif row["doubt"] != LACKING and row["ordinary"] == "y":
                said.setdefault(phrase, meant)
    return said


def knowledge_digest(folder: Path | None = None) -> str:
    """Digest of all names tables: changes when any of them does."""
    folder = folder or shared_path("")
    digest = hashlib.sha256()
    for path in (
        *sorted((folder / "words").glob("*.csv")),
        *(folder / f"{name}.csv" for name in _GENERAL),
    ):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


_GENERAL = ("match_words", "name_words", "plurals", "spelling_variants", "states")
