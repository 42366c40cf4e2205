"""The shared tables of the weigh stage, read once into dictionaries."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from pipeline.resources import shared_rows
from pipeline.units import kitchen_units
from pipeline.weigh.kinds import KindTable


@dataclass(frozen=True, slots=True)
class MeasureRow:
    """What one unit of a kind of food weighs or holds.

    Attributes:
        value, low, high: grams, millilitres or a share, as ``of`` says.
        of: ``g`` | ``ml`` | ``share``.
        size: the size this row is for, "" for any.
        part: juice | zest | white | yolk, "" for the thing itself.
        override: goes before the composition table's own row.
        food: the pattern, for reasons.
        source: where the figure comes from.
        note: what stands after it.
        sliced: such a piece is a slice of the food.
    """

    value: float
    low: float
    high: float
    of: str
    size: str
    part: str
    override: bool
    food: str
    source: str
    note: str
    sliced: bool = False

    @property
    def cited(self) -> str:
        """Source and note in one phrase, for a reason."""
        return f"{self.source}, {self.note}" if self.note else self.source

    @property
    def kind(self) -> str:
        """The pattern in words: the first of every group, the head last."""
        firsts = [slot.split("|")[0] for slot in self.food.split() if not slot.startswith("-")]
        named = dict.fromkeys(
            word.lstrip("~").upper() if word[0] == "~" else word.lstrip("@=")
            for word in reversed(firsts)
        )
        return " ".join(named) or "thing of its kind"


@dataclass(frozen=True, slots=True)
class RefuseRule:
    """What of a weight as bought is not eaten, in per cent of it.

    Attributes:
        when: the evidence the line must give: always | bone_in | whole | in_shell | skin_on.
        loss, low, high: per cent; NaN where the composition table's own refuse is to be used.
        unless: states and words of the line that say it was taken off before weighing.
    """

    when: str
    loss: float | None
    low: float
    high: float
    unless: frozenset[str]
    note: str


@dataclass(frozen=True, slots=True)
class WeighTables:
    """All of them; every ``KindTable`` is keyed by canonical unit where units differ."""

    volumes: KindTable[MeasureRow]
    pieces: dict[str, KindTable[MeasureRow]]
    trade: dict[str, KindTable[MeasureRow]]
    contents: dict[str, KindTable[MeasureRow]]
    drained: KindTable[MeasureRow]
    refuse: KindTable[RefuseRule]
    refuse_parts: tuple[tuple[re.Pattern[str], str], ...]


def _measure_row(row: dict[str, str], value: str, of: str, *, per: float = 1.0) -> MeasureRow:
    return MeasureRow(
        value=float(row[value]) / per,
        low=float(row["low"]) / per,
        high=float(row["high"]) / per,
        of=of,
        size=row.get("size", ""),
        part=row.get("part", ""),
        override=row.get("override", "") == "y",
        food=row["food"],
        source=row["source"],
        note=row["note"],
        sliced="slice" in row["unit"].split(";"),
    )


def _by_unit(rows: Iterator[tuple[str, MeasureRow]]) -> dict[str, KindTable[MeasureRow]]:
    """One table per unit; a row may stand for several units, ``;`` between."""
    found: dict[str, list[tuple[str, MeasureRow]]] = {}
    for units, amount in rows:
        for unit in units.split(";"):
            found.setdefault(unit, []).append((amount.food, amount))
    return {unit: KindTable(of_unit) for unit, of_unit in found.items()}


@cache
def weigh_tables() -> WeighTables:
    """Read ``shared/`` once per process."""
    ml = kitchen_units().ml
    volumes: list[tuple[str, MeasureRow]] = []
    for row in shared_rows("volume_weights.csv"):
        holds = ml(row["unit"], "us")
        if holds is None:
            raise ValueError(f"shared/volume_weights.csv: unknown unit {row['unit']!r}")
        volumes.append((row["food"], _measure_row(row, "grams", "g", per=holds)))
    packages = list(shared_rows("packages.csv"))
    rules = list(shared_rows("refuse_rules.csv"))
    return WeighTables(
        volumes=KindTable(volumes),
        pieces=_by_unit(
            (row["unit"], _measure_row(row, "grams", "g"))
            for row in shared_rows("piece_weights.csv")
        ),
        trade=_by_unit(
            (row["unit"], _measure_row(row, "quantity", row["of"]))
            for row in shared_rows("trade_measures.csv")
        ),
        contents=_by_unit(
            (row["unit"], _measure_row(row, "value", row["of"]))
            for row in packages
            if row["rule"] == "content"
        ),
        drained=KindTable(
            (row["food"], _measure_row(row, "value", row["of"]))
            for row in packages
            if row["rule"] == "drained"
        ),
        refuse=KindTable(
            (row["food"], _refuse_rule(row)) for row in rules if row["rule"] != "part"
        ),
        refuse_parts=tuple(
            (re.compile(row["food"], re.IGNORECASE), row["unless"])
            for row in rules
            if row["rule"] == "part"
        ),
    )


def _refuse_rule(row: dict[str, str]) -> RefuseRule:
    return RefuseRule(
        when=row["rule"],
        loss=float(row["loss_pct"]) if row["loss_pct"] else None,
        low=float(row["low_pct"] or 0),
        high=float(row["high_pct"] or 0),
        unless=frozenset(row["unless"].split()),
        note=row["note"],
    )
