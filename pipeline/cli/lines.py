"""``steelyard match`` and ``steelyard foods``: single lines, and the table searched."""

from __future__ import annotations

import json
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.common import (
    EXIT_NOTHING,
    live_snapshot,
    load_memory,
    say,
    settings_with,
)

if TYPE_CHECKING:
    from pipeline.reading import Read
    from pipeline.snapshot.names import SourceNames


class LineFormat(StrEnum):
    """How `match` prints."""

    table = "table"
    jsonl = "jsonl"


class FoodsFormat(StrEnum):
    """How foods are printed."""

    table = "table"
    json = "json"


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
    from pipeline.reading import load_tools, read_lines
    from pipeline.snapshot import source_names

    texts = list(lines) if lines else _lines_of_stdin()
    tools = load_tools(
        live_snapshot(), settings=settings_with(spoons=spoons), **load_memory(pantry, decisions)
    )
    names = source_names(tools.snapshot)
    distinct = list(dict.fromkeys(texts))
    read = dict(zip(distinct, read_lines(distinct, tools), strict=True))
    if format is LineFormat.jsonl:
        for text in texts:
            typer.echo(json.dumps(_as_object(text, read[text], names), ensure_ascii=False))
        return
    from pipeline.report.terminal import lines_table, print_table

    print_table(lines_table([(text, read[text]) for text in texts], names))
    if explain:
        from pipeline.match.explain import explain_line

        for text in texts:
            typer.echo(explain_line(read[text], tools.matcher))


def _as_object(text: str, read: Read, names: SourceNames) -> dict[str, object]:
    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 3)

    weight, chosen = read.weight, read.match
    reason = "; ".join(r for r in (chosen.reason, weight.reason) if r)
    row: dict[str, object] = {
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
        "food_source": names.of(chosen.food_id),
    }
    if read.parts:
        row["parts"] = [_as_object(part.parsed.text, part, names) for part in read.parts]
    return row


def _lines_of_stdin() -> list[str]:
    if sys.stdin.isatty():
        say("Reading ingredient lines from the keyboard; end with Ctrl-D.")
    raw = sys.stdin.buffer.read()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return [line for line in text.splitlines() if line.strip()]


def foods(
    query: Annotated[list[str], typer.Argument(help="Words to look for, e.g. greek yogurt.")],
    limit: Annotated[int, typer.Option(help="How many foods to show.", min=1, max=200)] = 15,
    state: Annotated[
        list[str] | None, typer.Option(help="raw, cooked, canned ...; may be repeated.")
    ] = None,
    profile: Annotated[
        bool, typer.Option("--profile", help="What the table's own name says of each food.")
    ] = False,
    format: Annotated[FoodsFormat, typer.Option(help="table or json.")] = FoodsFormat.table,
) -> None:
    """Search the food table by a cook's words; the likeliest first, values per 100 g.

    steelyard foods brown rice --state cooked
    steelyard foods brown rice --profile --format json
    """
    from pipeline.match import load_index
    from pipeline.match.search import search
    from pipeline.report.foods import foods_json, profile_table
    from pipeline.report.terminal import foods_table, print_table
    from pipeline.snapshot import source_names
    from pipeline.snapshot.food_profile import load_profiles

    snapshot = live_snapshot()
    with snapshot.connect() as con:
        found = search(
            load_index(con, snapshot.folder), " ".join(query), frozenset(state or ()), limit
        )
        profiles = load_profiles(con, [food.food_id for food in found]) if profile else {}
    if not found:
        say(f'No food of the table is called anything like "{" ".join(query)}".')
        raise typer.Exit(EXIT_NOTHING)
    if format is FoodsFormat.json:
        typer.echo(json.dumps(foods_json(found, profiles), ensure_ascii=False, indent=2))
    elif profile:
        print_table(profile_table(found, profiles))
    else:
        print_table(foods_table(found, source_names(snapshot)))
