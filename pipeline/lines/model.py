"""What one ingredient line says, before any food is chosen: the contract of the lines stage.

Objects are shared by all lines of one text and never changed: ``dataclasses.replace`` makes another.
They are not declared frozen, since filling a frozen one takes six times as long.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from pipeline.lines.remarks import Remarks, remarks_on

LineKind = Literal["food", "heading", "not_food", "blank"]
UnitKind = Literal["mass", "volume", "count", "trade", "package", "length", "share"]


@dataclass(slots=True, unsafe_hash=True)
class Measure:
    """One amount as written: "2 cups", "400 g", "2 x 400 g tins", "half a".

    Attributes:
        amount: best value, in ``unit``; the middle of a range.
        low, high: ends of a range ("2-3"), else equal to ``amount``.
        unit: canonical unit of ``shared/units.csv``; ``piece`` where none is written ("2 eggs").
        kind: what sort of unit it is; ``share`` is a part of a whole thing said before
            ("the remaining quarter").
        size: small | medium | large | extra large | ... , "" when not said; belongs to the
            counted thing ("1 large", "1 heaped tbsp", "1 small tin").
        each: what one ``unit`` holds ("400 g tin"): itself a mass or volume ``Measure``.
        about: the text hedges ("about", "approx.", "~").
        of_text: start and end in the line's text, for messages.
    """

    amount: float
    unit: str
    kind: UnitKind
    low: float
    high: float
    size: str = ""
    each: Measure | None = None
    about: bool = False
    of_text: tuple[int, int] = (0, 0)


@dataclass(slots=True, unsafe_hash=True)
class ParsedLine:
    """One distinct ingredient line, read.

    Attributes:
        text: the line as written; the key of every later table until lines are joined back.
        kind: ``food``, or why it is none (``heading`` "For the sauce:", ``not_food`` "8 skewers",
            ``blank``).
        measures: the same amount said in several ways, in the order of the text
            ("1 cup / 240 ml"); which one counts is the weigh stage's choice (a mass wins).
        plus: further amounts to add ("plus 1 tsp"); open ones ("plus extra") are a flag.
        name: the food phrase in lower case, spaces single, without amount, unit, size and
            comma notes: "smoked paprika", "chicken breast". Comma parts that name the food stand
            in front of what they narrow, the last first: "yogurt, greek, plain" is "plain greek
            yogurt". Kind, colour, processing and fat words that may name another food stay in.
        alternatives: other foods named after "or", same form as ``name``.
        states: canonical states from ``shared/states.csv``, said anywhere on the line:
            raw, cooked, boiled, roasted, fried, grilled, toasted, dry, dried, canned, drained,
            frozen, fresh, peeled, unpeeled, skinless, skin_on, boneless, bone_in, pitted, ...
        notes: preparation and other words kept separate from the name ("finely chopped").
        fat_pct: fat said on the line, g per 100 g ("5 % fat mince", "80/20", "0 % yoghurt").
        lean_pct: lean said on the line ("93% lean").
        cocoa_pct: "70 % dark chocolate".
        part: what of the named thing is meant: "juice", "zest", "white", "yolk", "" for all of it
            ("juice of 1 lemon" has name "lemon", part "juice", one piece).
        flags: optional, to_taste, as_needed, divided, plus_extra, remaining, vague
            ("a little"), for_greasing, for_brushing, for_dusting, for_frying, for_serving,
            for_garnish, amount_assumed ("pinch of salt"), each, piece_written ("2 pieces"),
            zest_too (juice and zest), labelled ("veg: 100 g broccoli": what stands after the
            amount may be the food),
            net_weight (the weight is of the drained, peeled or
            cooked thing itself: "(240 g drained)").
        problems: codes of what could be read two ways or not at all ("amount-ambiguous").
        each_of: the single foods of "1 tsp each cumin and coriander", all of the line's amount;
            ``name`` joins them with "and". Empty on other lines.
        rest: all of the line that may describe the food, in lower case and written order, with
            its commas, parentheses, states and notes: "cheese, cottage, lowfat, 2% milkfat" of
            "100 g Cheese, cottage, lowfat, 2% milkfat". Left out are the line's own amount, unit
            and size, and flags, where they begin or end the line; after an amount in mass or
            volume no figure is left out, since it may belong to a table's description. "" on
            headings and blank lines.
        parts: where the line holds more than one food, the text of a line for each of them, in
            order: "2 eggs + 100 g egg whites" has "2 eggs" and "100 g egg whites". Each is read,
            matched and weighed as a line; the other fields tell of the first. Empty on lines of
            one food.
        used: the share of the amount that the dish takes: a half of "200 g block feta, use half".
    """

    text: str
    kind: LineKind
    measures: tuple[Measure, ...] = ()
    plus: tuple[Measure, ...] = ()
    name: str = ""
    alternatives: tuple[str, ...] = ()
    states: frozenset[str] = field(default_factory=frozenset)
    notes: str = ""
    fat_pct: float | None = None
    lean_pct: float | None = None
    cocoa_pct: float | None = None
    part: str = ""
    flags: frozenset[str] = field(default_factory=frozenset)
    problems: tuple[str, ...] = ()
    each_of: tuple[str, ...] = ()
    rest: str = ""
    parts: tuple[str, ...] = ()
    used: float = 1.0

    @property
    def remarks(self) -> Remarks:
        """What the wording says beside these fields; later stages ask it, never ``text``."""
        return remarks_on(self.text)
