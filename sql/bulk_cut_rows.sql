-- sql/bulk_cut_rows.sql: rows that are recipes (wide tables, JSON lines), cut into parts.
-- in      raw(row_no, c0, c1 ...): row_no from 0, in the order of the file
-- out     one row a row: part, recipe_no (place of the recipe), source_line, row_no, the cells
-- params  $recipes_a_part, $chars_a_part: as many parts as either asks for, an even number of
--         them so that two workers end together, and all alike: half by recipes, half by size;
--         $filled: whether a row holds anything (an empty one is no recipe);
--         $above: line of the first row; $breaks: line breaks in the cells; $first: first part
with placed as (
    select
        raw.row_no,
        raw.row_no + $above
            + coalesce(sum($breaks) over (order by raw.row_no rows between unbounded preceding
                                          and 1 preceding), 0)::bigint as source_line,
        ($chars)::hugeint + 1 as size,
        $filled as filled
    from raw
),
counted as (
    select
        *,
        row_number() over (order by row_no) - 1 as recipe_no,
        sum(size) over (order by row_no) - size as before
    from placed
    where filled
),
whole as (
    select
        count(*)::hugeint as recipes,
        sum(size) as size,
        ceil(greatest(count(*) / $recipes_a_part, sum(size) / $chars_a_part))::hugeint as parts
    from counted
),
numbered as (
    select
        row_no,
        recipe_no,
        source_line,
        dense_rank() over (
            order by (recipe_no * whole.size + before * recipes)
                * if(parts > 1, parts + parts % 2, 1) // (2 * recipes * whole.size)
        ) - 1 + $first as part
    from counted, whole
)
select numbered.part, numbered.recipe_no, numbered.source_line, raw.row_no, $columns
from numbered
join raw using (row_no)
order by numbered.part, raw.row_no
