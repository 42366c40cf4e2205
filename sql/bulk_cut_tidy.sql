-- sql/bulk_cut_tidy.sql: rows that are lines of a recipe; bulk_cut_parts.sql follows.
-- A row that leaves id and title empty belongs to the recipe above it; rows of one recipe may
-- stand apart. Recipes keep the order of their first rows.
-- in      raw(row_no, c0, c1 ...): row_no from 0, in the order of the file
-- out     keyed, one row per row: row_no, source_line, recipe_no;
--         recipe, one row per recipe: recipe_no, size in lines
-- params  $key: the recipe a row names, NULL for none; $source_line: line of a row in the file
with named as (
    select raw.row_no, $source_line as source_line, $key as own_key
    from raw
),
owned as (
    select
        row_no,
        source_line,
        coalesce(own_key, last_value(own_key ignore nulls) over (order by row_no), '') as key
    from named
),
numbered as (
    select key, row_number() over (order by min(row_no)) - 1 as recipe_no, count(*) as lines
    from owned
    group by key
),
keyed as (
    select owned.row_no, owned.source_line, numbered.recipe_no
    from owned
    join numbered using (key)
),
recipe as (
    select recipe_no, lines::hugeint as size
    from numbered
),
