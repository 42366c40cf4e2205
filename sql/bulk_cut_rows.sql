-- sql/bulk_cut_rows.sql: rows that are recipes (wide tables, JSON lines); bulk_cut_parts.sql follows.
-- in      raw(row_no, c0, c1 ...): row_no from 0, in the order of the file
-- out     keyed, one row per row: row_no, source_line, recipe_no (place of the recipe);
--         recipe, one row per recipe: recipe_no, size in characters
-- params  $chars: characters of a row; $source_line: line of a row in the file;
--         $filled: whether a row holds anything (an empty one is no recipe)
with placed as (
    select
        raw.row_no,
        $source_line as source_line,
        ($chars)::hugeint + 1 as size,
        $filled as filled
    from raw
),
keyed as (
    select row_no, source_line, size, row_number() over (order by row_no) - 1 as recipe_no
    from placed
    where filled
),
recipe as (
    select recipe_no, size
    from keyed
),
