"""How long a person waits for one recipe, as a ratio to importing the two libraries it stands on.

    python benchmarks/cold_start.py [--times 9]

Runs ``steelyard verify`` on one small recipe and ``python -c "import duckdb, pandas"`` in turn, each
in a fresh process, and prints medians. The snapshot is built before the first measurement.
"""

from __future__ import annotations

import argparse
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
MOST_SECONDS, MOST_RATIO = 0.8, 3.0
_MAIN = "from pipeline.cli import main; main()"
HEAVY = ("great_expectations", "matplotlib", "dask", "pint", "starlette", "scipy", "jinja2")


def seconds(*command: str) -> float:
    """Wall seconds of one fresh process that has to succeed."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


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
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lantern-porridge.txt"
        path.write_text(RECIPE, encoding="utf-8")
        verify = (sys.executable, "-c", _MAIN, "verify", str(path))
        imports = (sys.executable, "-c", "import duckdb, pandas")
        seconds(*verify)
        pairs = [(seconds(*verify), seconds(*imports)) for _ in range(times)]
        heavy = imported(path)
    ours, theirs = (statistics.median(p[i] for p in pairs) for i in (0, 1))
    ratio = statistics.median(a / b for a, b in pairs)
    print(f"steelyard verify, one recipe   {ours:6.3f} s   target at most {MOST_SECONDS} s")
    print(f"import duckdb, pandas          {theirs:6.3f} s")
    print(f"ratio                          {ratio:6.2f}     target at most {MOST_RATIO}")
    print(f"heavy imports: {', '.join(heavy) or 'none'}")


if __name__ == "__main__":
    main()
