"""How many rows of ``shared/`` hold a table's code: ``python benchmarks/shared_codes.py``.

A code is a five-digit number of an SR28 food or a ``source:number`` id, anywhere in a row of a CSV
file of ``shared/``; the worked mapping of ``shared/national`` is a table itself and stands apart.
Columns that only say where a figure comes from are counted apart: nothing is looked up by them.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Collection

from pipeline.resources import shared_path

#: Columns whose text cites a source, or tells a reader something.
CITING = frozenset({"source", "note", "address", "why", "region", "system", "status"})
_NUMBER = re.compile(r"(?<![\d.,-])\d{5}(?![\d.,%-])")


def rows_with_codes(codes: Collection[str], sources: Collection[str]) -> tuple[Counter[str], int]:
    """Rows a file that hold a code outside the citing columns, and rows that only cite one.

    Args:
        codes: numbers of the table's foods, five digits each.
        sources: short names of tables, as they stand before the colon of an id.
    """
    known = frozenset(codes)
    ids = re.compile(rf"\b(?:{'|'.join(map(re.escape, sorted(sources)))}):\w+")
    keyed: Counter[str] = Counter()
    cited = 0
    root = shared_path("")
    for path in sorted(root.rglob("*.csv")):
        if "national" in path.relative_to(root).parts:
            continue
        with path.open(encoding="utf-8", newline="") as handle:
            for cells in csv.DictReader(handle):
                holding = {
                    column in CITING
                    for column, cell in cells.items()
                    if ids.search(cell or "")
                    or any(number in known for number in _NUMBER.findall(cell or ""))
                }
                if False in holding:
                    keyed[path.relative_to(root).as_posix()] += 1
                elif holding:
                    cited += 1
    return keyed, cited
