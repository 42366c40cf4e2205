"""What starting costs for one recipe, as a ratio to importing the two libraries it stands on.

    python benchmarks/cold_start.py [--times 9]

Runs ``steelyard verify`` on one small recipe, the same with a report, and
``python -c "import duckdb, pandas"`` in turn, each in a fresh process, and prints medians of the wall
and of CPU, which says more on a machine with other work. The snapshot is built, and what is kept
beside it written, before the first measurement; the program is compiled as an installer does it, also
where the environment forbids Python to keep bytecode.
"""

from __future__ import annotations

import argparse
import compileall
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RECIPE = """Lantern porridge
Serves 2

Ingredients
80 g rolled oats
300 ml milk
1 medium banana
2 tbsp honey

Per serving: 320 kcal, P 10 g, C 60 g, F 6 g
"""
MOST_SECONDS, MOST_WITH_REPORT, MOST_RATIO = 0.8, 1.2, 3.0
_MAIN = "from pipeline.cli import console; console()"  # what the installed command calls
HEAVY = (
    "pydantic",
    "great_expectations",
    "matplotlib",
    "dask",
    "pint",
    "starlette",
    "scipy",
    "jinja2",
)


def seconds(*command: str) -> tuple[float, float]:
    """Wall and CPU seconds of one fresh process that has to succeed."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command)
    return time.perf_counter() - start, used.ru_utime + used.ru_stime


def imported(path: Path) -> list[str]:
    """Heavy libraries that a run of one recipe imports, and should not."""
    code = (
        "import sys; from pipeline.cli import app\n"
        f"try: app(['verify', {str(path)!r}])\n"
        "except SystemExit: pass\n"
        f"print(*[m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return done.stderr.strip().split("\n")[-1].split()


def main() -> None:
    """Measure and print, the targets beside the figures."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--times", type=int, default=9)
    times = options.parse_args().times
    compileall.compile_dir(Path(__file__).resolve().parents[1] / "pipeline", quiet=1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lantern-porridge.txt"
        path.write_text(RECIPE, encoding="utf-8")
        verify = (sys.executable, "-c", _MAIN, "verify", str(path))
        commands = {
            "steelyard verify, one recipe": verify,
            "the same with a report": (*verify, "--out", str(Path(folder) / "out")),
            "import duckdb, pandas": (sys.executable, "-c", "import duckdb, pandas"),
        }
        for command in commands.values():
            seconds(*command)
        rounds = [[seconds(*c) for c in commands.values()] for _ in range(times)]
        heavy = imported(path)
    targets = (f"target at most {MOST_SECONDS} s", f"target at most {MOST_WITH_REPORT} s", "")
    for at, (name, target) in enumerate(zip(commands, targets, strict=True)):
        wall, cpu = (statistics.median(r[at][kind] for r in rounds) for kind in (0, 1))
        print(f"{name:30} {wall:6.3f} s wall {cpu:6.3f} s CPU   {target}")
    ratio = statistics.median(r[0][1] / r[2][1] for r in rounds)
    print(f"{'ratio of CPU':30} {ratio:6.2f}                   target at most {MOST_RATIO}")
    print(f"heavy imports: {', '.join(heavy) or 'none'}")


if __name__ == "__main__":
    main()
