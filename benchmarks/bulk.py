"""Bulk runs against the plain approach and against the floor, as ratios in one run.

    python benchmarks/bulk.py [--lines 10000 100000 1000000] [--workers N] [--form csv]

(a) The plain approach: pandas and rapidfuzz's ``extractOne`` over the table's food names, a call a
line. It is measured on a sample of lines and scaled to all of them; what it leaves out (amounts,
weights, sums) is left out in its favour. (b) The floor: DuckDB reading the same file and counting
its distinct texts. Memory is that of the whole process tree, pages shared between processes
counted once (PSS), looked at four times a second. The last two columns are the same ratios in CPU
seconds, which other work on the machine moves less.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import synthetic

SAMPLE = 300
TARGETS = {"plain": 200.0, "floor": 40.0, "growth": 1.15, "memory_gb": 1.5}

_CHILD = """
import sys
from pipeline.bulk import verify_bulk
if __name__ == "__main__":
    path, out, workers = sys.argv[1:]
    found = verify_bulk(path, out, workers=int(workers) or None)
    print(found.recipes, found.lines, found.texts, found.verdicts["disagrees"])
    print(" ".join(f"{name}: {s:.1f} s;" for name, s in found.seconds.items()))
"""


@dataclass(frozen=True, slots=True)
class Measured:
    """One size."""

    lines: int
    recipes: int
    texts: int
    disagrees: int
    seconds: float
    cpu_seconds: float
    memory_gb: float
    plain: tuple[float, float]  # wall and CPU seconds
    floor: tuple[float, float]
    laps: str


def plain_seconds(path: Path, lines: int) -> tuple[float, float]:
    """Wall and CPU seconds the plain approach would take for ``lines``, from a sample of them."""
    import duckdb
    import pandas as pd
    from rapidfuzz import fuzz, process, utils

    from pipeline.snapshot import load_foods, open_snapshot

    with open_snapshot().connect() as con:
        foods = pd.Series(load_foods(con).description).str.lower().tolist()
    with duckdb.connect() as con:
        texts = [row[0] for row in con.execute(f"select line from '{path}'").fetchall()]
    sample = pd.Series(random.Random(1).sample(texts, min(SAMPLE, len(texts))))
    start, cpu = time.perf_counter(), time.process_time()
    sample.map(
        lambda t: process.extractOne(t, foods, scorer=fuzz.WRatio, processor=utils.default_process)
    )
    share = lines / len(sample)
    return (time.perf_counter() - start) * share, (time.process_time() - cpu) * share


def floor_seconds(path: Path) -> tuple[float, float]:
    """Wall and CPU seconds DuckDB needs to read the file and count its distinct texts; medians."""
    import duckdb

    took = []
    for _ in range(5):
        start, cpu = time.perf_counter(), time.process_time()
        with duckdb.connect() as con:
            con.execute(f"select count(distinct line) from '{path}'").fetchall()
        took.append((time.perf_counter() - start, time.process_time() - cpu))
    wall, used = (statistics.median(t[i] for t in took) for i in (0, 1))
    return wall, used


def _tree_bytes(pid: int) -> int:
    """Proportional memory of a process and all below it."""
    import psutil

    total = 0
    try:
        root = psutil.Process(pid)
        for one in [root, *root.children(recursive=True)]:
            try:
                total += getattr(one.memory_full_info(), "pss", one.memory_info().rss)
            except psutil.Error:
                continue
    except psutil.Error:
        pass
    return total


def bulk_run(path: Path, workers: int) -> tuple[float, float, float, list[int], str]:
    """Wall and CPU seconds, peak memory in GB, what was found, and seconds by step."""
    out = Path(tempfile.mkdtemp(prefix="steelyard-bench-"))
    peak = 0
    try:
        before = os.times()
        start = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-c", _CHILD, str(path), str(out), str(workers)],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        stop = threading.Event()

        def watch() -> None:
            nonlocal peak
            while not stop.wait(0.25):
                peak = max(peak, _tree_bytes(child.pid))

        watcher = threading.Thread(target=watch)
        watcher.start()
        said, _ = child.communicate()
        seconds = time.perf_counter() - start
        stop.set()
        watcher.join()
        after = os.times()
        if child.returncode:
            raise SystemExit("the bulk run failed")
        cpu = after.children_user + after.children_system
        cpu -= before.children_user + before.children_system
        facts, laps = said.strip().split("\n")
        return seconds, cpu, peak / 1e9, [int(x) for x in facts.split()], laps
    finally:
        shutil.rmtree(out, ignore_errors=True)


def measure(lines: int, form: str, workers: int, folder: Path) -> Measured:
    """All figures of one size; the three approaches follow one another on the same file."""
    from pipeline.snapshot import open_snapshot

    path = synthetic.make(lines, folder, open_snapshot())[form]
    floor = floor_seconds(path)
    seconds, cpu, memory, found, laps = bulk_run(path, workers)
    again = floor_seconds(path)  # the machine may have been busy during one of the two
    plain = plain_seconds(path, lines)
    recipes, read, texts, disagrees = found
    assert read == lines, f"{read} of {lines} lines were read"
    both = ((floor[0] + again[0]) / 2, (floor[1] + again[1]) / 2)
    return Measured(lines, recipes, texts, disagrees, seconds, cpu, memory, plain, both, laps)


def main() -> None:
    """Measure and print the table with the targets beside it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lines", type=int, nargs="+", default=[10_000, 100_000])
    options.add_argument("--form", choices=["csv", "parquet"], default="csv")
    options.add_argument("--workers", type=int, default=0, help="0: one a core")
    options.add_argument("--folder", type=Path, help="where collections are kept between runs")
    told = options.parse_args()
    folder = told.folder or Path(tempfile.gettempdir()) / "steelyard-synthetic"
    cores = len(os.sched_getaffinity(0))
    print(f"bulk runs, {told.form}, {told.workers or cores} workers on {cores} cores; load "
          f"{os.getloadavg()[0]:.1f} before the start\n")  # fmt: skip
    head = ("lines", "recipes", "distinct", "lines/s", "wall s", "CPU s", "peak GB", "x plain",
            "x floor", "same, CPU", "same, CPU")  # fmt: skip
    print("".join(f"{h:>11}" for h in head))
    found = [measure(n, told.form, told.workers, folder) for n in sorted(told.lines)]
    for m in found:
        cells = (
            f"{m.lines:,}", f"{m.recipes:,}", f"{m.texts:,}", f"{m.lines / m.seconds:,.0f}",
            f"{m.seconds:.1f}", f"{m.cpu_seconds:.1f}", f"{m.memory_gb:.2f}",
            f"{m.plain[0] / m.seconds:,.0f}", f"{m.seconds / m.floor[0]:,.0f}",
            f"{m.plain[1] / m.cpu_seconds:,.0f}", f"{m.cpu_seconds / m.floor[1]:,.0f}",
        )  # fmt: skip
        print("".join(f"{c:>11}" for c in cells))
    last = found[-1]
    print(f"\nby step at {last.lines:,} lines: {last.laps}")
    print(f"plain approach: {last.plain[0] / last.lines * 1e3:.1f} ms a line, measured on "
          f"{SAMPLE} lines and scaled; floor: {last.floor[0]:.2f} s")  # fmt: skip
    growth = "-"
    if len(found) > 1:
        one, other = found[-2], found[-1]
        ratio = (other.seconds / other.lines) / (one.seconds / one.lines)
        used = (other.cpu_seconds / other.lines) / (one.cpu_seconds / one.lines)
        growth = f"{ratio:.2f}, in CPU seconds {used:.2f} (a line, {other.lines:,} against {one.lines:,})"
    print(f"\ntarget: at least {TARGETS['plain']:.0f} x the plain approach: "
          f"{last.plain[0] / last.seconds:,.0f}")  # fmt: skip
    print(f"target: at most {TARGETS['floor']:.0f} x the floor: "
          f"{last.seconds / last.floor[0]:,.0f}")  # fmt: skip
    print(f"target: growth at most {TARGETS['growth']}: {growth}")
    print(f"target: peak memory at most {TARGETS['memory_gb']} GB: {last.memory_gb:.2f}")


if __name__ == "__main__":
    main()
