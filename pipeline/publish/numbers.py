"""The numbers a copy should state, and how one is written in text, tree and cell."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.intake.columns import NutrientColumn
from pipeline.intake.files import decode
from pipeline.nutrients import BY_COLUMN, BY_TAG, NET_CARBS_TAG
from pipeline.publish.restate import restate_amount, restate_line, shown, written_value

NET_CARBS_COLUMN = "net_carbs_g"
#: Position of a recipe in its file to the numbers it should state, by tag.
Wanted = Mapping[int, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Original:
    """A recipe file as it stands; ``source`` is its name in messages."""

    data: bytes
    path: Path
    source: str

    @property
    def text(self) -> str:
        """Its text, decoded."""
        return decode(self.data, self.source)[0]


def as_saved(text: str, data: bytes) -> str:
    """A text with the line ends and the mark at the beginning that its file has."""
    mark = "\ufeff" if data.startswith(b"\xef\xbb\xbf") else ""
    return mark + (text.replace("\n", "\r\n") if b"\r\n" in data else text)


class NotWritableError(Exception):
    """The format, or this file of it, has no place for the numbers."""


def json_number(value: float) -> int | float:
    """A number as a cell or a tree holds it: at most two decimals, whole where it can be."""
    rounded = round(value, 2)
    return int(rounded) if rounded.is_integer() else rounded


class Left(dict[str, float]):
    """Numbers that are still to be written, by tag; each leaves where it has found its place."""

    def done(self, tags: Iterable[str]) -> None:
        """Forget numbers that are written."""
        for tag in tags:
            self.pop(tag, None)

    def line(self, old: str) -> str:
        """A line that states numbers, with these instead."""
        new, written = restate_line(old, self)
        self.done(written)
        return new

    def text(self, old: str) -> str:
        """A text of several such lines."""
        return "\n".join(self.line(one) for one in old.split("\n"))


def bare(text: str) -> bool:
    """Whether a text is a number alone, without a unit."""
    return re.fullmatch(r"[\d.,\s]*", text) is not None


def like(old: Any, column: NutrientColumn, value: float) -> Any:
    """A number in the manner of what it replaces: typed, bare text, or text with its unit."""
    if isinstance(old, str) and not bare(old):
        return restate_amount(old, column.tag, value, salt=column.salt)
    number = written_value(value, column.tag, column.unit, salt=column.salt)
    if isinstance(old, str):
        unit = "kj" if column.unit == "kj" else ""
        return shown(number, unit, comma="," in old and "." not in old)
    return json_number(number)


def numbers_in(row: Mapping[Any, Any]) -> dict[str, float]:
    """Numbers of a row of corrected or verified ones, by tag; other columns, None and NaN left out."""
    return {
        NET_CARBS_TAG if name == NET_CARBS_COLUMN else BY_COLUMN[name].tag: float(value)
        for name, value in row.items()
        if (name in BY_COLUMN or name == NET_CARBS_COLUMN)
        and value is not None and math.isfinite(float(value))
    }  # fmt: skip


def column_for(tag: str) -> str:
    """Name of a new column or key for a nutrient."""
    return NET_CARBS_COLUMN if tag == NET_CARBS_TAG else BY_TAG[tag].column
