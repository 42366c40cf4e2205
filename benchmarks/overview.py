"""The report of a large collection: what writing costs, how large it is, how soon it shows.

    python benchmarks/overview.py [--recipes 1000 10000 100000]

The tables of a run are made directly, without matching: invented recipes of twelve lines, half of
them disagreeing, with explanations, numbers to publish and lines to review. Prints CPU milliseconds a
recipe and peak memory of writing (in a process of its own), bytes at first sight and in all, and, by
a headless Chromium from disk, first paint (the browser's own performance entries), a search over all
titles that finds the last recipe, and the time until one recipe shows.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import chromium

if TYPE_CHECKING:
    import duckdb

LINES = 12
MOST_PAINT_MS, MOST_OPEN_MS, MOST_CPU_MS, MOST_BYTES = 1000, 200, 1.0, 2_000_000

#: Invented words of titles and lines.
_WORDS = """
create temp macro first(i) as
    ['Harbour', 'Lantern', 'Slipway', 'Beacon', 'Mooring', 'Tideline', 'Galley', 'Ferry'][i % 8 + 1];
create temp macro dish(i) as
    ['porridge', 'hotpot', 'traybake', 'stew', 'salad', 'pancakes', 'curry', 'chowder'][i % 8 + 1];
create temp macro food(i) as
    ['rolled oats', 'onion, finely chopped', 'whole milk', 'olive oil', 'plain flour', 'skarrow kelp',
     'carrots, peeled and diced', 'red lentils, rinsed', 'salt', 'butter, softened', 'honey',
     'tinned tomatoes (with their juice)'][i % 12 + 1];
"""
_TABLES = {
    "recipes": """
        select id as recipe_id, first(i) || ' ' || dish(i // 8) || ' no. ' || i as title,
            'shelf/' || id || '.yaml' as source, verdict, 0.97 as coverage, 'per_serving' as basis,
            if(verdict = 'disagrees', 610.0 + i % 90, 412.0) as kcal_stated, 405.0 as kcal_computed,
            21.0 as protein_g_stated, 20.4 as protein_g_computed, 48.0 as carbs_g_stated,
            47.2 as carbs_g_computed, 14.5 as fat_g_stated, 14.1 as fat_g_computed,
            null::double as fiber_g_stated, 6.1 as fiber_g_computed, null::double as sugar_g_stated,
            7.0 as sugar_g_computed, null::double as sodium_mg_stated, 320.0 as sodium_mg_computed,
            if(i % 1000 = 7, 'the glaze stays on the plate', '') as accepted
        from recipe""",
    "page_finding": """
        select id as recipe_id, nutrient, stated, computed, computed * 0.94 as low,
            computed * 1.07 as high, computed - stated as difference, computed * 0.15 as allowed,
            if(nutrient = 'kcal', recipe.verdict, 'agrees') as verdict, 'per_serving' as basis
        from recipe, (values ('kcal', 412.0, 405.0), ('protein_g', 21.0, 20.4),
                             ('carbs_g', 48.0, 47.2), ('fat_g', 14.5, 14.1))
            as stated(nutrient, usual, computed),
            lateral (select if(nutrient = 'kcal' and verdict = 'disagrees', 610.0 + i % 90, usual)
                     as stated)""",
    "lines": """
        select id as recipe_id, line_no, '' as section, amount || ' g ' || food(i + line_no) as text,
            line_no + 3 as source_line, 'sr28:' || (11000 + (i + line_no) % 800) as food_id,
            'Food of the table, ' || food(i + line_no) || ', raw' as description, 0.93 as confidence,
            if((i + line_no) % 97 = 0, 'to review', 'accepted') as status, 'table' as origin,
            'a name of this food' as reason, true as names_food, amount::double as grams,
            amount * 0.96 as grams_low, amount * 1.05 as grams_high, 'mass' as basis,
            amount || ' g on the line' as weigh_reason, 'g' as unit, amount::double as amount,
            amount * 1.37 as kcal, null::bigint as part_of, 'USDA SR28' as food_source
        from recipe, (select unnest(range(1, 13)) as line_no),
            lateral (select 20 + (i * 7 + line_no * 31) % 300 as amount)""",
    "explanations": """
        select id as recipe_id, 1 as rank,
            ['line_left_out', 'unit_slip', 'servings_slip', 'none_found'][i % 4 + 1] as kind,
            if(i % 4 < 2, 1 + i % 12, null) as line_no, 0.81 as probability,
            'If line 1 had been left out, a serving would have 610 kcal, 20 g protein.' as detail,
            610.0 as kcal, 20.0 as protein_g, 47.0 as carbs_g, 14.0 as fat_g, 6.0 as fiber_g,
            'per_serving' as basis
        from recipe where verdict = 'disagrees'""",
    "to_review": """
        select recipe_id, line_no, text, food_id, description, confidence,
            'other foods fit about as well' as why, kcal, food_source
        from lines where status = 'to review'""",
    "page_open": """
        select recipe_id, line_no, kcal * 0.2 as open_kcal, 1600.0 as whole_kcal from to_review""",
    "corrected": """
        select id as recipe_id, 'per_serving' as basis, 'whole' as rule, '405' as kcal,
            '20.4' as protein_g, '47.2' as carbs_g, '14.1' as fat_g, '6.1' as fiber_g,
            '7' as sugar_g, '3.2' as satfat_g, '320' as sodium_mg, '' as salt_g,
            'table' as energy_from, 0 as lines_left_out, '' as note,
            'Per serving: 405 kcal, P 20.4 g, C 47.2 g, F 14.1 g, fibre 6.1 g' as caption,
            '{"@type": "NutritionInformation", "calories": "405 kcal"}' as schema_org
        from recipe""",
    "page_fact": """
        select id as recipe_id, 'Invented cook ' || i % 40 as creator, 1 as source_line,
            4.0 as servings, 'servings' as serving_word, '' as servings_how, 1240.0 as weight_g,
            'summed' as weight_basis, 1620.0 as whole_kcal, 1560.0 as low_kcal, 1700.0 as high_kcal,
            if(verdict = 'disagrees', 'line 1: left out', '') as why,
            if(verdict = 'disagrees', 'if it is not in the dish, take line 1 out', '') as other
        from recipe""",
    "page_line": """
        select recipe_id, line_no, '' as role, 'Another food' || chr(10) || 'A third food' as others
        from to_review""",
    "page_doubt": """
        select id as recipe_id, 2 as line_no, 0.6 as share, 'grams' as cause,
            'weigh the onion: 60% of the doubt' as advice from recipe""",
    "page_check": "select id as recipe_id, '' as message from recipe limit 0",
    "claims": """
        select id as recipe_id, 'low_fat' as claim, 'low-fat' as words, 'EU' as jurisdiction,
            'not met' as status, 'The condition asks for 3 g.' as reason
        from recipe where i % 200 = 0""",
    "problems": """
        select ['warning', 'error', 'note'][i % 3 + 1] as severity,
            ['amount-ambiguous', 'line-unreadable', 'nothing-stated'][i % 3 + 1] as code,
            'shelf/' || id || '.yaml' as source, 5 as source_line, id as recipe_id,
            1::bigint as line_no, 'a line can be read two ways' as what, 'the first was taken' as why,
            'write the amount in grams' as fix, '1 1/2-2 cups' as text
        from recipe where i % 50 = 0""",
}  # fmt: skip


def invented(con: duckdb.DuckDBPyConnection, recipes: int) -> dict[str, str]:
    """Tables of a run over that many invented recipes; names as ``report.paged`` wants them."""
    from pipeline.habits import HABIT

    con.execute(_WORDS)
    verdicts = "['disagrees', 'agrees', 'disagrees', 'uncertain', 'agrees', 'disagrees', 'agrees']"
    con.execute(
        f"create temp table recipe as select i::integer as i, 'r' || lpad(i::varchar, 7, '0') as id,"
        f" if(i % 211 = 5, 'not_judged', {verdicts}[i % 7 + 1]) as verdict from range({recipes}) as t(i)"
    )
    for name, query in _TABLES.items():
        con.execute(f"create temp table {name} as {query}")
    con.execute("create temp view findings as select * exclude (basis) from page_finding")
    empty = ", ".join(f"null::{'bigint' if c == 'recipes' else 'varchar'} as {c}" for c in HABIT)
    con.execute(f"create temp table habits as select {empty} limit 0")
    return {name: name for name in (*_TABLES, "findings", "habits")}


def write(recipes: int, folder: Path, memory_mb: int = 512) -> dict[str, float]:
    """Write the report of invented recipes; CPU seconds of writing and peak memory in bytes."""
    import duckdb

    from pipeline.compute.convention import TABLE
    from pipeline.report.paged import About, write_paged
    from pipeline.settings import Settings

    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as spill, duckdb.connect() as con:
        con.execute(f"set memory_limit = '{memory_mb}MB'")
        con.execute(f"set temp_directory = '{spill}'")
        at = invented(con, recipes)
        about = About(Settings(), TABLE, {"snapshot_id": "invented"}, Path("shelf"))
        before = time.process_time()
        write_paged(con, at, about, folder)
        seconds = time.process_time() - before
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return {"seconds": seconds, "peak": peak}


_PAINT = """
const paint = performance.getEntriesByName('first-contentful-paint')[0];
return paint ? paint.startTime : null;
"""
#: Types into the search box and waits until the list says how many there are.
_SEARCH = """
const [text, done] = arguments, find = document.getElementById('find');
const where = document.getElementById('where'), begin = performance.now();
find.value = text;
find.dispatchEvent(new Event('input'));
const look = () => / of \\d|No recipe/.test(where.textContent)
    ? done([performance.now() - begin, where.textContent]) : setTimeout(look, 5);
look();
"""
#: Waits for a recipe, from the moment the page was asked for.
_OPENED = """
const done = arguments[0];
const look = () => document.querySelector('#recipe .title')
    ? requestAnimationFrame(() => done(performance.now())) : setTimeout(look, 2);
look();
"""


def seen(browser: Any, folder: Path, recipes: int) -> dict[str, Any]:
    """What a browser makes of the report: milliseconds of first paint, search and opening."""
    browser.get((folder / "report.html").as_uri())
    paint = None
    for _ in range(100):
        paint = browser.execute_script(_PAINT)
        if paint is not None:
            break
        time.sleep(0.02)
    search = browser.execute_async_script(_SEARCH, f"no. {recipes - 1}")
    browser.get((folder / "report-recipe.html").as_uri() + f"#{recipes // 2}")
    opened = browser.execute_async_script(_OPENED)
    return {"paint": paint, "search": search[0], "found": search[1], "open": opened}


def main() -> None:
    """Measure and print, the targets beside the figures."""
    options = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    options.add_argument("--recipes", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    options.add_argument("--write", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.write:
        print(json.dumps(write(given.recipes[0], Path(given.write))))
        return
    browser = chromium.start() if all(chromium.paths()) else None
    print(f"targets: at most {MOST_CPU_MS:g} ms CPU a recipe, {MOST_BYTES / 1e6:g} MB at first sight,"
          f" {MOST_PAINT_MS} ms to first paint, {MOST_OPEN_MS} ms to open one")  # fmt: skip
    print(f"{'recipes':>8} {'ms CPU each':>12} {'peak MB':>8} {'page kB':>8} {'all MB':>7} {'files':>6}"
          f" {'paint ms':>9} {'search ms':>10} {'open ms':>8}")  # fmt: skip
    for recipes in given.recipes:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            command = [sys.executable, __file__, "--recipes", str(recipes), "--write", name]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            cost = json.loads(done.stdout)
            sizes = [p.stat().st_size for p in folder.rglob("*") if p.is_file()]
            first = (folder / "report.html").stat().st_size
            shown = seen(browser, folder, recipes) if browser else dict.fromkeys(
                ("paint", "search", "open"), float("nan"))  # fmt: skip
            print(f"{recipes:8,d} {1000 * cost['seconds'] / recipes:12.3f} {cost['peak'] / 1e6:8.0f}"
                  f" {first / 1e3:8.0f} {sum(sizes) / 1e6:7.0f} {len(sizes):6d} {shown['paint']:9.0f}"
                  f" {shown['search']:10.0f} {shown['open']:8.0f}")  # fmt: skip
    if browser:
        browser.quit()


if __name__ == "__main__":
    main()
