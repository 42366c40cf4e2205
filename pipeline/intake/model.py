"""What a reader hands back: recipes as they stand in the file, before ids and frames."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pipeline.problems import Problem, input_problem, is_of_the_input

Basis = Literal["per_serving", "per_recipe", "per_100g"]

NAN = float("nan")


@dataclass(frozen=True, slots=True)
class Yield:
    """What a recipe says it makes.

    Attributes:
        servings: the number the words speak of first; NaN when they count none.
        word: what they are called: "servings", "pancakes".
        yield_g: weight of the finished dish.
        fault: what is wrong, in words; "" is fine.
        note: tells of a reading that was chosen among several.
        kind: what the number counts: serving, bare (a number alone), piece, whole ("1 loaf"),
            container ("2 jars"), measure ("3 cups"); "" for none.
        low, high: ends of a range, else NaN.
        from_low: a list gave the low end alone as well.
        pieces, piece_word: pieces said beside the servings ("8 servings (24 balls)").
        per_serving: pieces in a serving ("12 muffins (2 per serving)"), else NaN.
        volume_ml: of the whole.
        other: a second count of servings ("10 as a side, 6 as a main"), else NaN.
    """

    servings: float = NAN
    word: str = ""
    yield_g: float = NAN
    fault: str = ""
    note: str = ""
    kind: str = ""
    low: float = NAN
    high: float = NAN
    from_low: bool = False
    pieces: float = NAN
    piece_word: str = ""
    per_serving: float = NAN
    volume_ml: float = NAN
    other: float = NAN


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read how many servings the stated numbers divide the dish into.

    Attributes:
        servings: NaN when the words count none, or when ``serving_g`` says it by weight.
        word: what they are called.
        how: how it was read, in words.
        belief: how likely the words make it, 0 to 1; those of a recipe sum to 1.
        serving_g: weight of a serving; the number follows from the weight of the dish. NaN else.
        basis: ``per_recipe`` where the numbers would be for the whole by this reading, "" else.
    """

    servings: float
    word: str
    how: str
    belief: float = 1.0
    serving_g: float = NAN
    basis: str = ""


#: A unit of energy, beside its number.
_KJ = re.compile(r"(?<![^\W\d_])(?:kj|kilo-?joules?)(?![^\W\d_])", re.IGNORECASE)
#: By what share one energy may differ in kcal and in kJ, which are rounded to tens.
_UNITS_OFF = 0.01
#: Steps of the last digit by which one number may differ, with room for binary fractions.
_SAME_STEP = 1.001


@dataclass(slots=True)
class RawStated:
    """One number a recipe states.

    Attributes:
        nutrient: INFOODS tagname.
        amount: kcal, g or mg as ``pipeline.nutrients`` says for the tag.
        basis: what the number is for.
        step: rounding step the writing implies, same unit as ``amount``.
        text: as written.
        source_line: 1-based line in the file, None when it has none.
        time: when it is said, of a spoken script ("00:01:23"), "" otherwise.
        column: of a grid: the first cell of its row that may hold it, from 0; None where the names
            of columns say, or for a text.
    """

    nutrient: str
    amount: float
    basis: Basis
    step: float
    text: str
    source_line: int | None = None
    time: str = ""
    column: int | None = None

    @property
    def in_kj(self) -> bool:
        """Whether it is an energy as written in kilojoules."""
        return self.nutrient == "ENERC_KCAL" and _KJ.search(self.text) is not None

    def is_same(self, other: RawStated) -> bool:
        """Whether both are one number, said twice or in both units of energy."""
        if (self.nutrient, self.basis) != (other.nutrient, other.basis):
            return False
        off = abs(self.amount - other.amount)
        two_units = self.in_kj != other.in_kj and off <= _UNITS_OFF * other.amount
        return two_units or off <= _SAME_STEP * max(self.step, other.step)


@dataclass(slots=True)
class RawLine:
    """One ingredient string, headings included."""

    text: str
    section: str = ""
    source_line: int | None = None
    time: str = ""


@dataclass(slots=True)
class RawRecipe:
    """One recipe of a file. ``position`` is its 0-based place there; see ``tables.RECIPE``.

    ``told`` is what it says it makes, ``readings`` every way to read its servings, the likeliest
    first (empty when a reader is sure of ``servings``); ``servings`` is the first. ``served`` is the thing
    that the stated numbers are for ("jar"); ``basis_said`` is False where no word says what they are for;
    ``stated_at`` is where they stand, when that is not with its ingredients ("ledger.csv:3").
    """

    title: str
    format: str
    position: int
    servings: float = NAN
    serving_word: str = ""
    yield_g: float = NAN
    creator: str = ""
    description: str = ""
    source_line: int | None = None
    own_id: str = ""
    stated: list[RawStated] = field(default_factory=list)
    lines: list[RawLine] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    method: str = ""
    served: str = ""
    told: Yield = field(default_factory=Yield)
    readings: tuple[Reading, ...] = ()
    basis_said: bool = True
    stated_at: str = ""

    def fill(self, told: RawRecipe) -> None:
        """Take over all that another reading of the recipe says, as of the data above a text."""
        self.title = told.title or self.title
        self.own_id = told.own_id or self.own_id
        self.creator = told.creator or self.creator
        self.description = " ".join(d for d in (told.description, self.description) if d)
        if not math.isnan(told.servings):
            self.servings, self.serving_word = told.servings, told.serving_word
            self.told, self.readings = told.told, told.readings
        if not math.isnan(told.yield_g):
            self.yield_g = told.yield_g
        self.method = told.method or self.method
        self.lines = told.lines or self.lines
        self.stated = told.stated or self.stated
        self.problems = [*told.problems, *self.problems]


def guarded(read: Callable[[], RawRecipe], format: str, position: int) -> RawRecipe:
    """One recipe of a file, whatever its values: when its reader stumbles, an empty one that says so.

    The recipe keeps its place, so that nothing of the file is lost without a word.
    """
    try:
        return read()
    except Exception as fault:
        if isinstance(fault, (RecursionError, MemoryError)) or not is_of_the_input(fault):
            raise
        made = RawRecipe("", format, position)
        made.problems.append(
            input_problem(
                "recipe-unreadable", no=position + 1, kind=type(fault).__name__,
                said=str(fault)[:120],
            )
        )  # fmt: skip
        made.lines.append(RawLine(unreadable(f"recipe {position + 1} of the file")))
        return made


class RefusedError(Exception):
    """A file, or a part of it, that is not read; carries the problem that says why.

    Args:
        code, values: as of ``problems.input_problem``.
    """

    def __init__(self, code: str, **values: Any) -> None:
        self.problem = input_problem(code, **values)
        self.what = self.problem.what
        super().__init__(self.what)


@dataclass(frozen=True, slots=True)
class RawMark:
    """A stretch of a spoken script and what it was understood as; see ``tables.SCRIPT_MARK``.

    ``recipe`` is the 0-based place of its recipe in the file, ``line`` the 0-based place of its
    line there; None where there is none.
    """

    start: int
    end: int
    kind: str
    recipe: int | None = None
    line: int | None = None
    start_s: float = NAN
    end_s: float = NAN
    note: str = ""


@dataclass(slots=True)
class Apart:
    """Numbers of recipes whose ingredients stand elsewhere, as one table or list of a file has them.

    Attributes:
        rows: a recipe without lines for each.
        instead: what the reader makes of the same rows where they are of no recipe it knows.
    """

    rows: list[RawRecipe]
    instead: list[RawRecipe] = field(default_factory=list)


@dataclass(slots=True)
class Read:
    """What one file gave.

    ``found`` says in words what a file without recipes was taken for; ``script`` is the text that
    ``marks`` lie in, None when the file is no spoken script; ``apart`` are numbers that may be of
    recipes of any file; ``listed`` are lists of foods that are recipes where such numbers name them;
    ``titled`` reads a text without recipes again, given which lines are
    titles and the name of the file.
    """

    recipes: list[RawRecipe] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    found: str = ""
    script: str | None = None
    marks: list[RawMark] = field(default_factory=list)
    apart: list[Apart] = field(default_factory=list)
    listed: list[RawRecipe] = field(default_factory=list)
    titled: Callable[[Callable[[str], bool], str], list[RawRecipe]] | None = None


#: How the text of a line begins that stands for something of the file that could not be read. It
#: names a food that is not known, so that its recipe is not taken for known in full.
UNREADABLE = "[unreadable] "


def unreadable(what: str) -> str:
    """Text of the line that stands for ``what`` could not be read."""
    return UNREADABLE + what


def cut(text: str, length: int = 120) -> str:
    """``text`` on one line and short enough for a message."""
    flat = " ".join(text.split())
    return flat if len(flat) <= length else flat[: length - 1] + "…"


def named_by_file(source: str) -> str:
    """How a recipe without a title is called."""
    return Path(source).stem.replace("_", " ").replace("-", " ").strip()
