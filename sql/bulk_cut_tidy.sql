-- sql/bulk_cut_tidy.sql: rows that are ingredient lines, gathered by recipe and cut into parts.
-- A row that leaves id and title empty belongs to the recipe above it; rows of one recipe may
-- stand apart. Recipes keep the order of their first rows.
-- in      raw(row_no, c0, c1 ...): row_no from 0, in the order of the file
-- out     one row a row: part, recipe_no, source_line, row_no, the cells
-- params  $key: the recipe a row names, NULL for none; $recipes_a_part, $lines_a_part: as many
--         parts as either asks for, an even number of them so that two workers end together, and
--         all alike: half by recipes, half by lines; $above: line of the first row; $breaks: line
--         breaks in the cells; $first: number of the first part
with named as (
    select
        raw.row_no,
        raw.row_no + $above
            + coalesce(sum($breaks) over (order by raw.row_no rows between unbounded preceding
                                          and 1 preceding), 0)::bigint as source_line,
        $key as own_key
    from raw
),
keyed as (
    select
        row_no,
        source_line,
        coalesce(own_key, last_value(own_key ignore nulls) over (order by row_no), '') as key
    from named
),
recipe as (
    select key, min(row_no) as first_row, count(*) as lines
    from keyed
    group by key
),
numbered as (
    select
        key,
        row_number() over (order by first_row) - 1 as recipe_no,
        lines::hugeint as lines,
        sum(lines) over (order by first_row) - lines as before
    from recipe
),
whole as (
    select
        count(*)::hugeint as recipes,
        sum(lines) as lines,
        ceil(greatest(count(*) / $recipes_a_part, sum(lines) / $lines_a_part))::hugeint as parts
    from numbered
),
parted as (
    select
        key,
        recipe_no,
        dense_rank() over (
            order by (recipe_no * whole.lines + before * recipes)
                * if(parts > 1, parts + parts % 2, 1) // (2 * recipes * whole.lines)
        ) - 1 + $first as part
    from numbered, whole
)
select parted.part, parted.recipe_no, keyed.source_line, raw.row_no, $columns
from keyed
join parted using (key)
join raw using (row_no)
order by parted.part, raw.row_no
