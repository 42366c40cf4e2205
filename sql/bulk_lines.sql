-- sql/bulk_lines.sql: written lines, and a row for each food of those that hold several; as
-- pipeline/lines/split.py makes them.
-- in      $line: line(recipe_id, line_no, section, text, source_line), recipes whole
--         $part: part(text, no, part)
-- out     the lines with part_of, NULL on written ones; added rows are numbered after the last line
--         of their recipe
with written as not materialized (
    select * from $line
),
added as (
    select written.*, held.part, row_number() over (
        partition by recipe_id order by written.line_no, held.no
    ) as place
    from written
    join $part as held using (text)
),
last as (
    select recipe_id, max(line_no) as line_no
    from written
    where recipe_id in (select recipe_id from added)
    group by recipe_id
)
select *, null::integer as part_of from written
union all
select added.* exclude (part, place)
        replace (part as text, (last.line_no + place)::integer as line_no),
    added.line_no as part_of
from added
join last using (recipe_id)
