"""Where each distinct line text stands in the collection, and which texts name the same food."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import TYPE_CHECKING

from pipeline.lines import parse_many
from pipeline.memory.decisions import same_text
from pipeline.web.model import Place, line_key

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.lines.model import ParsedLine


class LineIndex:
    """Line texts by their keys.

    Args:
        line: rows of ``tables.LINE``, split where a line holds several foods.
    """

    def __init__(self, line: pd.DataFrame) -> None:
        self.texts: dict[str, str] = {}
        self.parsed: dict[str, ParsedLine] = {}
        self._places: defaultdict[str, list[Place]] = defaultdict(list)
        self._by_name: defaultdict[str, list[str]] = defaultdict(list)
        self._keys_of: defaultdict[str, set[str]] = defaultdict(set)
        self._add(line)

    def replace(self, recipe_ids: set[str], line: pd.DataFrame) -> None:
        """Put the lines of some recipes in place of those they had."""
        for key in {key for recipe_id in recipe_ids for key in self._keys_of.pop(recipe_id, ())}:
            left = [place for place in self._places[key] if place[0] not in recipe_ids]
            if left:
                self._places[key] = left
            else:
                self._forget(key)
        self._add(line)

    def text(self, key: str) -> str | None:
        """The text of a key, None when no line reads so (any more)."""
        return self.texts.get(key)

    def places(self, key: str) -> list[Place]:
        """Every line that reads so."""
        return self._places[key] if key in self.texts else []

    def recipes(self, keys: Iterable[str]) -> set[str]:
        """Recipes with a line of one of these texts."""
        return {recipe_id for key in keys for recipe_id, _ in self.places(key)}

    def about(self, scope: str, text: str) -> list[str]:
        """Keys of the texts that an answer about a line or a food name is about."""
        if scope == "name":
            return self._by_name.get(same_text(text), [])
        key = line_key(text)
        return [key] if key in self.texts else []

    def same_name(self, key: str) -> list[str]:
        """Keys of all texts with this text's food name, itself among them."""
        name = self.parsed[key].name
        return self.about("name", name) or [key]

    def _add(self, line: pd.DataFrame) -> None:
        new: dict[str, str] = {}
        rows = zip(line["recipe_id"], line["line_no"], line["text"], strict=True)
        for recipe_id, line_no, text in rows:
            key = line_key(str(text))
            if key not in self.texts:
                self.texts[key] = new[key] = str(text)
            self._places[key].append((str(recipe_id), int(line_no)))
            self._keys_of[str(recipe_id)].add(key)
        for key, parsed in zip(new, parse_many(list(new.values())), strict=True):
            self.parsed[key] = parsed
            if parsed.kind == "food" and parsed.name:
                self._by_name[same_text(parsed.name)].append(key)

    def _forget(self, key: str) -> None:
        del self.texts[key], self._places[key]
        name = same_text(self.parsed.pop(key).name)
        if key in self._by_name.get(name, ()):
            self._by_name[name].remove(key)
