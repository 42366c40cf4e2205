"""The words of food descriptions and what they say: ``shared/food_words.csv``, ``states.csv``,
``description_words.csv``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from pipeline.foods.words import words
from pipeline.resources import shared_rows, word_lists

#: Tables this folder reads; a change of one is a new snapshot.
SHARED_TABLES = (
    "food_words.csv", "states.csv", "food_parts.csv", "langual.csv", "description_words.csv",
)  # fmt: skip

#: Words by what they do in a description, as the notes of the table tell.
LISTS = {name: frozenset(own) for name, own in word_lists("description_words.csv").items()}
WITH, WITHOUT, NOT = LISTS["with"], LISTS["without"], LISTS["not"]
BESIDE, OPENS, JOINS = LISTS["beside"], LISTS["opens"], LISTS["joins"]
THERE, GONE = LISTS["there"], LISTS["gone"]
UNSAID, FUNCTION = LISTS["unsaid"], LISTS["function"]
#: What a denied state leaves: "not cooked" is raw.
CONTRARY = {
    "cooked": "raw", "boiled": "raw", "drained": "undrained", "smoked": "unsmoked",
    "reconstituted": "not_reconstituted",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meaning:
    """One row: what a phrase says and where.

    Attributes:
        phrase: its words, singular; ``=word`` stands for the word as written, plural and all.
        says: (key, value) pairs, e.g. ``("state", "roasted")``.
        place: where it counts: "" anywhere; ``first`` before another word; ``last`` at the end;
            ``only`` as a whole part; ``clause`` behind with or without; ``head`` as a heading.
        not_before, not_after: neighbours that make it mean something else.
        head: it counts only in descriptions headed by one of these words; empty for any.
        unless: it does not count in descriptions headed by one of these words ("-bean").
        noun: it stays a word of the name ("flour" of "corn flour").
    """

    phrase: tuple[str, ...]
    says: tuple[tuple[str, str], ...]
    place: str = ""
    not_before: frozenset[tuple[str, ...]] = frozenset()
    not_after: frozenset[str] = frozenset()
    head: frozenset[str] = frozenset()
    unless: frozenset[str] = frozenset()
    noun: bool = False


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Every meaning by the first word of its phrase, longest phrase first, and the headings."""

    meanings: dict[str, tuple[Meaning, ...]]
    headings: frozenset[tuple[str, ...]]


def _phrases(cell: str) -> list[tuple[str, ...]]:
    return [
        (text.strip(),) if text.startswith("=") else words(text)
        for text in cell.split(";")
        if text.strip()
    ]


def _meaning(phrase: tuple[str, ...], row: dict[str, str]) -> Meaning:
    says = []
    noun = False
    for pair in row["says"].split(";"):
        key, _, value = pair.partition(":")
        if key == "noun":
            noun = True
        else:
            says.append((key, " ".join(phrase) if value == "=" else value))
    heads = [w for w in row["head"].split(";") if not w.startswith("-")]
    unless = [w for w in row["head"].split(";") if w.startswith("-")]
    return Meaning(
        phrase,
        tuple(says),
        row["place"],
        frozenset(_phrases(row["not_before"])),
        frozenset(w for p in _phrases(row["not_after"]) for w in p),
        frozenset(w for p in _phrases(";".join(heads)) for w in p),
        frozenset(w[1:] for w in unless),
        noun or any(key in ("part", "topic", "adjective") for key, _ in says),
    )


def _of_lines() -> list[Meaning]:
    """States that cooks write on lines: other words for the same, British ones among them."""
    found = []
    for row in shared_rows("states.csv"):
        if row["place"] == "noun":
            continue
        for phrase in _phrases(row["words"]):
            if phrase[0] in WITH | WITHOUT | NOT:
                continue  # the grammar of clauses reads these, and knows their scope
            not_before = frozenset(_phrases(row["not_before"]))
            found.append(Meaning(phrase, (("state", row["state"]),), not_before=not_before))
    return found


@cache
def vocabulary() -> Vocabulary:
    """Read the tables once. A phrase of ``food_words.csv`` replaces that of ``states.csv``."""
    own: dict[tuple[str, ...], list[Meaning]] = {}
    headings: set[tuple[str, ...]] = set()
    for row in shared_rows("food_words.csv"):
        for phrase in _phrases(row["words"]):
            meaning = _meaning(phrase, row)
            if meaning.place == "head":
                headings.add(phrase)
                continue
            own.setdefault(phrase, []).append(meaning)
    for meaning in _of_lines():
        if meaning.phrase not in own:
            own[meaning.phrase] = [meaning]
    by_word: dict[str, list[Meaning]] = {}
    for phrase in sorted(own, key=len, reverse=True):
        by_word.setdefault(phrase[0], []).extend(own[phrase])
    meanings = {word: tuple(found) for word, found in by_word.items()}
    return Vocabulary(meanings, frozenset(headings))
