-- sql/bulk_cut_rows.sql: rows that are recipes (wide tables, JSON lines); bulk_cut_parts.sql follows.
-- in      raw(row_no, c0, c1 ...): row_no from 0, in the order of the file
-- out     keyed, one row a row: row_no, source_line, recipe_no (place of the recipe), by_size
-- params  $chars, $chars_a_part: characters of a row, and at most of a part;
--         $filled: whether a row holds anything (an empty one is no recipe);
--         $source_line: line of a row in the file
with placed as (
    select
        raw.row_no,
        $source_line as source_line,
        sum($chars) over (order by raw.row_no) // $chars_a_part as by_size,
        $filled as filled
    from raw
),
keyed as (
    select row_no, source_line, row_number() over (order by row_no) - 1 as recipe_no, by_size
    from placed
    where filled
)
