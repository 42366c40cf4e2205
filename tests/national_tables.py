"""An invented national table for tests that need a second table, and ways to make it awkward.

``tests/national/harbour.csv`` holds the foods of the demo's kitchen in a terse style of its own
("Milk cow semi-skimmed"), under codes of its own, without household measures. Its values belong to
no published table: they are SR28's, each moved by up to 6 % at random.
"""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path

import pytest

from pipeline.refresh import refresh, run
from pipeline.snapshot import Snapshot, gate

FOLDER = Path(__file__).parent / "national"

#: The publisher's own release, where a copy lies beside the checkout; it is not in the repository.
FOUNDATION = (
    Path(os.environ.get("STEELYARD_FDC", Path(__file__).parents[2] / "shared/data/fetched/fdc"))
    / "FoodData_Central_foundation_food_csv_2024-10-31.zip"
)


@cache
def references() -> dict[str, str]:
    """Food of the table → SR28's food of the same concept: "harbour:H07-04" → "sr28:09040"."""
    with (FOLDER / "harbour_reference.csv").open(encoding="utf-8", newline="") as handle:
        return {f"harbour:{row['code']}": row["reference_id"] for row in csv.DictReader(handle)}


@cache
def ids() -> dict[str, str]:
    """Name in the table → its food_id: "Banana raw" → "harbour:H07-04"."""
    with (FOLDER / "harbour.csv").open(encoding="utf-8", newline="") as handle:
        return {row["food"]: f"harbour:{row['code']}" for row in csv.DictReader(handle)}


def write_table(
    folder: Path,
    *,
    codes: Mapping[str, str] | None = None,
    blank: Mapping[str, Collection[str]] | None = None,
    portions: Collection[tuple[str, str, float]] = (),
) -> Path:
    """Write the table and its mapping; returns the mapping's path for ``refresh --from``.

    Args:
        folder: made when missing.
        codes: name → another code, e.g. one that is some other food's number in SR28.
        blank: name → columns left empty, as where a table reports no energy.
        portions: (name, text, grams): household measures of the table's own.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "harbour.csv").open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    own = {row["food"]: row["code"] for row in rows}
    for row in rows:
        row["code"] = (codes or {}).get(row["food"], row["code"])
        for column in (blank or {}).get(row["food"], ()):
            row[column] = ""
    with (folder / "harbour.csv").open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    mapping = folder / "harbour.toml"
    shutil.copyfile(FOLDER / "harbour.toml", mapping)
    if portions:
        with (folder / "portions.csv").open("w", encoding="utf-8", newline="") as handle:
            table = csv.writer(handle, lineterminator="\n")
            table.writerow(["code", "text", "grams"])
            for name, text, grams in portions:
                table.writerow([(codes or {}).get(name, own[name]), text, grams])
        with mapping.open("a", encoding="utf-8") as file:
            file.write('\n[portions]\nfile = "portions.csv"\n')
    return mapping


def leave_out_gate(patch: pytest.MonkeyPatch) -> None:
    """Let every table be published unlooked at, which takes a third of the time."""
    patch.setattr(gate, "warm_up", lambda: None)
    patch.setattr(gate, "check_file", lambda *_, **__: gate.GateResult([]))
    leave_out_everyday_lines(patch)


def leave_out_everyday_lines(patch: pytest.MonkeyPatch) -> None:
    """Let the gate look at the tables alone; holding the ten everyday lines apart takes as long."""
    patch.setattr(run, "everyday_checks", lambda *_, **__: lambda _candidate: [])


def load_table(
    home: Path, mapping: Path | None = None, *, only: bool = False, gated: bool = False
) -> Snapshot:
    """Make the table live in ``home``, preferred to SR28.

    Args:
        home: a data directory.
        mapping: of :func:`write_table`; the table as it stands by default.
        only: SR28 is for reference only.
        gated: let the gate look at it.
    """
    with pytest.MonkeyPatch.context() as patch:
        if not gated:
            leave_out_gate(patch)
        done = refresh(from_=str(mapping or FOLDER / "harbour.toml"), home=home, only=only)
    assert done.snapshot is not None
    return done.snapshot
