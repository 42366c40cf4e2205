"""Amounts and foods of a script, and what two of them are to one another."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from pipeline.foods.words import singular
from pipeline.intake.spoken.lexicon import Phrase, Unit
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.words import Span

MEASURED = frozenset({"mass", "volume", "package", "trade"})
FEW = 12  # pieces of a food that are counted behind it


@dataclass(slots=True)
class Amount(Span):
    """A quantity in the words; the food after it may begin at ``end``."""

    value: float
    high: float
    unit: Unit | None = None
    size: str = ""
    each: tuple[float, str] | None = None
    article: bool = False
    of: bool = False
    apiece: bool = False  # "about six ounces each"

    @property
    def kind(self) -> str:
        """Of its unit; "" without one."""
        return self.unit.kind if self.unit is not None else ""

    @property
    def name(self) -> str:
        """Of its unit; "" without one."""
        return self.unit.name if self.unit is not None else ""

    def called(self, name: str) -> bool:
        """Its unit is a word of a class, by its name or as it is said."""
        unit = self.unit
        return unit is not None and not word_class(name).isdisjoint((unit.name, unit.said))

    @property
    def weighs(self) -> bool:
        """Has a unit of mass or volume."""
        return self.unit is not None and self.unit.weighs

    @property
    def measured(self) -> bool:
        """Has a unit that can be weighed without knowing a piece of the food."""
        return self.kind in MEASURED

    @property
    def one(self) -> bool:
        """An article is all there is of it: "a sandwich"."""
        return self.article and self.unit is None


@dataclass(slots=True)
class Food(Span):
    """A span that names a food. ``head`` is the name found in the tables, folded."""

    name: list[str]
    head: Phrase
    known: bool
    notes: list[str] = field(default_factory=list)
    repairs: list[tuple[int, int, str, str]] = field(default_factory=list)
    determined: str = ""  # "the", "that", "your" before it


@dataclass(slots=True)
class Mention(Span):
    """A food of the script with what was said of its amount."""

    food: Food
    amount: Amount | None = None
    also: list[Amount] = field(default_factory=list)
    vague: str = ""
    part: str = ""
    notes: list[str] = field(default_factory=list)
    section: str = ""
    shared: str = ""  # why it stands here, of a line said elsewhere
    from_base: bool = False
    per_person: bool = False
    share: float = 1.0
    amount_spans: list[tuple[int, int]] = field(default_factory=list)
    refused: list[Amount] = field(default_factory=list)  # taken back by the speaker

    def take(self, amount: Amount, said: Mention) -> None:
        """Get the amount of another mention instead of its own."""
        self.amount, self.also = amount, []
        self.amount_spans += said.amount_spans


@dataclass(slots=True)
class Chunk(Span):
    """A tile: a food and its amount, or one of them."""

    mention: Mention | None = None
    amount: Amount | None = None
    more: list[Mention] = field(default_factory=list)  # other foods of the same amount
    doubt: float = -1.0  # what speaks for a food that is only talked of, above nought

    @property
    def aside(self) -> bool:
        """The food is only talked of."""
        return self.doubt > 0

    @property
    def kind(self) -> str:
        """``both``, ``amount`` or ``food``."""
        if self.mention is None:
            return "amount"
        return "food" if self.amount is None else "both"

    @property
    def order(self) -> str:
        """Which of amount and food comes first; "" where that says nothing of other pairs."""
        amount, food = self.amount, self.mention and self.mention.food
        if amount is None or food is None or amount.article or amount.of:
            return ""
        first = amount.start <= food.start
        if first and amount.unit is None:
            return ""  # "two eggs"
        return "amount" if first else "food"

    @property
    def measured(self) -> bool:
        """A food with an amount that is measured, so no part of a dish's name."""
        amount = self.amount
        return self.kind == "both" and amount is not None and amount.measured and not amount.article

    @property
    def of(self) -> Mention:
        """The mention of a tile that holds a food."""
        assert self.mention is not None
        return self.mention

    @property
    def told(self) -> Amount:
        """The amount of a tile that has one."""
        assert self.amount is not None
        return self.amount


def same_food(a: Food, b: Food) -> bool:
    """Two names for one food: the same head, and no words that tell kinds apart."""
    return set(a.name) == set(b.name) or (bool(a.head) and a.head == b.head)


def named_again(short: Food, long: Food) -> bool:
    """The first names the second in fewer words: "the tuna", "the stock"."""
    words = singular_words(short)
    if not words and not short.head:
        return False
    return words <= singular_words(long) | {*long.head, "one"}


def singular_words(food: Food) -> set[str]:
    """Words of a food's name."""
    return {singular(w) for w in food.name if w.isalpha()}


def same_unit(a: Amount, b: Amount) -> bool:
    """In one unit, or both without."""
    return a.name == b.name


def same_kind(a: Amount, b: Amount) -> bool:
    """The same unit, or two of mass or of volume: "800 grams, call it a kilo"."""
    return a.name == b.name or (a.weighs and a.kind == b.kind)


def same_amount(a: Amount, b: Amount) -> bool:
    """One quantity in one unit."""
    return same_unit(a, b) and math.isclose(a.value, b.value, rel_tol=1e-6)
