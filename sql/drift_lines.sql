-- sql/drift_lines.sql: lines that mean another food, or weigh otherwise, under the other snapshot.
-- in      line_before, line_after(recipe_id, line_no, text, food_id, description, grams)
-- out     one row per (recipe_id, line_no) that differs
select
    recipe_id,
    line_no,
    line_after.text,
    line_before.food_id as food_before,
    line_before.description as description_before,
    line_after.food_id as food_after,
    line_after.description as description_after,
    line_before.grams as grams_before,
    line_after.grams as grams_after
from line_before
join line_after using (recipe_id, line_no)
where line_before.food_id is distinct from line_after.food_id
   or round(line_before.grams, 2) is distinct from round(line_after.grams, 2)
order by recipe_id, line_no
