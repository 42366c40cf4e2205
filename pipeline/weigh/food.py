"""Foods of a snapshot made ready for weighing: words, own measures, refuse, reference food."""

from __future__ import annotations

import marshal
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import kept
from pipeline.units import kitchen_units
from pipeline.weigh.kinds import food_words
from pipeline.weigh.own import OwnMeasures, read_own, with_reference
from pipeline.weigh.refuse import FoodRefuse, read_refuse
from pipeline.weigh.tables import weigh_tables

if TYPE_CHECKING:
    from pipeline.snapshot import Snapshot


@dataclass(eq=False)
class Food:
    """What is known of one food, completed by its reference food; its own data come first.

    Attributes:
        description: its name.
        group: its own group in the table, "" when not known.
        refuse: what of it is not eaten.
        rows: its own measures as the table has them.
        reference: the reference food.
    """

    description: str
    group: str = ""
    refuse: FoodRefuse | None = None
    rows: list[tuple[Any, ...]] = field(default_factory=list)
    reference: Food | None = None

    @property
    def category(self) -> str:
        """The group that the shared tables speak of: the reference food's."""
        return self.group if self.reference is None else self.reference.group

    @cached_property
    def words(self) -> Mapping[str, float]:
        """Words of its descriptions, with what each counts for."""
        mine = food_words(self.description, self.group)
        if self.reference is None:
            return mine
        bag = dict(self.reference.words)
        for word, weight in mine.items():
            bag[word] = max(weight, bag.get(word, 0.0))
        return bag

    @cached_property
    def own(self) -> OwnMeasures:
        """Its own measures, then those of the reference food."""
        mine = read_own(self.rows, self.group, kitchen_units(), self.description)
        other = self.reference
        return mine if other is None else with_reference(mine, other.own, other.description)

    @cached_property
    def state(self) -> str:
        """Descriptions that may say liquid or drained, lower case."""
        mine = self.description.lower()
        if self.reference is None or "liquid" in mine or "drain" in mine:
            return mine
        return f"{mine} {self.reference.state}"


NO_FOOD = Food("")


class Foods:
    """The foods of one snapshot, each read when it is first asked for.

    Args:
        snapshot: a published snapshot; what is read of it is kept beside it as plain bytes.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        path = snapshot.folder / f"foods-{kept.key([snapshot.snapshot_id], [Path(__file__)])}.bin"
        got = kept.read(path)
        if got is None:
            got = _read_tables(snapshot)
            kept.save(path, got)
        self._rows: dict[str, tuple[str, str, float | None, str]] = got["rows"]
        self._references: dict[str, str] = got["references"]
        self._energy: dict[str, float] = got["energy"]
        self._measures: dict[str, list[tuple[Any, ...]]]
        self._measures = kept.Lazily(got["measures"], marshal.loads)
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

    def energies(self, food_ids: Iterable[str]) -> dict[str, float]:
        """kcal per 100 g of foods, those without a value left out."""
        found = ((food_id, self._energy.get(food_id)) for food_id in food_ids)
        return {food_id: energy for food_id, energy in found if energy is not None}

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
            # Pantry foods are not in the snapshot; their name still tells their kind.
            named, group, pct, part = self._rows.get(food_id, (description, "", None, ""))
            refuse = read_refuse(pct, part, weigh_tables())
            other = self.food(reference, "", "") if reference else None
            if other is not None and refuse is None:
                refuse = other.refuse and other.refuse._replace(reference=other.description)
            known = Food(named, group, refuse, self._measures.get(food_id, []), other)
            self._read[food_id, reference] = known
        return known


def _read_tables(snapshot: Snapshot) -> dict[str, Any]:
    """What is weighed with, by food_id: names and refuse, reference foods, energy, measures."""
    with snapshot.connect() as con:
        foods = con.execute(
            "select food_id, description, category, refuse_pct, refuse from food"
        ).fetchall()
        references = con.execute(
            "select food_id, reference_id from food where reference_id is not null"
        ).fetchall()
        energies = con.execute(
            "select food_id, amount_per_100g from food_nutrient where nutrient = 'ENERC_KCAL'"
        ).fetchall()
        measures: dict[str, list[tuple[Any, ...]]] = {}
        for food_id, *row in con.execute(
            "select food_id, amount, unit, qualifier, size, grams, n, sd_grams, seq, source "
            "from measure order by food_id, seq"
        ).fetchall():
            measures.setdefault(food_id, []).append(tuple(row))
    return {
        "rows": {food_id: tuple(row) for food_id, *row in foods},
        "references": dict(references),
        "energy": dict(energies),
        "measures": {food_id: marshal.dumps(rows) for food_id, rows in measures.items()},
    }
