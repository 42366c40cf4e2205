"""Foods of a snapshot made ready for weighing: words, own measures, refuse, reference food."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.units import kitchen_units
from pipeline.weigh.kinds import food_words
from pipeline.weigh.own import OwnMeasures, read_own, with_reference
from pipeline.weigh.refuse import FoodRefuse, read_refuse
from pipeline.weigh.tables import weigh_tables

if TYPE_CHECKING:
    from pipeline.snapshot import Snapshot


@dataclass(slots=True)
class Food:
    """What is known of one food.

    Attributes:
        words: of its description, with what each counts for.
        category: its group in the table, "" when not known.
        state: descriptions that may say liquid or drained, lower case.
    """

    words: Mapping[str, float]
    category: str
    own: OwnMeasures
    refuse: FoodRefuse | None
    description: str
    state: str = ""


NO_FOOD = Food({}, "", OwnMeasures((), {}, ""), None, "")


class Foods:
    """The foods of one snapshot, each read when it is first asked for.

    Args:
        snapshot: an opened snapshot; no connection is kept.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        con = snapshot.connect()
        try:
            foods = con.execute(
                "select food_id, description, category, refuse_pct, refuse from food"
            ).fetchall()
            references = con.execute(
                "select food_id, reference_id from food where reference_id is not null"
            ).fetchall()
            energies = con.execute(
                "select food_id, amount_per_100g from food_nutrient where nutrient = 'ENERC_KCAL'"
            ).fetchall()
            measures = con.execute(
                "select food_id, amount, unit, qualifier, size, grams, n, sd_grams, seq, source "
                "from measure order by food_id, seq"
            ).fetchall()
        finally:
            con.close()
        self._rows: dict[str, tuple[str, str, float | None, str]] = {
            row[0]: row[1:] for row in foods
        }
        self._references: dict[str, str] = dict(references)
        self._energy: dict[str, float] = dict(energies)
        self._measures: dict[str, list[tuple[Any, ...]]] = {}
        for row in measures:
            self._measures.setdefault(row[0], []).append(row[1:])
        self._read: dict[tuple[str, str], Food] = {}

    def reference_of(self, food_id: str | None, reference_id: str | None) -> str:
        """food_id of the reference food in force for a food, "" for none."""
        found = reference_id or self._references.get(food_id or "", "")
        return found if food_id is not None and found != food_id and found in self._rows else ""

    def groups_of(self, food_id: str | None, reference_id: str | None = None) -> list[str]:
        """Food groups of a food: the reference food's first, then its own."""
        known = (self.reference_of(food_id, reference_id), food_id or "")
        return [self._rows[one][1] for one in known if one in self._rows]

    def group_of(self, food_id: str | None, reference_id: str | None = None) -> str:
        """Food group of a food in the reference table, else in its own; "" when not known."""
        return next(filter(None, self.groups_of(food_id, reference_id)), "")

    def kcal(self, food_id: str | None, grams: float) -> float | None:
        """Energy of so much of a food, None when not known."""
        energy = self._energy.get(food_id or "")
        return None if energy is None else grams * energy / 100

    def food(self, food_id: str | None, description: str, reference: str) -> Food:
        """A food completed by its reference food; one the snapshot lacks has a name alone."""
        if food_id is None:
            return NO_FOOD
        known = self._read.get((food_id, reference))
        if known is None:
            known = self._alone(food_id, description)
            if reference:
                known = self._completed(known, reference)
            self._read[food_id, reference] = known
        return known

    def _alone(self, food_id: str, description: str) -> Food:
        row = self._rows.get(food_id)
        if row is None:
            # Pantry foods are not in the snapshot; their name still tells their kind.
            return Food(food_words(description, ""), "", NO_FOOD.own, None, description,
                        description.lower())  # fmt: skip
        named, category, pct, part = row
        return Food(
            food_words(named, category),
            category,
            read_own(self._measures.get(food_id, []), category, kitchen_units(), named),
            read_refuse(pct, part, weigh_tables()),
            named,
            named.lower(),
        )

    def _completed(self, food: Food, reference: str) -> Food:
        """The food completed by its reference food; its own data come first."""
        named, category, pct, part = self._rows[reference]
        other = self._alone(reference, "")
        bag = dict(other.words)
        for word, weight in food.words.items():
            bag[word] = max(weight, bag.get(word, 0.0))
        states_liquid = "liquid" in food.state or "drain" in food.state
        return Food(
            bag,
            category,  # the shared tables speak of the reference table's groups
            with_reference(food.own, other.own, named),
            food.refuse or read_refuse(pct, part, weigh_tables(), named),
            food.description,
            food.state if states_liquid else f"{food.state} {other.state}",
        )
