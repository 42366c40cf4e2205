-- sql/prep_make.sql: how often each recipe is to be made, those that chosen ones use among them.
-- in      wanted(recipe_id, factor)                       times of the whole recipe to make
--         part(recipe_id, line_no, sub_recipe_id, share)  lines that are a share of another recipe
-- out     one row per recipe: factor in all, depth (0: chosen only; else how deep it is used)
-- note    opened level by level; rings were taken out before
with recursive used as (
    select recipe_id, factor, 0 as depth from wanted
    union all
    select part.sub_recipe_id, used.factor * part.share, used.depth + 1
    from used
    join part using (recipe_id)
    where used.depth < 20 and part.share is not null
)
select recipe_id, fsum(factor) as factor, max(depth) as depth
from used
group by recipe_id
order by depth desc, recipe_id
