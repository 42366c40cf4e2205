"""The command line. Each command reads its arguments, calls a stage and prints.

Exit codes: ``pipeline/exit_codes.py``. Whatever goes wrong ends in a message and a code of its own,
never in a traceback. A fault of the program itself is written to a file that can be sent to its
authors.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys

import click

from pipeline.cli.collection import accept, export, new, plan, review, watch
from pipeline.cli.common import Group, say
from pipeline.cli.faults import failure_of
from pipeline.cli.lines import foods, match
from pipeline.cli.nutrient_table import drift, refresh, schedule, snapshot_app
from pipeline.cli.pantry import pantry_app
from pipeline.cli.verify import verify
from pipeline.exit_codes import Exit

app = Group(
    "steelyard",
    help="Checks the calories and macros recipes state against what their ingredients add up to.",
    epilog="Values are estimates from average composition. No medical advice, and no food label.",
)
for _command in (
    verify, match, foods, snapshot_app, pantry_app, refresh, drift, new, review, accept, plan,
    export, watch, schedule,
):  # fmt: skip
    app.add_command(_command)


def console() -> None:
    """``main`` as a process of its own, which ends without taking its objects apart one by one."""
    code = 1  # of a fault that no message was found for

    def leave() -> None:
        try:
            sys.stdout.flush()
            sys.stderr.flush()
        except (OSError, ValueError):
            return  # the interpreter says so in its own way
        os._exit(code)

    atexit.register(leave)  # first, so that it runs behind what others have registered
    try:
        main()
    except SystemExit as ended:
        code = int(ended.code or 0)
        raise


def main() -> None:
    """Run the command line; a user's mistake ends in a message and an exit code."""
    # tables and index are a million small objects without cycles: collecting garbage would cost a
    # fifth of a run on a few recipes, and free nothing
    gc.set_threshold(1_000_000, 20, 50)
    # the matrices of a run are small: threads of the linear algebra only cost their start
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    atexit.register(gc.freeze)  # nor is there anything to collect at the end of the process
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        raise SystemExit(app.main(standalone_mode=False) or 0)
    except click.ClickException as fault:
        fault.show()
        raise SystemExit(fault.exit_code) from None
    except (click.Abort, KeyboardInterrupt):
        say("Stopped.")
        raise SystemExit(int(Exit.STOPPED)) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
    except Exception as fault:
        failed = failure_of(fault)
        say(failed.problem.render())
        raise SystemExit(int(failed.exit_code)) from None
