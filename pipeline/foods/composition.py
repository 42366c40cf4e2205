"""States that the composition of a food shows, beside foods of the same head in its table.

Water tells raw from dry from cooked, fat and sugar and sodium tell what was added: but only against
another food of the same name, because 12 % water is dry for rice and ordinary for a nut. Three
comparisons are made. Foods alone: dry starchy seeds, milk by its fat. Foods of the same name and
state where one name says what the other leaves out. And, for tables in a language that no table of
words covers: a word that over several heads always marks the wetter of two otherwise equal names is
that table's word for raw, the other its word for cooked or dried.

Limits are common practice of food composition tables unless a source stands beside them.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from pipeline.foods.vocabulary import LISTS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from pipeline.foods.profile import Profile

#: Two words of names → states of two foods that differ in them, and the head of both.
_Votes = dict[tuple[str, str], list[tuple[str, str, tuple[str, ...]]]]

#: Ways of cooking; any of them makes a food cooked.
COOKED = LISTS["cooked"]
#: A name with one of these has said how wet or how cooked it is.
_HEAT_SAID = COOKED | LISTS["heat_said"]
_DRY = frozenset({"dry", "dried", "powdered"})
_FAT_SAID, _OTHER_FORM = LISTS["fat_said"], LISTS["other_form"]

_DRY_WATER = 20.0
_WATER_AT_MOST = {"dry": 25.0, "dried": 45.0}
_UNCOOKED = frozenset({"raw", "dry"})
#: A dry seed swollen with water: pasta 62, rice 68, pulses 60 to 70, couscous 73.
_SWOLLEN = (50.0, 74.0)
_MILK_FAT = (
    # (up to g fat per 100 g, state): skimmed up to 0.5, semi-skimmed 1.5 to 1.8, whole from 3.5
    # as Regulation (EU) 1308/2013, annex VII part IV; low fat 1 %, reduced fat 2 % in US trade
    (0.5, "fat_free"),
    (1.3, "low_fat"),
    (2.3, "reduced_fat"),
    (2.9, ""),
    (4.5, "full_fat"),
)
#: What makes a difference between two foods of one name: g sugar, mg sodium, g fat per 100 g.
_SUGAR_STEP, _SODIUM_STEP, _OIL_STEP = 4.0, 100.0, 4.0
#: A word is believed from this many pairs over this many heads, this share of them agreeing.
_PAIRS, _HEADS, _AGREE = 4, 3, 0.9


@dataclass(slots=True)
class _Table:
    """Columns as lists (NaN unknown) and the states found so far."""

    names: Sequence[Profile]
    water: list[float]
    protein: list[float]
    fat: list[float]
    carbs: list[float]
    sugar: list[float]
    fiber: list[float]
    sodium: list[float]
    found: dict[int, set[str]]

    def tell(self, at: int, state: str) -> None:
        self.found.setdefault(at, set()).add(state)

    def starch(self, at: int) -> float:
        """Carbohydrate that is not sugar, g; all of it where sugar is unknown."""
        sugar = self.sugar[at]
        return self.carbs[at] - (0.0 if math.isnan(sugar) else sugar)

    def dry_seed(self, at: int) -> bool:
        """A grain, a pulse or what is made of it, dry: starch, or the protein of soya; no nut."""
        if not (self.water[at] <= _DRY_WATER and self.fat[at] < 25.0):
            return False
        fiber = 0.0 if math.isnan(self.fiber[at]) else self.fiber[at]
        if self.protein[at] >= 30.0 and fiber >= 5.0:
            return True
        known = not math.isnan(self.sugar[at])  # dried fruit whose sugar nobody reports is no grain
        return self.starch(at) - fiber >= 25.0 and (known or self.protein[at] >= 6.5)

    def swollen(self, at: int, dry: int) -> bool:
        """The same dry matter with more water: starch and protein in the share of ``dry``."""
        solids, dry_solids = 100.0 - self.water[at], 100.0 - self.water[dry]
        starch, dry_starch = self.starch(at) / solids, self.starch(dry) / dry_solids
        protein, dry_protein = self.protein[at] / solids, self.protein[dry] / dry_solids
        return (
            abs(starch - dry_starch) <= 0.12
            and abs(protein - dry_protein) <= 0.05
            and self.fat[at] / solids <= self.fat[dry] / dry_solids + 0.05
        )

    def added_only(self, at: int, other: int, key: list[float]) -> bool:
        """Fat and protein are those of the other food; what differs is what was added."""
        return (key is self.fat or abs(self.fat[at] - self.fat[other]) <= 2.0) and abs(
            self.protein[at] - self.protein[other]
        ) <= 4.0

    def animal(self, at: int) -> bool:
        """Meat, poultry or fish by its composition."""
        return self.protein[at] >= 12.0 and self.carbs[at] <= 2.0


def derive(
    names: Sequence[Profile], columns: Mapping[str, NDArray[np.float64]]
) -> dict[int, frozenset[str]]:
    """States that the composition shows and the names leave open.

    Args:
        names: what the name says of each food of the table.
        columns: as in ``profiles``.

    Returns:
        Place of a food → states; foods without any are absent.
    """
    count = len(names)

    def column(name: str) -> list[float]:
        values = columns.get(name)
        return [math.nan] * count if values is None else values.tolist()

    table = _Table(
        names, column("water_g"), column("protein_g"), column("fat_g"), column("carbs_g"),
        column("sugar_g"), column("fiber_g"), column("sodium_mg"), {},
    )  # fmt: skip
    families: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for at, name in enumerate(names):
        if name.head:
            families[name.head].append(at)
    _alone(table)
    for family in families.values():
        if len(family) > 1:
            _wet_and_dry(table, family)
            _beside_each_other(table, family)
    _words_of_another_language(table, families)
    return {at: frozenset(states) for at, states in table.found.items()}


def _alone(table: _Table) -> None:
    """Dry seeds called raw, and milk by its fat."""
    for at, name in enumerate(table.names):
        water, fat, protein, carbs = (
            table.water[at], table.fat[at], table.protein[at], table.carbs[at],
        )  # fmt: skip
        if water <= _DRY_WATER:
            if "raw" in name.states and not name.states & _DRY and table.dry_seed(at):
                table.tell(at, "dry")
        elif (
            85.0 <= water <= 92.5
            and 2.8 <= protein <= 4.0
            and 4.2 <= carbs <= 5.6
            and not name.states & (_FAT_SAID | COOKED)
            and not table.starch(at) > 1.0
        ):
            state = next((s for limit, s in _MILK_FAT if fat <= limit), "")
            if state:
                table.tell(at, state)


def _wet_and_dry(table: _Table, family: list[int]) -> None:
    """Foods that say nothing of heat or water, against the wettest and driest of their head."""
    water = table.water
    plain = [
        at for at in family if table.names[at].form not in _OTHER_FORM and not math.isnan(water[at])
    ]
    if not plain:
        return
    wettest, driest = max(water[at] for at in plain), min(water[at] for at in plain)
    if wettest < 45.0 or driest > _DRY_WATER + 15.0:
        return
    starchy = any(table.dry_seed(at) for at in plain)
    raw = [at for at in plain if "raw" in table.names[at].states and water[at] > 45.0]
    for at in plain:
        states = table.names[at].states
        if states & _HEAT_SAID:
            continue
        if table.dry_seed(at):
            table.tell(at, "dry")
        elif _SWOLLEN[0] <= water[at] <= _SWOLLEN[1]:
            if not any(abs(water[r] - water[at]) < 8.0 for r in raw) and any(
                table.swollen(at, dry) for dry in plain if table.dry_seed(dry)
            ):
                table.tell(at, "cooked")
        elif raw and not starchy and water[at] <= 35.0 and table.fat[at] < 10.0:
            table.tell(at, "dried")


def _beside_each_other(table: _Table, family: list[int]) -> None:
    """Pairs of one name where the other says what this one leaves out."""
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    heat: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for at in family:
        n = table.names[at]
        core = (frozenset(n.kind), frozenset(n.part), n.skin, n.lean_only)
        cooking = n.states & _HEAT_SAID
        alike[(*core, n.form, cooking)].append(at)
        if n.form != "puree" and table.animal(at) and not n.states & _HEAT_SAID - COOKED - {"raw"}:
            heat[core].append(at)
    for groups, compare in ((alike, _added), (heat, _heat_of_meat)):
        for mates in groups.values():
            for at in mates if len(mates) > 1 else ():
                compare(table, at, mates)


def _added(table: _Table, at: int, mates: list[int]) -> None:
    """Sugar, salt and oil against foods that say whether they have it."""
    mine = table.names[at].states
    for key, step, yes, no in (
        (table.sugar, _SUGAR_STEP, "sweetened", "unsweetened"),
        (table.sodium, _SODIUM_STEP, "salted", "unsalted"),
        (table.fat, _OIL_STEP, "in_oil", "in_water"),
    ):
        if yes in mine or no in mine or math.isnan(key[at]):
            continue
        if yes == "in_oil" and (table.names[at].medium or "canned" not in mine):
            continue
        if (yes == "sweetened" and not table.water[at] >= 50.0) or (
            yes == "salted" and "low_sodium" in mine
        ):
            continue
        for other in mates:
            if not table.added_only(at, other, key):
                continue
            said = table.names[other].states
            if no in said and key[at] >= key[other] + step:
                table.tell(at, yes)
                break
            if yes in said and key[at] <= key[other] - step:
                table.tell(at, no)
                break


def _heat_of_meat(table: _Table, at: int, mates: list[int]) -> None:
    """Meat loses water in cooking and so gains protein by weight."""
    if table.names[at].states & _HEAT_SAID:
        return
    for other in mates:
        said = table.names[other].states
        drier = table.water[at] <= table.water[other] - 4.0
        wetter = table.water[at] >= table.water[other] + 4.0
        ratio = table.protein[at] / table.protein[other]
        if "raw" in said and drier and ratio >= 1.12:
            table.tell(at, "cooked")
            return
        if said & COOKED and wetter and ratio <= 1 / 1.12:
            table.tell(at, "raw")
            return


def _words_of_another_language(
    table: _Table, families: Mapping[tuple[str, ...], list[int]]
) -> None:
    """Words that mark the wetter or the drier of two names that are otherwise equal."""
    learned = _learned(_votes(table, families))
    for at, n in enumerate(table.names):
        if n.states & _HEAT_SAID:
            continue
        for word in n.kind:
            if word in learned:
                _tell_learned(table, at, learned[word])


def _votes(table: _Table, families: Mapping[tuple[str, ...], list[int]]) -> _Votes:
    """For two words, the states of each two foods whose names differ in them alone."""
    votes: _Votes = defaultdict(list)
    for head, family in families.items():
        by_rest: dict[tuple[object, ...], list[tuple[str, int]]] = defaultdict(list)
        for at in family:
            n = table.names[at]
            if n.states & _HEAT_SAID or math.isnan(table.water[at]) or len(n.kind) > 6:
                continue
            for word in set(n.kind):
                rest = frozenset(w for w in n.kind if w != word)
                by_rest[(rest, n.part, n.form, n.skin, n.lean_only)].append((word, at))
        pairs = (
            (one, other)
            for same in by_rest.values() if 2 <= len(same) <= 12
            for one, other in product(same, same) if one[0] < other[0]
        )  # fmt: skip
        for (word, at), (other_word, other) in pairs:
            apart = _told_apart(table, at, other)
            if apart is not None:
                votes[word, other_word].append((*apart, head))
    return votes


def _learned(votes: _Votes) -> dict[str, dict[str, int]]:
    """Word → how often each state, of the words whose foods agree well enough."""
    learned: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for (word, other_word), cast in votes.items():
        heads = {head for _, _, head in cast}
        if len(cast) < _PAIRS or len(heads) < _HEADS:
            continue
        said = [(a, b) for a, b, _ in cast if a]
        first_raw = sum(a in _UNCOOKED for a, _ in said)
        if len(said) < _AGREE * len(cast):
            continue
        if first_raw >= _AGREE * len(cast) or first_raw <= (1 - _AGREE) * len(cast):
            for a, b in said:
                if (a in _UNCOOKED) == (2 * first_raw > len(said)):
                    learned[word][a] += 1
                    learned[other_word][b] += 1
    return learned


def _tell_learned(table: _Table, at: int, told: Mapping[str, int]) -> None:
    """What a word that was learned says of a food."""
    state = max(told, key=lambda s: told[s])
    if state == "dry" and 5 * told.get("raw", 0) >= told["dry"]:
        state = "raw"  # the same word of meat and of rice
    if table.water[at] <= _WATER_AT_MOST.get(state, 100.0):
        table.tell(at, state)
    if state == "raw" and table.dry_seed(at):
        table.tell(at, "dry")


def _told_apart(table: _Table, one: int, other: int) -> tuple[str, str] | None:
    """States of two foods that differ in one word of their names.

    Empty states when the two ought to differ and do not; None where a difference would not show,
    as between raw and boiled vegetables.
    """
    swap = table.water[one] < table.water[other]
    wet, dry = (other, one) if swap else (one, other)
    gap = table.water[wet] - table.water[dry]
    found = ("", "")
    if table.animal(wet) and table.animal(dry):
        if gap >= 3.0 and table.protein[dry] >= 1.08 * table.protein[wet]:
            found = ("raw", "cooked")
    elif gap < 30.0:
        return None
    elif table.water[dry] <= 35.0 and table.fat[dry] < 25.0:
        found = ("cooked", "dry") if table.starch(dry) >= 40.0 else ("raw", "dried")
    return (found[1], found[0]) if swap else found
