"""What reading a line costs: ``python benchmarks/parse.py LINES.csv ...``.

Distinct lines, one process, one core; the tables are loaded, no line has been read before. The
first row is one pass over the labelled lines as a run sees them. The second takes the least of
several passes over groups of lines, so that other work on the machine does not show, and sets a
plain ``re.findall`` of the words beside it. The last rows read every description of the embedded
table behind an amount and count those of which a character is lost.
"""

from __future__ import annotations

import argparse
import csv
import gc
import gzip
import re
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from pipeline.lines.clean import clean
from pipeline.lines.grammar import read_together
from pipeline.lines.model import ParsedLine
from pipeline.resources import data_path

_WORDS = re.compile(r"\w+")


def _read(text: str) -> ParsedLine:
    """One line, as if it had not been read before."""
    return read_together([text])[0]


def distinct_lines(paths: Sequence[Path]) -> list[str]:
    """The column ``line`` of the files, each text once."""
    found: dict[str, None] = {}
    for path in paths:
        with path.open(encoding="utf-8", newline="") as handle:
            found.update(dict.fromkeys(row["line"] for row in csv.DictReader(handle)))
    return list(found)


def descriptions() -> list[str]:
    """All descriptions of the embedded table."""
    with gzip.open(data_path("sr28") / "FOOD_DES.txt.gz", "rt", encoding="latin-1") as handle:
        return [line.split("^")[2].strip("~") for line in handle]


def least(read: Callable[[str], object], lines: Sequence[str], group: int = 50) -> float:
    """Microseconds a line: the least of 15 passes over each group, summed."""
    total = 0.0
    for at in range(0, len(lines), group):
        best = float("inf")
        for _ in range(15):
            start = time.perf_counter()
            for line in lines[at : at + group]:
                read(line)
            best = min(best, time.perf_counter() - start)
        total += best
    return total / len(lines) * 1e6


def main(argv: Sequence[str] | None = None) -> None:
    """Run the benchmark."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("lines", type=Path, nargs="+", help="files with a column `line`")
    lines = distinct_lines(ask.parse_args(argv).lines)
    described = [f"100 g {text}" for text in descriptions()]
    _read("1 cup rice, cooked")
    start = time.process_time()
    for line in lines:
        _read(line)
    first = (time.process_time() - start) / len(lines) * 1e6
    gc.disable()
    print(f"parse, us a distinct line, one core ({len(lines)} labelled lines)   target 50")
    print(f"  first pass, CPU time             {first:6.1f}")
    print(f"  least of 15 passes               {least(_read, lines):6.1f}")
    print(f"  re.findall of the words beside   {least(_WORDS.findall, lines):6.1f}")
    print(f"  descriptions of the table        {least(_read, described[::10]):6.1f}")
    lost = sum(
        "".join(_read(f"100 g {text}").rest.split())
        != "".join(clean(text).lower.split()).rstrip(",")
        for text in descriptions()
    )
    print(f"  descriptions that lose a character behind an amount: {lost} of {len(described)}")


if __name__ == "__main__":
    main()
