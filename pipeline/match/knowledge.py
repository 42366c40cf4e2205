"""What cooks call foods: the files under ``shared/`` that the match stage stands on.

``words/*.csv``        a cook's word → a concept and when it is meant, one file a language; in any
                       but English, rows of doubt ``word`` give single words in English
``name_words.csv``     words that never change the food ("ripe", "organic")
``spelling_variants.csv`` regional words, at word or phrase level
``states.csv``         words that say a state, and the state they say
``match_words.csv``    lists of words and states by what they do in a name, a line or a description
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable, Mapping
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
        return replace_phrases(phrase, self.variants, self._longest)

    @cached_property
    def _longest(self) -> dict[str, int]:
        """For each word how long a phrase that begins with it and is replaced may be."""
        longest: dict[str, int] = {}
        for phrase in filter(None, self.variants):
            longest[phrase[0]] = max(longest.get(phrase[0], 0), min(len(phrase), LONGEST_SAID))
        return longest


def replace_phrases(
    phrase: Phrase, table: Mapping[Phrase, Phrase], longest: Mapping[str, int] | None = None
) -> Phrase:
    """Replace, from the left and longest first, each part of ``phrase`` that ``table`` knows.

    Args:
        phrase: words.
        table: what each part becomes.
        longest: for each first word how many words are looked up; ``LONGEST_SAID`` by default.
    """
    if not table or (longest is not None and longest.keys().isdisjoint(phrase)):
        return phrase
    out: list[str] = []
    at = 0
    while at < len(phrase):
        most = LONGEST_SAID if longest is None else longest.get(phrase[at], 0)
        for size in range(min(most, len(phrase) - at), 0, -1):
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

    files = sorted((folder / "words").glob("*.csv"), key=lambda p: (p.stem != ENGLISH, p.name))
    rows = {path.stem: tuple(_rows(path)) for path in files}
    spoken = {words(w) for row in rows.get(ENGLISH, ()) for w in _split(row["words"])}
    for of_file in rows.values():
        for row in of_file:
            if row["doubt"] == WORD:
                for phrase in map(words, _split(row["words"])):
                    if phrase and phrase not in spoken:  # an English word stays English
                        variants.setdefault(phrase, words(row["concept"]))

    def phrases(cell: str | None) -> tuple[Phrase, ...]:
        read = (replace_phrases(words(name), variants) for name in _split(cell))
        return tuple(dict.fromkeys(p for p in read if p))

    names: list[NameRow] = []
    absent: list[AbsentRow] = []
    taken: set[Phrase] = set()  # by the languages read before, English first
    said: dict[str, dict[Phrase, Phrase]] = {}
    for language, of_file in rows.items():
        own: set[Phrase] = set()
        in_english = said.setdefault(language, {}) if language != ENGLISH else {}
        for row in of_file:
            if row["doubt"] == WORD:
                in_english.update(
                    (p, words(row["concept"])) for p in map(words, _split(row["words"]))
                )
                continue
            concept = Concept.read(row["concept"])
            free = tuple(p for p in phrases(row["words"]) if p not in taken)
            own.update(free)
            if row["doubt"] == LACKING:
                absent.append(AbsentRow(free, concept, row["note"]))
                continue
            if row["ordinary"] == "y":
                for phrase in map(words, _split(row["words"])):
                    in_english.setdefault(phrase, concept.words)
            names.append(
                NameRow(
                    concept=concept,
                    phrases=free,
                    states=frozenset(_split(row["when"])),
                    default=row["ordinary"] == "y",
                    fat_pct=float(row["fat_pct"]) if row["fat_pct"] else None,
                    doubt=row["doubt"],
                    language=language,
                )
            )
        taken |= own
    english = {w for row in names if row.language == ENGLISH for p in row.phrases for w in p}
    english |= {w for phrase in (*spoken, *variants.values()) for w in phrase}
    harmless = frozenset(w for row in _rows(folder / "name_words.csv") for w in words(row["word"]))
    state_phrases: dict[Phrase, frozenset[str]] = {}
    for row in _rows(folder / "states.csv"):
        for phrase in phrases(row["words"]):
            state_phrases[phrase] = state_phrases.get(phrase, frozenset()) | {row["state"]}
    return Knowledge(
        tuple(names),
        tuple(absent),
        harmless,
        variants,
        state_phrases,
        knowledge_digest(folder),
        len(names),
        said,
        frozenset(w for of in said.values() for p in of for w in p) - english,
    )


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
