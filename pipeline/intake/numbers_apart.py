"""Numbers that stand apart from the recipes they are of, joined to them by id or title.

A ledger beside the cards, a sheet of totals in a workbook of recipes, a table at the end of a book:
readers hand on such rows as recipes without lines (``model.Apart``), because only the collection
tells whether they are of its recipes. Rows are joined where enough of their table names recipes;
a title that several recipes or rows share is told and joined to none.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from pipeline.foods.words import words
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.model import Apart, RawRecipe, RawStated, Read, cut, named_by_file
from pipeline.problems import Problem, input_problem, place
from pipeline.resources import word_lists

#: What a file is told to lack while nobody knows whose its numbers are.
_UNREAD = frozenset(("no-recipe", "table-columns-unknown", "read-by-content", "columns-unread"))
#: Rows that name recipes: half of all, or so many of them and this share, at least.
_MOST_OF, _LEAST_ROWS, _LEAST_SHARE = 0.5, 2, 0.1
#: Share of their words that two titles have in common, at least, where each has a word of its own,
#: and where all words of one are in the other; what is less by this much is another dish.
_ALIKE, _WITHIN, _CLEARLY = 0.75, 0.5, 0.15
#: Likeness of two spellings of one word, of 100, and letters from which on it counts.
_SPELLED, _LONG_WORD = 84, 5
#: What numbers a title: "A. Mild chilli", "12) Dal".
_NUMBERED = re.compile(r"\W*([A-Za-z]|\d{1,3})\s?[.):]\s")
_MAX_TITLE = 100
#: Recipes that share a word, beyond which it tells them apart no more.
_MOST_SHARING = 500


@dataclass(slots=True)
class _Recipe:
    """A recipe with lines, where it stands, and the words of its title."""

    source: str
    raw: RawRecipe
    words: frozenset[str]


def join(reads: Sequence[tuple[str, Read]]) -> frozenset[str]:
    """Give recipes the numbers that stand apart from them, and tell what was joined and what not.

    Args:
        reads: each file of a collection, and what it gave.

    Returns:
        The files that belong together: those of the rows, and of the recipes they name.
    """
    tables = [(source, read, one) for source, read in reads for one in _tables(read)]
    if not tables:
        return frozenset()
    _read_titled(reads, tables)
    doubtful = {id(one) for _, _, table in tables for one in table.instead}
    _take_listed([read for _, read in reads], tables)
    titles = _Titles(
        _Recipe(source, raw, _words_of(raw, source, alone=len(read.recipes) == 1))
        for source, read in reads for raw in read.recipes if raw.lines and id(raw) not in doubtful
    )  # fmt: skip
    claims: dict[int, list[tuple[str, RawRecipe]]] = defaultdict(list)
    recipes: dict[int, RawRecipe] = {}
    together: set[str] = set()
    for source, read, table in tables:
        rows = [
            row for row in table.rows
            if row.stated or not math.isnan(row.servings) or (row.title and row.own_id)
        ]  # fmt: skip
        found = titles.of_rows(rows, source)
        named = sum(map(bool, found))
        whole = any(one.lines and one.stated for one in table.instead)  # a list, with its own sums
        some = named >= max(_LEAST_ROWS, _LEAST_SHARE * len(rows)) and not whole
        exact = any(
            len(of) == 1 and _names_exactly(row, of[0]) for row, of in zip(rows, found, strict=True)
        )
        if not named or not (some or exact or named >= _MOST_OF * len(rows)):
            continue
        dropped = set(map(id, table.instead))
        of_row = {id(row): of[0].raw for row, of in zip(rows, found, strict=True) if len(of) == 1}
        _leave_out(read, dropped, of_row)
        read.problems = [p for p in read.problems if read.recipes or p.code not in _UNREAD]
        for row, of in zip(rows, found, strict=True):
            if len(of) == 1:
                claims[id(of[0].raw)].append((source, row))
                recipes[id(of[0].raw)] = of[0].raw
                together |= {source, of[0].source}
            elif row.stated:
                read.problems.append(_not_joined(row, of, source))
    for key, of_one in claims.items():
        _give(recipes[key], of_one)
    return frozenset(together)


def _names_exactly(row: RawRecipe, recipe: _Recipe) -> bool:
    """Whether a row has the whole title, of two words and more, of a recipe without numbers."""
    said = title_words(row.title)
    return len(said) > 1 and said == recipe.words and not recipe.raw.stated


def _leave_out(read: Read, dropped: set[int], of_row: Mapping[int, RawRecipe]) -> None:
    """Take recipes of numbers alone out of a file; marks of its script follow their numbers.

    Args:
        read: the file.
        dropped: ids of the recipes.
        of_row: the recipe that each is about, by its id, where there is one.
    """
    before = read.recipes
    read.recipes = [one for one in before if id(one) not in dropped]
    place = {id(one): at for at, one in enumerate(read.recipes)}
    now = [place.get(id(of_row.get(id(one), one))) for one in before]
    read.marks = [m if m.recipe is None else replace(m, recipe=now[m.recipe]) for m in read.marks]


def _take_listed(reads: Sequence[Read], tables: Sequence[tuple[str, Read, Apart]]) -> None:
    """Make recipes of lists of foods that rows of numbers or servings name."""
    rows = [row for _, _, table in tables for row in table.rows]
    named = {title_words(row.title) for row in rows if row.title} - {frozenset()}
    numbered = {row.own_id for row in rows if row.own_id}
    for read in reads:
        found = [
            one for one in read.listed
            if one.own_id in numbered or (one.title and title_words(one.title) in named)
        ]  # fmt: skip
        if len(found) >= _LEAST_ROWS and len(found) >= _MOST_OF * len(read.listed):
            read.recipes = [*read.recipes, *found]
            read.problems = [p for p in read.problems if p.code not in _UNREAD]


def _tables(read: Read) -> list[Apart]:
    """Tables of numbers of a file; a recipe of numbers alone is one of its own."""
    taken = {id(one) for table in read.apart for one in table.instead}
    alone = [one for one in read.recipes if not one.lines and one.stated and id(one) not in taken]
    return [*read.apart, *(Apart([one], [one]) for one in alone)]


def _read_titled(
    reads: Iterable[tuple[str, Read]], tables: Sequence[tuple[str, Read, Apart]]
) -> None:
    """Read texts in which no recipe was found by the titles of those whose numbers are known."""
    titles = {
        title_words(row.title) for _, _, table in tables for row in table.rows if row.stated
    } - {frozenset()}

    def is_title(text: str) -> bool:
        bare = text.strip("*_#:-=~ ")
        return len(bare) <= _MAX_TITLE and title_words(titled_yield(bare)[0]) in titles

    for source, read in reads:
        if read.titled is not None and (found := read.titled(is_title, named_by_file(source))):
            read.recipes = [*read.recipes, *found]
            read.problems = [p for p in read.problems if p.code not in _UNREAD]
            for position, recipe in enumerate(read.recipes):
                recipe.position = position


@cache
def _glue() -> frozenset[str]:
    return frozenset(dict(word_lists("match_words.csv"))["glue"])


def title_words(title: str) -> frozenset[str]:
    """The words by which a title is known again: none that only bind others, no numbering."""
    said = [word for word in words(title.replace("&", " ")) if not word.isdigit()]
    telling = [word for word in said if word not in _glue() and len(word) > 1]
    return frozenset(telling or said or filter(None, [title.strip().casefold()]))


def _words_of(raw: RawRecipe, source: str, *, alone: bool) -> frozenset[str]:
    """The words of a recipe's title; of one that is alone in its file also those of the file's name."""
    return title_words(raw.title or (named_by_file(source) if alone else ""))


def name_recipes(rows: Sequence[RawRecipe], recipes: Sequence[RawRecipe]) -> bool:
    """Whether rows of numbers are of the recipes of one text: most of them name one of these."""
    titles = _Titles(_Recipe("", one, title_words(one.title)) for one in recipes if one.lines)
    named = sum(len(found) == 1 for found in titles.of_rows(rows, ""))
    return named >= max(_LEAST_ROWS, _MOST_OF * len(rows))


class _Titles:
    """The recipes of a collection by their ids and the words of their titles."""

    def __init__(self, recipes: Iterable[_Recipe]) -> None:
        self._recipes = list(recipes)
        self._by_id: dict[str, list[_Recipe]] = defaultdict(list)
        self._by_words: dict[frozenset[str], list[_Recipe]] = defaultdict(list)
        self._by_word: dict[str, list[_Recipe]] = defaultdict(list)
        for one in self._recipes:
            numbered = _NUMBERED.match(one.raw.title)
            if key := one.raw.own_id or (numbered[1] if numbered else ""):
                self._by_id[key].append(one)
            if one.words:
                self._by_words[one.words].append(one)
            for word in one.words:
                self._by_word[word].append(one)
        self._by_letter: dict[str, list[str]] = defaultdict(list)
        for word in self._by_word:
            self._by_letter[word[0]].append(word)
        self._spelled: dict[str, str] = {}

    def of_rows(self, rows: Sequence[RawRecipe], source: str) -> list[list[_Recipe]]:
        """The recipes that each row may be of: one where it is clear, else none or several.

        A recipe that one row names in full is not meant by another that is only like it.
        """
        exact = [self._named(row, source) for row in rows]
        taken = {id(one.raw) for found in exact for one in found}
        return [
            found or self._alike(title_words(row.title), source, taken)
            for row, found in zip(rows, exact, strict=True)
        ]

    def _named(self, row: RawRecipe, source: str) -> list[_Recipe]:
        said = title_words(row.title)
        by_id = self._by_id.get(row.own_id, []) if row.own_id else []
        if found := [one for one in by_id if not (said and one.raw.title) or said & one.words]:
            return _nearest(found, source)
        return _nearest(self._by_words.get(said, []), source)

    def _alike(self, said: frozenset[str], source: str, taken: set[int]) -> list[_Recipe]:
        said = frozenset(map(self._known, said))
        shared = (self._by_word.get(word, []) for word in said)
        near = {
            id(one): one for of_word in shared if len(of_word) <= _MOST_SHARING for one in of_word
        }
        scores = [
            (_likeness(said, one.words), one) for one in near.values() if id(one.raw) not in taken
        ]
        best = max((score for score, _ in scores), default=0.0)
        if not best:
            return []
        return _nearest([one for score, one in scores if score > best - _CLEARLY], source)

    def _known(self, word: str) -> str:
        """A word, or the word of a title of which it is another spelling."""
        near = self._by_letter.get(word[0], [])
        if word in self._by_word or len(word) < _LONG_WORD or len(near) > _MOST_SHARING:
            return word
        if word not in self._spelled:
            from rapidfuzz import fuzz, process

            found = process.extractOne(word, near, scorer=fuzz.ratio, score_cutoff=_SPELLED)
            self._spelled[word] = str(found[0]) if found else word
        return self._spelled[word]


def _likeness(a: frozenset[str], b: frozenset[str]) -> float:
    """How alike two titles are; 0 where they are those of two dishes."""
    both = len(a & b)
    share = 2 * both / (len(a) + len(b)) if both else 0.0
    return share if share >= (_WITHIN if both == min(len(a), len(b)) else _ALIKE) else 0.0


def _nearest(found: list[_Recipe], source: str) -> list[_Recipe]:
    """Of several recipes those of the same file, else of the same folder, where there are any."""
    folder = source.rpartition("/")[0]
    for near in (
        [one for one in found if one.source == source],
        [one for one in found if one.source.rpartition("/")[0] == folder],
    ):
        if len(found) > 1 and near:
            return near
    return found


def _not_joined(row: RawRecipe, named: Sequence[_Recipe], source: str) -> Problem:
    code = "numbers-of-several" if named else "numbers-without-recipe"
    titles = ", ".join(f'"{cut(one.raw.title, 40)}"' for one in named[:4])
    return input_problem(
        code, source=source, source_line=row.source_line, title=cut(row.title or row.own_id, 60),
        titles=titles,
    )  # fmt: skip


def _give(raw: RawRecipe, rows: Sequence[tuple[str, RawRecipe]]) -> None:
    """Put into a recipe what rows say of it."""
    for _, row in rows:
        _fill(raw, row)
    stating = [(source, row) for source, row in rows if row.stated]
    if not stating:
        return
    source, first = stating[0]
    where = place(source, first.source_line)
    title = cut(raw.title, 60)
    if any(_differ(first.stated, row.stated) for _, row in stating[1:]):
        wheres = ", ".join(place(s, row.source_line) for s, row in stating)
        raw.problems.append(input_problem("numbers-told-twice", title=title, wheres=wheres))
        return
    if two := _differ(raw.stated, first.stated):
        own, other = (cut(one.text, 40) for one in two)
        raw.problems.append(
            input_problem("numbers-differ", title=title, where=where, own=own, other=other)
        )
        return
    more = _lacking(raw.stated, first.stated)
    if not more:
        return
    per_serving = any(one.basis == "per_serving" for one in more)
    if per_serving and not math.isnan(first.servings) and first.servings != raw.servings:
        raw.problems.append(
            input_problem(
                "servings-differ", title=title, where=where, own=raw.servings, other=first.servings
            )
        )
        _take_servings(raw, first)
    raw.basis_said, raw.served = first.basis_said, first.served or raw.served
    raw.stated_at = raw.stated_at if raw.stated else where
    raw.stated += more
    raw.problems.append(
        input_problem(
            "numbers-elsewhere", title=title, where=where, row=cut(first.title or first.own_id, 60)
        )
    )


def _lacking(own: Sequence[RawStated], row: Sequence[RawStated]) -> list[RawStated]:
    """The numbers of a row that a recipe lacks: all, or those beside one that both state."""
    known = {(one.nutrient, one.basis) for one in own}
    if own and known.isdisjoint((one.nutrient, one.basis) for one in row):
        return []
    return [
        RawStated(one.nutrient, one.amount, one.basis, one.step, one.text)  # in no line of its file
        for one in row if (one.nutrient, one.basis) not in known
    ]  # fmt: skip


def _fill(raw: RawRecipe, row: RawRecipe) -> None:
    """What a recipe lacks and a row about it says: its name, and what it makes."""
    raw.title = raw.title or row.title
    raw.creator = raw.creator or row.creator
    raw.method = raw.method or row.method
    if math.isnan(raw.servings) and not raw.readings:
        _take_servings(raw, row)
    if math.isnan(raw.yield_g):
        raw.yield_g = row.yield_g


def _take_servings(raw: RawRecipe, row: RawRecipe) -> None:
    raw.servings, raw.serving_word = row.servings, row.serving_word
    raw.told, raw.readings = row.told, row.readings


def _differ(
    first: Sequence[RawStated], second: Sequence[RawStated]
) -> tuple[RawStated, RawStated] | None:
    """The first number that two lists state differently, for the same basis."""
    known = {(one.nutrient, one.basis): one for one in first}
    for other in second:
        one = known.get((other.nutrient, other.basis))
        if one is not None and abs(one.amount - other.amount) > max(one.step, other.step):
            return one, other
    return None
