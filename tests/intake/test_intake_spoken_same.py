"""Reading a script gives the same to the last bit, in whatever order words are hashed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROGRAM = """
import sys
from pathlib import Path
from pipeline.intake.spoken.captions import pieces
from pipeline.intake.spoken.script import Script
from pipeline.intake.spoken.talk import Talk
one = Script(Talk.of(pieces(Path(sys.argv[1]).read_text("utf-8"), "script")))
print(repr(one.score), [t.doubt for t in one.totals.found], [c.doubt for c in one.cutter.contents.both])
"""


def test_scores_do_not_depend_on_the_order_of_a_set():
    script = next((ROOT / "benchmarks" / "data" / "spoken").glob("*.txt"))
    said = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM, str(script)], check=True, capture_output=True, text=True,
            cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(said) == 1
