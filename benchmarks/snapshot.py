"""Time and memory of building a snapshot from a bundle as large as the full official release.

    python benchmarks/snapshot.py [--foods 2000000] [--keep DIR]

Lays the embedded table out as a FoodData Central bundle of Branded foods, repeated under invented
codes (15 nutrients a food: 2 million foods are 30 million rows), builds a snapshot from it with
the whole gate, and counts the rows of the same files with a plain DuckDB ``read_csv`` in the same
run. Both run as processes of their own, so that peak memory is theirs alone; CPU seconds are
printed beside, for machines that do other work meanwhile. Needs some 6 GB of
disk while it runs. Targets: at most 6 times the plain count, at most 2 GB.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
NUTRIENTS = (
    "ENERC_KCAL", "PROCNT", "FAT", "CHOCDF", "FIBTG", "SUGAR", "FASAT", "NA", "CHOLE", "CA", "FE",
    "K", "VITC", "VITA_IU", "FAMS",
)  # fmt: skip

WRITE = """
import sys
from pathlib import Path
sys.path.insert(0, "tests/refresh")
from fdc_layout import write_bundle
from pipeline.snapshot import open_snapshot
write_bundle(open_snapshot().path, Path(sys.argv[1]), kinds=("branded",),
             copies=int(sys.argv[2]), nutrients=tuple(sys.argv[3:]))
"""
COUNT = """
import sys, duckdb
con = duckdb.connect(config={"threads": 2})
con.execute("set enable_progress_bar = false")
read = "select count(*) from read_csv($p, quote = chr(34), escape = chr(34))"
print(sum(con.execute(read, {"p": p}).fetchall()[0][0] for p in sys.argv[1:]))
"""
BUILD = """
import sys
from pathlib import Path
from pipeline.refresh import refresh
done = refresh(["branded"], from_=sys.argv[1], home=Path(sys.argv[2]), only=True)
print(done.snapshot.path.stat().st_size, done.snapshot.snapshot_id)
"""


def measured(code: str, *arguments: str) -> tuple[float, float, float, str]:
    """Seconds, CPU seconds, peak MB and output of a Python process of its own."""
    started = time.perf_counter()
    with tempfile.TemporaryFile("w+") as out:
        process = subprocess.Popen(
            [sys.executable, "-c", code, *arguments], stdout=out, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        text = out.read()
    if process.returncode:
        raise SystemExit(f"the measured process ended with {process.returncode}: {text}")
    seconds = time.perf_counter() - started
    return seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, text.strip()


def main() -> None:
    """Generate, count, build, print one JSON line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--foods", type=int, default=2_000_000)
    parser.add_argument("--keep", type=Path, help="folder for the bundle; kept and used again")
    asked = parser.parse_args()
    place = asked.keep or Path(tempfile.mkdtemp(prefix="steelyard-bench-"))
    bundle = place / "FoodData_Central_branded_food_csv_2026-04-30"
    if not (bundle / "food_nutrient.csv").is_file():
        copies = max(1, round(asked.foods / 8789))
        measured(WRITE, str(bundle), str(copies), *NUTRIENTS)  # apart: memory must not mix
    files = sorted(str(p) for p in bundle.glob("*.csv"))
    size = sum(Path(p).stat().st_size for p in files)
    count_s, count_cpu, count_mb, rows = measured(COUNT, *files)
    home = place / "home"
    shutil.rmtree(home, ignore_errors=True)
    build_s, build_cpu, build_mb, told = measured(BUILD, str(bundle), str(home))
    print(json.dumps({
        "csv_gb": round(size / 1e9, 2), "rows": int(rows), "count_s": round(count_s, 1),
        "count_peak_mb": round(count_mb), "build_s": round(build_s, 1),
        "build_peak_mb": round(build_mb), "ratio": round(build_s / count_s, 2),
                "count_cpu_s": round(count_cpu, 1),
                "build_cpu_s": round(build_cpu, 1),
                "cpu_ratio": round(build_cpu / count_cpu, 2),
        "snapshot_mb": round(int(told.splitlines()[-1].split()[0]) / 1e6),
    }))  # fmt: skip
    shutil.rmtree(home, ignore_errors=True)
    if not asked.keep:
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    main()
