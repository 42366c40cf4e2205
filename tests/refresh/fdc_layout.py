"""Lays the embedded table out as a FoodData Central CSV bundle, with the layout's known quirks.

The values are SR28's (public domain); ids, dates and packing are invented. ``branded`` foods are
SR28 foods under invented codes. Nothing here is an official release.
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import duckdb

from pipeline.resources import shared_path

ALL = ("foundation", "sr_legacy", "survey", "branded")


def write_bundle(
    snapshot: Path,
    folder: Path,
    *,
    kinds: tuple[str, ...] = ALL,
    release: str = "2026-04-30",
    foods: str = "true",
    copies: int = 1,
    change: str = "amount",
    nutrients: tuple[str, ...] = (),
) -> Path:
    """Write the CSV files of one release.

    Args:
        snapshot: a published snapshot file with the embedded table.
        folder: made; the files go into it.
        kinds: which data types it holds; foods are dealt out by code when there are several.
        release: publication date.
        foods: SQL condition on ``food`` for the foods to lay out.
        copies: branded foods are repeated so often under new codes (for benchmarks).
        nutrients: tagnames to write, none for all.
        change: SQL for the amount written, over ``amount``, ``nutrient`` and ``source_code``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    con = duckdb.connect()
    con.execute(f"attach '{snapshot}' as s (read_only)")
    con.execute("set threads = 2")
    con.execute("set preserve_insertion_order = false")
    con.execute("create table map as select * from read_csv($p, all_varchar = true, nullstr = '-')",
                {"p": str(shared_path("fdc_nutrients.csv"))})  # fmt: skip
    con.execute(
        f"""
        create table f as
        select row_number() over (order by kind, source_code, copy) + 100000 as fdc_id, *
        from (
            select source_code, description, category, protein_factor, fat_factor, carb_factor,
                   nitrogen_factor, food_id, kind, copy
            from s.food
            cross join (select unnest({list(kinds)}) as kind) as kinds
            cross join range({copies}) as r(copy)
            where ({foods}) and (kind = 'branded' or copy = 0)
        )
        """
    )

    def put(name: str, query: str) -> None:  # the publisher quotes every field
        con.execute(
            f"copy ({query}) to '{folder / name}.csv' (header, delimiter ',', quote '\"', force_quote *)"
        )

    label = {"foundation": "foundation_food", "sr_legacy": "sr_legacy_food",
             "survey": "survey_fndds_food", "branded": "branded_food"}  # fmt: skip
    types = " ".join(f"when '{k}' then '{v}'" for k, v in label.items())
    put("food", f"""
        select fdc_id, case kind {types} end as data_type, description || ' ' as description,
               case when kind in ('foundation', 'sr_legacy') then c.id end as food_category_id,
               '{release}' as publication_date
        from f left join (
            select category, row_number() over (order by category) as id
            from (select distinct category from s.food)) as c using (category)
        union all select 900001, 'sub_sample_food', 'Sample, "two' || chr(10) || 'lines"', null,
               '{release}'
        union all select 900002, 'agricultural_acquisition', 'Acquired, lot 7', null, '{release}'
    """)  # fmt: skip
    put("food_category", "select row_number() over (order by category) as id, '0000' as code, "
        "category as description from (select distinct category from s.food)")  # fmt: skip
    put("nutrient", "select nutrient_id as id, label as name, upper(unit) as unit_name, "
        "nutrient_nbr, '1' as rank from map where rank = '1' or nutrient in "
        "('ENERC_KCAL', 'FAT', 'SUGAR')")  # fmt: skip
    put("food_nutrient", f"""
        select f.fdc_id * 10000 + n.nutrient_id::integer as id, f.fdc_id,
               n.nutrient_id::integer as nutrient_id, {change} as amount,
               1 as data_points, 4 as derivation_id, null as min, null as max, null as median,
               null as footnote, null as min_year_acquired
        from f
        join (select food_id, nutrient, amount_per_100g as amount from s.food_nutrient) as v
            using (food_id)
        join (select nutrient, nutrient_id from map where rank = '1'
              {f"and nutrient in {nutrients}" if nutrients else ""}) as n using (nutrient)
        union all
        select 0, fdc_id, 2066, 1, 1, 4, null, null, null, 'no such nutrient, "listed"', null
        from f where kind = 'foundation' and fdc_id % 50 = 0
        union all
        select 0, fdc_id, 1009, null, null, 4, null, null, null, null, null
        from f where kind = 'foundation' and fdc_id % 70 = 0
        order by 2, 3  -- a food's nutrients stand together, as published
    """)  # fmt: skip
    for kind, name, extra in (
        ("foundation", "foundation_food", ", null as footnote"),
        ("sr_legacy", "sr_legacy_food", ""),
    ):
        if kind in kinds:
            put(name, f"select fdc_id, ltrim(source_code, '0') as NDB_number{extra} from f "
                f"where kind = '{kind}'")  # fmt: skip
    if "survey" in kinds:
        put("survey_fndds_food", "select fdc_id, '1' || source_code || '00' as food_code, "
            "null as wweia_category_number, '2021-01-01' as start_date, null as end_date "
            "from f where kind = 'survey'")  # fmt: skip
    if "branded" in kinds:
        put("branded_food", """
            select fdc_id, 'Invented Foods Ltd' as brand_owner, null as brand_name,
                   '9' || source_code || lpad(copy::varchar, 6, '0') as gtin_upc,
                   30 as serving_size, case when category = 'Beverages' then 'MLT' else 'g' end
                   as serving_size_unit, '2 Tbsp' as household_serving_fulltext,
                   category as branded_food_category
            from f where kind = 'branded'
        """)  # fmt: skip
    put("measure_unit", "select * from (values (1000, 'cup'), (1001, 'tablespoon'), "
        "(9999, 'undetermined')) as t(id, name)")  # fmt: skip
    put("food_portion", """
        select row_number() over () as id, fdc_id, seq as seq_num, amount,
               if(unit = 'cup', 1000, 9999) as measure_unit_id, null as portion_description,
               if(unit = 'cup', qualifier, concat_ws(', ', trim(size || ' ' || unit), nullif(qualifier, ''))) as modifier,
               grams as gram_weight, n as data_points, null as footnote, null as min_year_acquired
        from f join s.measure using (food_id)
        where kind in ('foundation', 'sr_legacy') and unit in ('cup', 'tbsp', 'slice', 'piece')
        union all
        select 0, fdc_id, seq, null, 9999, amount || ' ' || unit, '12345', grams, null, null, null
        from f join s.measure using (food_id) where kind = 'survey' and unit = 'cup'
        union all
        select 0, fdc_id, 9, null, 9999, 'Quantity not specified', '90000', 100, null, null, null
        from f where kind = 'survey'
    """)  # fmt: skip
    put("food_nutrient_conversion_factor", "select fdc_id + 5000000 as id, fdc_id from f "
        "where kind <> 'branded'")  # fmt: skip
    put("food_calorie_conversion_factor", "select fdc_id + 5000000 as "
        "food_nutrient_conversion_factor_id, protein_factor as protein_value, fat_factor as "
        "fat_value, carb_factor as carbohydrate_value from f where kind <> 'branded' "
        "and protein_factor is not null")  # fmt: skip
    put("food_protein_conversion_factor", "select fdc_id + 5000000 as "
        "food_nutrient_conversion_factor_id, nitrogen_factor as value from f "
        "where kind <> 'branded' and nitrogen_factor is not null")  # fmt: skip
    con.close()
    return folder


def zip_bundle(folder: Path, archive: Path) -> Path:
    """Pack a bundle as the publisher does: one folder of the archive's own name in it."""
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for path in sorted(folder.iterdir()):
            packed.write(path, f"{archive.stem}/{path.name}")
    return archive
