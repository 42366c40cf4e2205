-- sql/bulk_cut_parts.sql: the end of bulk_cut_rows.sql and bulk_cut_tidy.sql: recipes cut into parts.
-- in      keyed(row_no, source_line, recipe_no, by_size); raw(row_no, c0, c1 ...)
-- out     one row a row: part, recipe_no, source_line, row_no, the cells
-- params  $recipes_a_part: a part ends there, or where by_size grows; $first: first part
select
    dense_rank() over (order by recipe_no // $recipes_a_part, by_size) - 1 + $first as part,
    keyed.recipe_no,
    keyed.source_line,
    raw.row_no,
    $columns
from keyed
join raw using (row_no)
order by part, raw.row_no
