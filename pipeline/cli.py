"""The command line: a door. Each command reads its arguments, calls a stage and prints.

Exit codes: 0 done; 1 the condition of ``--fail-on`` holds; 2 the command could not be carried out
(wrong usage, nothing readable); 3 no recipe could be found.
"""

from __future__ import annotations

import json
import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.problems import Problem, SteelyardError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pipeline.run import Read

EXIT_OK, EXIT_FAIL_ON, EXIT_ERROR, EXIT_NOTHING = 0, 1, 2, 3

app = typer.Typer(
    name="steelyard",
    help="Checks the calories and macros recipes state against what their ingredients add up to.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    add_completion=False,
    epilog="Values are estimates from average composition. No medical advice, and no food label.",
)


class LineFormat(StrEnum):
    """How `match` prints."""

    table = "table"
    jsonl = "jsonl"


class FailOn(StrEnum):
    """What makes `verify` end with exit code 1."""

    disagrees = "disagrees"
    uncertain = "uncertain"
    problems = "problems"


def _say(text: str) -> None:
    typer.echo(text, err=True)


def _utf8() -> None:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")


@app.command()
def match(
    lines: Annotated[
        list[str] | None, typer.Argument(help="Ingredient lines; none: standard input.")
    ] = None,
    format: Annotated[
        LineFormat, typer.Option(help="table, or jsonl: one object a line.")
    ] = LineFormat.table,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show candidates, features and measure.")
    ] = False,
    pantry: Annotated[
        Path | None, typer.Option(help="Pantry of label foods (CSV or YAML).")
    ] = None,
    decisions: Annotated[Path | None, typer.Option(help="Remembered answers (CSV).")] = None,
    spoons: Annotated[str, typer.Option(help="Cups and spoons: us, metric, uk or au.")] = "us",
) -> None:
    """Say which food each ingredient line means, and how many grams.

    steelyard match "2 large eggs" "1½ cups cooked brown rice"
    """
    from pipeline.run import load_tools, read_lines

    texts = list(lines) if lines else _lines_of_stdin()
    tools = load_tools(_snapshot(), settings=_settings(spoons=spoons), **_memory(pantry, decisions))
    distinct = list(dict.fromkeys(texts))
    read = dict(zip(distinct, read_lines(distinct, tools), strict=True))
    if format is LineFormat.jsonl:
        for text in texts:
            typer.echo(json.dumps(_as_object(text, read[text]), ensure_ascii=False))
        return
    from pipeline.report.terminal import lines_table, print_table

    print_table(lines_table([(text, read[text]) for text in texts]))
    if explain:
        from pipeline.match.explain import explain_line

        for text in texts:
            typer.echo(explain_line(read[text], tools.matcher))


def _as_object(text: str, read: Read) -> dict[str, object]:
    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 3)

    weight, chosen = read.weight, read.match
    reason = "; ".join(r for r in (chosen.reason, weight.reason) if r)
    return {
        "line": text,
        "food_id": chosen.food_id,
        "description": chosen.description,
        "confidence": round(chosen.confidence, 4),
        "status": chosen.status,
        "grams": figure(weight.grams),
        "grams_low": figure(weight.low),
        "grams_high": figure(weight.high),
        "basis": weight.basis,
        "reason": reason,
    }


def _lines_of_stdin() -> list[str]:
    if sys.stdin.isatty():
        _say("Reading ingredient lines from the keyboard; end with Ctrl-D.")
    raw = sys.stdin.buffer.read()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return [line for line in text.splitlines() if line.strip()]


def main() -> None:
    """Run the command line; a user's mistake ends in a message and an exit code."""
    _utf8()
    try:
        app()
    except SteelyardError as fault:
        _say(fault.problem.render())
        raise SystemExit(fault.exit_code) from None
    except KeyboardInterrupt:
        _say("Stopped.")
        raise SystemExit(130) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
