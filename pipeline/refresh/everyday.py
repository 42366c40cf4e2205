"""Ten everyday lines under the table that is live and under the one that would be.

The gate of the snapshot stage looks at tables; this looks at what comes of them: which food a line
means, what it weighs and what energy it brings. A release that moves these has lost something, or
has another meaning of its columns, whatever its tables say.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.resources import shared_rows
from pipeline.snapshot import gate

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.snapshot import Snapshot


def everyday_checks(before: Snapshot, *, alone: bool) -> Callable[[Path], list[gate.Check]]:
    """Checks for the gate of a candidate.

    Args:
        before: the snapshot that is live.
        alone: the new table is to answer alone, because somebody asked for it; it may lack what
            everyday lines name, so nothing stops its publication, and everything is reported.
    """

    def checks(candidate: Path) -> list[gate.Check]:
        found = everyday_lines(before, replace(before, path=candidate, snapshot_id="candidate"))
        checks = gate.run_suite(found, gate.suite("everyday"), "line")
        return [replace(check, severity="warning") for check in checks] if alone else checks

    return checks


def everyday_lines(before: Snapshot, after: Snapshot) -> pd.DataFrame:
    """One row per line of ``shared/everyday_lines.csv``.

    Returns:
        ``line``; ``food_before``, ``grams_before``, ``kcal_before`` and the same ``_after``, NaN
        where the line has no answer; ``grams_ratio`` and ``kcal_ratio`` (after over before);
        ``lost``: 1 where it had an answer before and has none.
    """
    import pandas as pd

    texts = [row["text"] for row in shared_rows("everyday_lines.csv")]
    old, new = _answers(texts, before), _answers(texts, after)
    frame = pd.DataFrame({"line": texts}).join(old.add_suffix("_before")).join(
        new.add_suffix("_after")
    )  # fmt: skip
    for name in ("grams", "kcal"):
        frame[f"{name}_ratio"] = frame[f"{name}_after"] / frame[f"{name}_before"]
    frame["lost"] = (frame["kcal_before"].notna() & frame["kcal_after"].isna()).astype(int)
    return frame


def _answers(texts: list[str], snapshot: Snapshot) -> pd.DataFrame:
    """food, grams and kcal of each line, in order."""
    import pandas as pd

    from pipeline.reading import load_tools, read_lines  # the stages, which a refresh needs late

    read = read_lines(texts, load_tools(snapshot))
    with snapshot.connect() as con:
        rows = con.execute(
            "select food_id, kcal from food_macros where list_contains($ids, food_id)",
            {"ids": [r.match.food_id for r in read if r.match.food_id]},
        ).fetchall()
    kcal = dict(rows)
    found = [(r.match.food_id, r.weight.grams, kcal.get(r.match.food_id or "")) for r in read]
    frame = pd.DataFrame(found, columns=["food", "grams", "per_100g"])
    frame = frame.astype({"grams": float, "per_100g": float})
    return frame.assign(kcal=frame["grams"] * frame["per_100g"] / 100)[["food", "grams", "kcal"]]
