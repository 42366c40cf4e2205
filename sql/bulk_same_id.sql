-- sql/bulk_same_id.sql: recipes whose id is wanted twice, and those a counter could collide with.
-- in      recipe(recipe_id, wanted, place, source, source_line)
-- out     one row per recipe concerned, in the order of the collection
with twice as (
    select wanted
    from recipe
    group by wanted
    having count(*) > 1
)
select recipe_id as key, wanted, place, source, source_line
from recipe
where wanted in (select wanted from twice)
    or regexp_replace(wanted, '(~[0-9]+)+$', '') in (select wanted from twice)
order by key
