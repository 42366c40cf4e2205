-- sql/bulk_join.sql: lines of some parts with what was read of their texts.
-- in      lines: bulk_lines of the parts wanted
--         $matched: one row per distinct text of the whole collection
-- out     one row per (recipe_id, line_no), without what read_uses.sql alone asks of a text; part is
--         said by the key the recipe goes by in this run
select
    line.recipe_id[1:6]::integer as part,
    line.recipe_id,
    line.line_no,
    line.section,
    line.source_line,
    line.part_of,
    matched.* exclude (name_key, dish, said_unit, said_amount, said_piece, said, known)
from ($lines) as line
join $matched as matched using (text)
