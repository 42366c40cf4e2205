"""Tables for the terminal: colour and width where there is a screen, plain text in a pipe."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pipeline.report.frames import records
from pipeline.report.words import (
    MACROS,
    SLIP,
    STANDING,
    amount,
    nutrient_word,
    plural,
    servings_word,
    standing_counts,
    stated_amount,
    titled,
    unlikely,
    written_line,
)

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    from rich.console import Console
    from rich.table import Table

    from pipeline.match.search import FoundFood
    from pipeline.reading import Read
    from pipeline.run import Result
    from pipeline.snapshot import SourceNames

_STYLE = {
    "agrees": "green", "uncertain": "yellow", "disagrees": "bold red", "not_judged": "dim",
    "accepted": "green", "to review": "yellow", "unmatched": "red",
}  # fmt: skip
_MACROS = ("kcal", "protein g", "carbohydrate g", "fat g")
#: Columns of words that are never folded.
_UNBROKEN = frozenset({"status", "verdict", "worst number", "buy"})


def print_table(table: Table) -> None:
    """Print to standard output; a pipe gets 160 columns and no colour."""
    _console().print(table)


def _console() -> Console:
    import sys

    from rich.console import Console

    # titles are printed as they are written: ":egg:" in one is no picture
    return Console(width=None if sys.stdout.isatty() else 160, highlight=False, emoji=False)


def plain_table(*columns: str) -> Table:
    """A table without lines; a column whose name begins with ``>`` holds numbers.

    Numbers, ids and verdicts stay on one line; everything else is folded.
    """
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in columns:
        if column.startswith(">"):
            table.add_column(column[1:], justify="right", no_wrap=True)
        else:
            table.add_column(column, overflow="fold", no_wrap=column in _UNBROKEN)
    return table


def _add(table: Table, *cells: object) -> None:
    """A row of texts as they stand; a cell of two is a style and its text."""
    from rich.markup import escape

    table.add_row(
        *(f"[{c[0]}]{escape(c[1])}[/]" if isinstance(c, tuple) else escape(str(c)) for c in cells)
    )


def _styled(verdict: str) -> tuple[str, str]:
    return _STYLE[verdict], STANDING[verdict]


def figure(value: float | None, digits: int = 0) -> str:
    """A number for people; a missing one is a dash, never a zero."""
    if value is None or value != value:
        return "–"
    return f"{value:,.{digits}f}"


def lines_table(read: Sequence[tuple[str, Read]], names: SourceNames | None = None) -> Table:
    """The answer of ``steelyard match``: one row per line.

    Args:
        read: lines in order.
        names: to say which table each food comes from; only where there are several.
    """
    several = names is not None and names.several
    table = plain_table(
        "line", "food", "id", *(["from"] if several else []), ">sure", "status", ">grams", ">range",
        "how",
    )  # fmt: skip
    rows = [
        row
        for text, one in read
        for row in ((text, one), *((f"  {part.parsed.text}", part) for part in one.parts))
    ]
    for text, one in rows:
        weight, chosen = one.weight, one.match
        digits = 1 if weight.grams is not None and weight.grams < 20 else 0
        span = "–".join(figure(v, digits) for v in (weight.low, weight.high) if v is not None)
        how = weight.reason or chosen.reason
        if one.parts or chosen.status != "accepted":
            how = f"{chosen.reason}; {weight.reason}"
        _add(
            table, text, chosen.description, chosen.food_id or "–",
            *([names.of(chosen.food_id) or "–"] if names is not None and several else []),
            f"{chosen.confidence:.0%}" if chosen.food_id else "–",
            "–" if one.parts else (_STYLE[chosen.status], chosen.status),
            figure(weight.grams, digits), span, how,
        )  # fmt: skip
    return table


#: Recipes that are shown without being asked for: all of a small collection, the first of a large one.
MOST_WHOLE, MOST_FIRST = 40, 20
#: Rows of problems: as many as there are in a small run, else one a kind.
MOST_PROBLEMS = 12


def shown_rows(recipes: int, show: int | None) -> int:
    """How many recipes the terminal shows; ``show``: what was asked for, None for nothing."""
    if show is not None:
        return min(show, recipes)
    return recipes if recipes <= MOST_WHOLE else MOST_FIRST


def recipes_table(result: Result, show: int | None = None) -> Table:
    """The answer of ``steelyard verify``: one row per recipe, the largest discrepancy first.

    Args:
        show: rows at most; None: all of a small collection, the first of a large one.
    """
    rows = result.recipes_by_size().head(shown_rows(len(result.recipes), show))
    ids = set(rows["recipe_id"])
    found = result.findings[result.findings["recipe_id"].isin(ids)]
    judged = dict(
        zip(zip(found["recipe_id"], found["nutrient"], strict=True), found["verdict"], strict=True)
    )

    macros = (f">{column}\nstated → computed" for column in _MACROS)
    table = plain_table("recipe", "verdict", *macros, ">known", "most likely")
    table.columns[0].max_width = 44
    best = _likeliest(result, ids)
    for row in records(rows):
        cells: list[object] = []
        for column in MACROS:
            stated, computed = row[f"{column}_stated"], row[f"{column}_computed"]
            digits = 0 if column == "kcal" else 1 if stated == stated and stated % 1 else 0
            text = f"{figure(stated, digits)} → {figure(computed, digits)}"
            style = _STYLE.get(judged.get((row["recipe_id"], column), ""), "")
            cells.append((style, text) if style and style != "green" else text)
        _add(
            table, titled(row), _styled("accepted" if row.get("accepted") else row["verdict"]),
            *cells, f"{row['coverage']:.0%}" if row["coverage"] == row["coverage"] else "–",
            best.get(row["recipe_id"], ""),
        )  # fmt: skip
    return table


def _likeliest(result: Result, ids: set[str]) -> dict[str, str]:
    """The first explanation of some recipes in a few words, or what leaves them open where that is
    unlikely; the report has the whole sentence."""
    from pipeline.report.todo import left_open

    if result.explanations.empty:
        return {}
    lines = result.lines[result.lines["recipe_id"].isin(ids)]
    lines = lines.reindex(columns=["recipe_id", "line_no", "part_of", "text"])
    rows = {(str(r["recipe_id"]), int(r["line_no"])): r for r in records(lines)}
    slips: dict[str, str] = {}
    first = result.explanations[result.explanations["rank"] == 1]
    verdict = dict(zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True))
    open_ = left_open(result)
    for row in records(first[first["recipe_id"].isin(ids)]):
        if unlikely(verdict[row["recipe_id"]], row):
            text, why = open_.get(row["recipe_id"], ("", "within what its lines leave open"))
            slips[str(row["recipe_id"])] = f'"{_short(text)}": {why}' if text else why
            continue
        words = SLIP.get(row["kind"], str(row["kind"]))
        line = row["line_no"]
        if line == line and line is not None and str(line) != "<NA>":
            of = rows.get((str(row["recipe_id"]), int(line)), {"line_no": line, "text": ""})
            words = f'line {written_line(of)} "{_short(str(of["text"]))}": {words}'
        belief = "" if row["kind"] == "none_found" else f" ({row['probability']:.0%})"
        slips[str(row["recipe_id"])] = f"{words}{belief}"
    return slips


def _short(text: str) -> str:
    return f"{text[:40]}{'…' if len(text) > 40 else ''}"


def foods_table(found: Sequence[FoundFood], names: SourceNames | None = None) -> Table:
    """The answer of ``steelyard foods``: values per 100 g; ``names`` as for the lines."""
    several = names is not None and names.several
    macros = (f">{column}" for column in _MACROS)
    table = plain_table("id", "food", "group", *(["from"] if several else []), *macros)
    for food in found:
        _add(
            table, food.food_id, food.description, food.category,
            *([names.of(food.food_id)] if names is not None and several else []),
            figure(food.kcal),
            figure(food.protein_g, 1), figure(food.carb_g, 1), figure(food.fat_g, 1),
        )  # fmt: skip
    return table


def shopping_table(needed: pd.DataFrame, titles: dict[str, str]) -> Table:
    """The shopping list of ``steelyard plan``; ``titles``: of the recipes."""
    table = plain_table("food", "buy", ">grams", "for")
    table.title = "To buy"
    for row in needed.to_dict("records"):
        grams = figure(row["grams"])
        if row["unweighed"]:
            grams = f"{grams} + {row['unweighed']} unweighed" if grams != "–" else "not weighed"
        names = ", ".join(titles.get(r, r) for r in row["recipes"])
        _add(table, row["food"], row["buy"], grams, names)
    return table


def scaled_table(lines: pd.DataFrame) -> Table:
    """The scaled lines of ``steelyard plan``, one block per recipe."""
    table = plain_table("recipe", "line as written", ">for this batch")
    last = ""
    for row in lines.to_dict("records"):
        title = f"{row['title']}, {servings_word(round(row['servings'], 2))}"
        weight = figure(row["grams"], 1)
        need = row["needs"] or (weight if weight == "–" else f"{weight} g")
        _add(table, title if title != last else "", row["text"], need)
        last = title
    return table


def bases_lines(found: pd.DataFrame) -> list[str]:
    """What has to be made first, in plain lines."""
    out = []
    for row in found.to_dict("records"):
        portions, times = f"{row['portions']:.3g}", f"{row['batches']:.2g} times the recipe"
        word, title = "portion" if portions == "1" else "portions", row["title"]
        said = f"Make {portions} {word} of {title} first ({times})."
        out.append(f"Make {times} of {title}." if portions == "nan" else said)
    return out


#: Said wherever numbers are shown.
CAUTION = (
    "Values are estimates from average composition. They are no medical advice, no basis for a dose "
    "and no food label; where health or a sale depends on them, the local rules and a licensed "
    "professional decide."
)


def not_shown(recipes: int, show: int | None, file: str) -> str:
    """How many recipes the table left out and where they stand, "" when it has them all.

    Args:
        recipes: how many there are.
        show: rows asked for, None for none.
        file: table that holds them all, "" when none was written.
    """
    left = recipes - shown_rows(recipes, show)
    if not left:
        return ""
    where = f"all are in {file}" if file else "--out FOLDER writes them all"
    return f"... and {left:,d} more, which differ less: {where}; --show N shows more here."


def problem_lines(problems: pd.DataFrame) -> list[str]:
    """Problems in a line each; of many, one a kind with how many more there are.

    Args:
        problems: columns ``problems.PROBLEM_COLUMNS``, in order.
    """
    order = problems["severity"].map({"error": 0, "warning": 1}).fillna(2)
    rows, more = problems, [0] * len(problems)
    if len(problems) > MOST_PROBLEMS:
        kind = problems.groupby(["severity", "code"], dropna=False)
        first = ~problems.duplicated(["severity", "code"])
        ordered = order[first].sort_values(kind="stable").index[:MOST_PROBLEMS]
        rows = problems.loc[ordered]
        more = (kind["what"].transform("size").loc[ordered] - 1).tolist()
    from pipeline.problems import place_of

    out = []
    for row, others in zip(rows.to_dict("records"), more, strict=True):
        at = place_of(row)
        where = f"{at}: " if at else ""
        rest = f", and {others:,d} more of this kind" if others else ""
        out.append(f"{row['severity']}: {where}{row['what']} [{row['code']}]{rest}")
    return out


def biggest_table(rows: Sequence[dict[str, Any]]) -> Table:
    """The largest differences of a run in parts, one row per recipe: its worst number.

    Args:
        rows: as ``bulk.BulkSummary.biggest`` gives them.
    """
    table = plain_table("recipe", "verdict", "worst number", ">stated → computed", "most likely")
    table.columns[0].max_width = 44
    for row in rows:
        column = str(row["nutrient"])
        _add(
            table, row["title"] or row["recipe_id"], _styled(row["verdict"]), nutrient_word(column),
            f"{stated_amount(row['stated'], column)} → {amount(row['computed'], column)}",
            row["explanation"] or "",
        )  # fmt: skip
    return table


def print_result(
    result: Result,
    written: Sequence[Path],
    out: Path | None,
    *,
    paths: Sequence[str] = (),
    corrected: Path | None = None,
    show: int | None = None,
) -> None:
    """The table of ``steelyard verify`` with counts, problems, where the report is, what to run next.

    Args:
        written: files of the report; ``out``: their folder.
        paths: as they were given, for the commands to run next; none: no guide.
        corrected: folder of corrected copies that were written.
        show: recipes in the table; None: all of a small collection, the first of a large one.
    """
    from pipeline.report.guide import next_steps

    console = _console()
    if len(result.recipes):
        console.print(recipes_table(result, show))
        for text in _summary(result, show, "recipes.csv" if out is not None else ""):
            console.print(text)
    for text in (*_faults(result, out), *_findings(result, written, out)):
        console.print(text, soft_wrap=True, markup=False)
    steps = next_steps(result, paths, out=out, corrected=corrected)
    if steps:
        console.print("\nNext:")
        width = max(len(command) for command, _ in steps)
        for command, does in steps:
            console.print(f"  {command.ljust(width)}  {does}", soft_wrap=True, markup=False)
        console.print()
    console.print(f"[dim]{CAUTION}[/]")


def _summary(result: Result, show: int | None, file: str) -> list[str]:
    """What the table left out, the counts of verdicts, and what was assumed."""
    from pipeline.report.guide import assumed

    recipes = len(result.recipes)
    titles = (s["title"] for s in result.snapshot.get("sources", []) if not s.get("reference"))
    source, verdicts = ", ".join(map(str, titles)), standing_counts(result.standing())
    more = not_shown(recipes, show, file)
    counts = f"\n{plural(recipes, 'recipe')} against {source}: {verdicts}."
    return [*([more] if more else []), counts, assumed(result)]


def _faults(result: Result, out: Path | None) -> list[str]:
    if result.problems.empty:
        return []
    from pipeline.report.script import fold_alike  # here: most small runs have no problem to show

    errors = fold_alike(result.problems, set(result.scripts["source"]))
    lines = problem_lines(errors)
    if len(errors) > MOST_PROBLEMS and out is not None:
        lines.append(f"All {len(result.problems):,d} problems: problems.csv")
    return lines


def _findings(result: Result, written: Sequence[Path], out: Path | None) -> list[str]:
    """Habits, lines to look at, and where the report stands."""
    from pipeline.report.habits import shown_habits

    lines = [f"habit: {habit.question}" for habit in shown_habits(result)[:3]]
    if len(result.to_review):
        asked = plural(len(result.to_review), "line is", "lines are")
        lines.append(f"{asked} worth a look (to_review.csv).")
    if out is not None:
        whole = out / "report.html"
        lines.append(f"Report: {whole if whole in written else out}")
        creators = [p for p in written if p.name == "report.html" and p != whole]
        if creators:
            lines.append(f"Reports per creator: {len(creators)} in {out / 'creators'}")
    return lines
