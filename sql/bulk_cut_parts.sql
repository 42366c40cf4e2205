-- sql/bulk_cut_parts.sql: recipes shared out among parts; it follows bulk_cut_rows or bulk_cut_tidy.
-- in      keyed(row_no, source_line, recipe_no), recipe(recipe_no, size), raw
-- out     one row per row: part, recipe_no, source_line, row_no, the cells
-- params  $recipes_a_part, $size_a_part: as many parts as either asks for, an even number of them
--         so that two workers end together, and all alike: half by recipes, half by size;
--         $first: number of the first part; $columns: the cells
placed_recipe as (
    select *, sum(size) over (order by recipe_no) - size as before
    from recipe
),
whole as (
    select
        count(*)::hugeint as recipes,
        sum(size) as size,
        ceil(greatest(count(*) / $recipes_a_part, sum(size) / $size_a_part))::hugeint as parts
    from recipe
),
parted as (
    select
        recipe_no,
        dense_rank() over (
            order by (recipe_no * whole.size + before * recipes)
                * if(parts > 1, parts + parts % 2, 1) // (2 * recipes * whole.size)
        ) - 1 + $first as part
    from placed_recipe, whole
)
select parted.part, parted.recipe_no, keyed.source_line, raw.row_no, $columns
from keyed
join parted using (recipe_no)
join raw using (row_no)
order by parted.part, raw.row_no
