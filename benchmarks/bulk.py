"""Bulk runs against the plain approach and against the floor, as ratios in one run.

    python benchmarks/bulk.py [--lines 10000 100000 1000000] [--workers N] [--form csv]
    python benchmarks/bulk.py --life [--lines ...]     the collection that looks like life alone
    python benchmarks/bulk.py --growth 1000 10000      recipes through the ordinary door
    python benchmarks/bulk.py --speedup 200000         two workers against one

Two collections: ``synthetic`` (short lines, mostly honest) and ``synthetic_life`` (the mix of public
pages); both are measured unless one is named. ``--growth`` runs ``pipeline.verify`` in a process of
its own a size and prints CPU and memory of each further recipe.

(a) The plain approach: pandas and rapidfuzz's ``extractOne`` over the table's food names, a call a
line. It is measured on a sample of lines and scaled to all of them; what it leaves out (amounts,
weights, sums) is left out in its favour. (b) The floor: DuckDB reading the same file and counting
its distinct texts. Memory is that of the whole process tree, pages shared between processes
counted once (PSS), looked at four times a second. The last two columns are the same ratios in CPU
seconds, which other work on the machine moves less.
"""

from __future__ import annotations

import argparse
import contextlib
import ctypes
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
import synthetic_life

SAMPLE = 300
_SET_CHILD_SUBREAPER = 36  # of Linux's prctl
PLAIN_TARGETS = {"synthetic": 400.0, "life-like": 300.0}
TARGETS = {"floor": 40.0, "growth": 1.1, "memory_gb": 1.0, "further_ms": 3.0, "speedup": 1.8}

_CHILD = """
import sys, time
from pipeline.bulk.schedule import verify_bulk
if __name__ == "__main__":
    path, out, workers = sys.argv[1:]
    found = verify_bulk(path, out, workers=int(workers) or None)
    print(found.recipes, found.lines, found.texts, found.verdicts["disagrees"])
    print(" ".join(f"{name}: {s:.1f} s;" for name, s in found.seconds.items()))
    print(time.process_time())
"""


_ORDINARY = """
import resource, sys
import pipeline
found = pipeline.verify(sys.argv[1])
used = resource.getrusage(resource.RUSAGE_SELF)
print(len(found.recipes), used.ru_utime + used.ru_stime, used.ru_maxrss / 1e6)
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


def _lines_of(path: Path) -> str:
    if path.suffix == ".jsonl":
        return f"select unnest(ingredients) as line from read_json('{path}', format = 'nd')"
    return f"select line from '{path}'"


def plain_seconds(path: Path, lines: int) -> tuple[float, float]:
    """Wall and CPU seconds the plain approach would take for ``lines``, from a sample of them."""
    import duckdb
    import pandas as pd
    from food_table import load_foods
    from rapidfuzz import fuzz, process, utils

    from pipeline.snapshot import open_snapshot

    with open_snapshot().connect() as con:
        foods = pd.Series(load_foods(con).description).str.lower().tolist()
    with duckdb.connect() as con:
        texts = [row[0] for row in con.execute(_lines_of(path)).fetchall()]
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
            con.execute(f"select count(distinct line) from ({_lines_of(path)})").fetchall()
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


@dataclass(frozen=True, slots=True)
class Run:
    """One bulk run.

    Attributes:
        seconds, cpu: wall and CPU seconds of all its processes.
        own_cpu: CPU seconds of the process that hands out the work: nothing of it is shared out.
        memory_gb: peak of all processes.
        found: recipes, lines, distinct texts and recipes that disagree.
        laps: seconds by step.
    """

    seconds: float
    cpu: float
    own_cpu: float
    memory_gb: float
    found: list[int]
    laps: str


def bulk_run(path: Path, workers: int) -> Run:
    """Run a collection in processes of their own."""
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
        _wait_for_all()
        stop.set()
        watcher.join()
        after = os.times()
        if child.returncode:
            raise SystemExit("the bulk run failed")
        cpu = after.children_user + after.children_system
        cpu -= before.children_user + before.children_system
        facts, laps, own = said.strip().split("\n")
        found = [int(x) for x in facts.split()]
        return Run(seconds, cpu, float(own), peak / 1e9, found, laps)
    finally:
        shutil.rmtree(out, ignore_errors=True)


def _inherit() -> None:
    """Become the parent of processes whose own has ended, so that their CPU is counted (Linux)."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_SET_CHILD_SUBREAPER, 1, 0, 0, 0)


def _wait_for_all() -> None:
    with contextlib.suppress(ChildProcessError):
        while True:
            os.wait()


def measure(name: str, lines: int, form: str, workers: int, folder: Path) -> Measured:
    """All figures of one size; the three approaches follow one another on the same file."""
    from pipeline.snapshot import open_snapshot

    if name == "synthetic":
        path = synthetic.make(lines, folder, open_snapshot())[form]
    else:
        path = synthetic_life.make(lines, folder, open_snapshot())
    floor = floor_seconds(path)
    run = bulk_run(path, workers)
    again = floor_seconds(path)  # the machine may have been busy during one of the two
    plain = plain_seconds(path, lines)
    recipes, read, texts, disagrees = run.found
    assert read >= lines, f"{read} of {lines} lines were read"  # a line of several foods is more
    both = ((floor[0] + again[0]) / 2, (floor[1] + again[1]) / 2)
    return Measured(
        lines, recipes, texts, disagrees, run.seconds, run.cpu, run.memory_gb, plain, both, run.laps
    )  # fmt: skip


def growth(sizes: list[int], folder: Path) -> None:
    """CPU and memory of the ordinary door, size by size."""
    from pipeline.snapshot import open_snapshot

    print(
        f"ordinary door, life-like\n{'recipes':>11}{'CPU s':>11}{'peak GB':>11}{'further ms':>12}"
    )
    before: tuple[int, float] | None = None
    steps: list[float] = []
    for size in sorted(sizes):
        lines = size * synthetic_life.LINES_A_RECIPE
        path = synthetic_life.make(lines, folder, open_snapshot())
        told = subprocess.run(
            [sys.executable, "-c", _ORDINARY, str(path)], check=True, capture_output=True, text=True
        )
        recipes, cpu, memory = (float(x) for x in told.stdout.split())
        each = "-"
        if before is not None:
            steps.append((cpu - before[1]) / (recipes - before[0]) * 1e3)
            each = f"{steps[-1]:.2f}"
        print(f"{recipes:>11,.0f}{cpu:>11.1f}{memory:>11.2f}{each:>12}")
        before = int(recipes), cpu
    if steps:
        print(f"target: a further recipe at most {TARGETS['further_ms']} ms CPU: {steps[-1]:.2f}")
    if len(steps) > 1:
        print(f"target: growth at most {TARGETS['growth']}: {steps[-1] / steps[0]:.2f}")


def speedup(lines: int, form: str, folder: Path) -> None:
    """Wall and CPU seconds of one worker and of two on the same file, one after the other, twice.

    The last line is what the CPU seconds alone allow, where nothing else keeps the machine busy: two
    workers share all but what the process does that hands out the work.
    """
    from pipeline.snapshot import open_snapshot

    snapshot = open_snapshot()
    for name in ("synthetic", "life-like"):
        path = (
            synthetic.make(lines, folder, snapshot)[form]
            if name == "synthetic"
            else synthetic_life.make(lines, folder, snapshot)
        )
        took = [(bulk_run(path, 1), bulk_run(path, 2)) for _ in range(2)]
        one, two = (min((pair[n] for pair in took), key=lambda run: run.cpu) for n in (0, 1))
        quick_one, quick_two = (min(pair[n].seconds for pair in took) for n in (0, 1))
        print(f"{name}, {lines:,} lines: one worker {quick_one:.1f} s ({one.cpu:.1f} s CPU), two"
              f" {quick_two:.1f} s ({two.cpu:.1f} s CPU)")  # fmt: skip
        print(
            f"target: two workers at least {TARGETS['speedup']} x one: {quick_one / quick_two:.2f}"
        )
        print(f"by step: one, {one.laps}\n         two, {two.laps}")
        alone = two.own_cpu + (two.cpu - two.own_cpu) / 2
        print(f"shared out: all but {two.own_cpu:.1f} s of {two.cpu:.1f} s CPU, which allows"
              f" {one.cpu / alone:.2f}")  # fmt: skip


def main() -> None:
    """Measure and print the tables with the targets beside them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lines", type=int, nargs="+", default=[10_000, 100_000])
    options.add_argument("--form", choices=["csv", "parquet"], default="csv")
    options.add_argument("--workers", type=int, default=0, help="0: one a core")
    options.add_argument("--folder", type=Path, help="where collections are kept between runs")
    which = options.add_mutually_exclusive_group()
    which.add_argument("--life", action="store_true", help="the life-like collection alone")
    which.add_argument("--synthetic", action="store_true", help="the other one alone")
    options.add_argument("--growth", type=int, nargs="+", help="recipes through the ordinary door")
    options.add_argument("--speedup", type=int, metavar="LINES", help="two workers against one")
    told = options.parse_args()
    _inherit()
    folder = told.folder or Path(tempfile.gettempdir()) / "steelyard-synthetic"
    if told.growth:
        growth(told.growth, folder)
        return
    if told.speedup:
        speedup(told.speedup, told.form, folder)
        return
    cores = len(os.sched_getaffinity(0))
    print(f"bulk runs, {told.form}, {told.workers or cores} workers on {cores} cores; load "
          f"{os.getloadavg()[0]:.1f} before the start")  # fmt: skip
    for name, other in (("synthetic", told.life), ("life-like", told.synthetic)):
        if not other:
            sizes = sorted(told.lines)
            _print(name, [measure(name, n, told.form, told.workers, folder) for n in sizes])


def _print(name: str, found: list[Measured]) -> None:
    """The table of one collection."""
    print(f"\n{name}")
    head = ("lines", "recipes", "distinct", "disagree", "lines/s", "wall s", "CPU s", "peak GB",
            "x plain", "x floor", "same, CPU", "same, CPU")  # fmt: skip
    print("".join(f"{h:>11}" for h in head))
    for m in found:
        cells = (
            f"{m.lines:,}", f"{m.recipes:,}", f"{m.texts:,}", f"{m.disagrees:,}",
            f"{m.lines / m.seconds:,.0f}",
            f"{m.seconds:.1f}", f"{m.cpu_seconds:.1f}", f"{m.memory_gb:.2f}",
            f"{m.plain[0] / m.seconds:,.0f}", f"{m.seconds / m.floor[0]:,.0f}",
            f"{m.plain[1] / m.cpu_seconds:,.0f}", f"{m.cpu_seconds / m.floor[1]:,.0f}",
        )  # fmt: skip
        print("".join(f"{c:>11}" for c in cells))
    last = found[-1]
    print(f"\nby step at {last.lines:,} lines: {last.laps}")
    print(f"plain approach: {last.plain[0] / last.lines * 1e3:.1f} ms a line, measured on "
          f"{SAMPLE} lines and scaled; floor: {last.floor[0]:.2f} s")  # fmt: skip
    rising = "-"
    if len(found) > 1:
        one, other = found[-2], found[-1]
        ratio = (other.seconds / other.lines) / (one.seconds / one.lines)
        used = (other.cpu_seconds / other.lines) / (one.cpu_seconds / one.lines)
        rising = f"{ratio:.2f}, in CPU seconds {used:.2f} (a line, {other.lines:,} against {one.lines:,})"
    print(f"target: at least {PLAIN_TARGETS[name]:.0f} x the plain approach: "
          f"{last.plain[0] / last.seconds:,.0f}, in CPU seconds {last.plain[1] / last.cpu_seconds:,.0f}")  # fmt: skip
    print(f"target: at most {TARGETS['floor']:.0f} x the floor: "
          f"{last.seconds / last.floor[0]:,.0f}")  # fmt: skip
    print(f"target: growth at most {TARGETS['growth']}: {rising}")
    print(f"target: peak memory at most {TARGETS['memory_gb']} GB: {last.memory_gb:.2f}")


if __name__ == "__main__":
    main()
