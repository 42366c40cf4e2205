"""``steelyard match`` and ``steelyard foods``: single lines, and the table searched."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.common import (
    EXIT_NOTHING,
    PATH,
    form_option,
    live_snapshot,
    load_memory,
    number_option,
    say,
    say_all,
    settings_with,
)
from pipeline.expressions import kept_expressions
from pipeline.near_names import near_names, offered
from pipeline.problems import failure
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pipeline.foods import Profile
    from pipeline.match.index import Index
    from pipeline.match.search import FoundFood
    from pipeline.reading import Read
    from pipeline.snapshot.names import SourceNames


@click.command()
@click.argument("lines", nargs=-1, help="Ingredient lines; none: standard input.")
@form_option("--format", "table", "jsonl", help="table, or jsonl: one object a line.")
@click.option("--explain", is_flag=True, help="Show candidates, features and measure.")
@click.option("--pantry", type=PATH, help="Pantry of label foods (CSV or YAML).")
@click.option("--decisions", type=PATH, help="Remembered answers (CSV).")
@click.option(
    "--spoons", default="us", show_default=True, help="Cups and spoons: us, metric, uk or au."
)
@kept_expressions()
def match(
    lines: tuple[str, ...],
    form: str,
    explain: bool,
    pantry: Path | None,
    decisions: Path | None,
    spoons: str,
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
    say_all(tools.problems)
    names = source_names(tools.snapshot)
    distinct = list(dict.fromkeys(texts))
    read = dict(zip(distinct, read_lines(distinct, tools), strict=True))
    if form == "jsonl":
        for text in texts:
            click.echo(json.dumps(_as_object(text, read[text], names), ensure_ascii=False))
        return
    from pipeline.report.terminal import lines_table, print_table

    print_table(lines_table([(text, read[text]) for text in texts], names))
    if explain:
        from pipeline.match.explain import explain_line

        for text in texts:
            click.echo(explain_line(read[text], tools.matcher))


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
    from pipeline.memory.files import as_text

    text, _ = as_text(sys.stdin.buffer.read())
    return [line for line in text.splitlines() if line.strip()]


def _states(given: tuple[str, ...]) -> frozenset[str]:
    """States as the table of states names them.

    Raises:
        SteelyardError: one is not among them.
    """
    known = [row["state"] for row in shared_rows("states.csv")]
    for name in given:
        if name.lower() not in known:
            fix = (
                offered(near_names(name, known, 2)) or f"there are {', '.join(sorted(set(known)))}"
            )
            raise failure("option-invalid/state", value=name, fix=fix)
    return frozenset(name.lower() for name in given)


def _in_states(
    found: list[FoundFood], profiles: Mapping[str, Profile], states: frozenset[str]
) -> list[FoundFood]:
    """The foods that are in all of some states; every one, and a word about it, when none is."""
    from pipeline.foods.composition import COOKED

    def said(food: FoundFood) -> frozenset[str]:
        profile = profiles.get(food.food_id)
        own = profile.states if profile else frozenset()
        return own | {"cooked"} if own & COOKED else own

    chosen = [food for food in found if states <= said(food)]
    if not chosen:
        say(
            f"The table says of none of them that it is {' and '.join(sorted(states))}; all are shown."
        )
    return chosen or found


def _stand_ins(index: Index, words: str, limit: int) -> list[FoundFood]:
    """For a food that the table is known to lack: what a line of that name is counted as."""
    from pipeline.lines import parse
    from pipeline.match.matcher import Matcher
    from pipeline.match.search import search

    match = Matcher(index).match_one(parse(words))
    if match.food_id is None:
        return []
    say(f'"{words}": {match.reason}')
    ids = [match.food_id, *(c.food_id for c in match.runners_up)]
    return [food for i in ids[:limit] for food in search(index, i)[:1]]


@click.command()
@click.argument("query", nargs=-1, required=True, help="Words to look for, e.g. greek yogurt.")
@number_option("--limit", 1, 200, 15, "How many foods to show.")
@click.option("--state", multiple=True, help="raw, cooked, canned ...; may be repeated.")
@click.option("--profile", is_flag=True, help="What the table's own name says of each food.")
@form_option("--format", "table", "json", help="table or json.")
def foods(
    query: tuple[str, ...], limit: int, state: tuple[str, ...], profile: bool, form: str
) -> None:
    """Search the food table by a cook's words; the likeliest first, values per 100 g.

    \b
    steelyard foods brown rice --state cooked
    steelyard foods brown rice --profile --format json
    """
    from pipeline.match import load_index
    from pipeline.match.search import search
    from pipeline.report.foods import foods_json, profile_table
    from pipeline.report.terminal import foods_table, print_table
    from pipeline.snapshot import source_names
    from pipeline.snapshot.food_profile import load_profiles

    words, states = " ".join(query), _states(state)
    snapshot = live_snapshot()
    with snapshot.connect() as con:
        index = load_index(con, snapshot.folder)
        found = search(index, words, states, limit=200 if states else limit)
        if not found:
            found = _stand_ins(index, words, limit)
        profiles = load_profiles(con, [f.food_id for f in found]) if profile or states else {}
    if states and found:
        found = _in_states(found, profiles, states)[:limit]
    if not found:
        say(f'No food of the table is called anything like "{words}".')
        raise click.exceptions.Exit(EXIT_NOTHING)
    if form == "json":
        click.echo(json.dumps(foods_json(found, profiles), ensure_ascii=False, indent=2))
    elif profile:
        print_table(profile_table(found, profiles))
    else:
        print_table(foods_table(found, source_names(snapshot)))
