"""Lines that name another recipe of the collection: "2 portions of the base dressing".

A title is often the plain name of a food ("Corn tortillas"), so a line means a recipe only when it
says so (``refers``), or when the recipe is of the same creator; a recipe of the same folder of
which nobody is named is meant too, where the table knows no such food for certain.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.foods.words import words
from pipeline.lines.model import ParsedLine
from pipeline.match.query import GLUE

#: Units that only a dish is counted in; a line with one may name a title in part.
DISH_UNITS = frozenset({"portion", "whole", "batch"})
#: Words around a title that say only that it was made before.
_MADE_BEFORE = frozenset(
    {"recipe", "batch", "portion", "serving", "homemade", "leftover", "quantity", "above", "below",
     "one", "full", "see", "from", "made", "earlier", "previous", "prepared", "remaining", "rest"}
)  # fmt: skip
#: Words that point to something made by a recipe: "half the base dough", "my granola (see recipe)".
_REFERS = re.compile(
    r"\b(?:the|this|that|recipe|batch(?:es)?|made (?:earlier|before|above)"
    r"|see (?:above|below|recipe|page)|(?:from|recipe) (?:above|below)|leftover|previous)\b"
    r"|https?://",
    re.IGNORECASE,
)
#: A share of something made: "500 g of the sauce", "half the dough".
_SHARE = re.compile(r"\b(?:of|from|half|quarter)\s+(?:the|this|that)\b", re.IGNORECASE)
#: Words that point to something the cook made, in this kitchen or another.
_OWN = re.compile(r"\b(?:home-?made|our|my)\b", re.IGNORECASE)
#: Behind these "the" says nothing of the food: "for the pan", "at the end".
_OTHER_THE = re.compile(r"\b(?:for|at|on|in|into|over|to|off|all)\s+(?:the|this)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Title:
    """A recipe of the collection by its title words.

    Attributes:
        creator: "" when nobody is named.
        folder: of the file it stands in.
    """

    recipe_id: str
    title: str
    key: tuple[str, ...]
    creator: str = ""
    folder: str = ""


class Titles:
    """Looks titles up in food names.

    Args:
        recipes: rows of recipe_id, title, creator, source (a posix path).
    """

    def __init__(self, recipes: Iterable[tuple[str, str, str, str]]) -> None:
        every = [
            Title(recipe_id, title, key_of(title), creator, folder_of(source))
            for recipe_id, title, creator, source in recipes
        ]
        self._by_id = {t.recipe_id: t for t in every}
        self._titles = [t for t in every if t.key]
        self._whole: dict[tuple[str, ...], list[Title]] = {}
        for title in self._titles:
            self._whole.setdefault(title.key, []).append(title)
        self._ends: dict[tuple[str, ...], list[Title]] = {}
        for title in self._titles:
            for at in range(1, len(title.key)):
                self._ends.setdefault(title.key[at:], []).append(title)

    def find(self, line: ParsedLine, within: str, *, known: bool = False) -> Title | None:
        """The recipe a line means, None when it means none or when two could be meant.

        The whole title (articles and "recipe", "batch" apart) has to be said. Recipes of the same
        creator come first, then those of the same folder, then all. Of a share ("500 g of the
        sauce") the end of the title is enough among the nearest recipes. Where the line counts in
        portions, batches or shares, part of one title is enough if no other title holds it too.

        Args:
            line: the parsed line.
            within: recipe_id the line stands in; a recipe is no ingredient of itself.
            known: the table knows the food of the line for certain.
        """
        if line.kind != "food" or not line.name:
            return None
        key = key_of(line.name)
        if not key:
            return None
        dish = any(m.unit in DISH_UNITS for m in line.measures)
        said = "recipe" if dish else refers(line.text)
        whole = [t for t in self._whole.get(key, []) if t.recipe_id != within]
        if whole:
            return self._nearest(whole, within, said=said, known=known)
        if said == "share":
            ends = [t for t in self._ends.get(key, []) if t.recipe_id != within]
            own, near = self._ranges(ends, within)
            if own or near:
                group = own or near
                return group[0] if len(group) == 1 else None
        if not dish:
            return None
        words_said = set(key)
        part = [t for t in self._titles if words_said <= set(t.key) and t.recipe_id != within]
        return part[0] if len(part) == 1 and key[-1] in part[0].key else None

    def _nearest(self, whole: list[Title], within: str, *, said: str, known: bool) -> Title | None:
        own, near = self._ranges(whole, within)
        meant_near, meant_any = said != "" or not known, said in ("recipe", "share")
        for group, meant in ((own, True), (near, meant_near), (whole, meant_any)):
            if group:
                return group[0] if meant and len(group) == 1 else None
        return None

    def _ranges(self, titles: list[Title], within: str) -> tuple[list[Title], list[Title]]:
        """Those of the same creator, and those of the same folder where nobody is named."""
        me = self._by_id.get(within) or Title(within, "", ())
        own = [t for t in titles if me.creator and t.creator == me.creator]
        near = [t for t in titles if not me.creator and not t.creator and t.folder == me.folder]
        return own, near

    def __bool__(self) -> bool:
        return bool(self._titles)


def refers(text: str) -> str:
    """What a line says of having been made: "share" ("500 g of the sauce"), "recipe" ("the
    dressing", "see recipe"), "own" ("our stock", "homemade stock"), or "".
    """
    if _SHARE.search(text):
        return "share"
    if _REFERS.search(_OTHER_THE.sub(" ", text)):
        return "recipe"
    return "own" if _OWN.search(text) else ""


def folder_of(source: str) -> str:
    """Folder of a source file, "" for the root of the collection."""
    return source.rpartition("/")[0]


def key_of(text: str) -> tuple[str, ...]:
    """The words of a title or a food name that decide whether one names the other."""
    return tuple(w for w in words(text) if w not in GLUE and w not in _MADE_BEFORE)
