-- sql/bulk_biggest.sql: the recipes whose stated numbers are farthest from what their lines add up to.
-- in      $recipes, $findings, $explanations: results of every part
-- out     one row per recipe, at most $most, the largest first: its worst number and likeliest slip
with sized as (
    select
        recipe_id, nutrient, stated, computed,
        abs(difference) / greatest(abs(stated), 1) as size
    from $findings
    where verdict in ('disagrees', 'uncertain') and isfinite(difference)
),
worst as (
    select recipe_id, arg_max(nutrient, (size, nutrient)) as nutrient,
           arg_max(stated, (size, nutrient)) as stated,
           arg_max(computed, (size, nutrient)) as computed, max(size) as size
    from sized
    group by recipe_id
),
listed as (
    select recipe.recipe_id, recipe.title, recipe.source, recipe.verdict, worst.* exclude (recipe_id)
    from $recipes as recipe
    join worst using (recipe_id)
    where recipe.verdict in ('disagrees', 'uncertain')
    order by recipe.verdict = 'disagrees' desc, worst.size desc, recipe.recipe_id
    limit $most
)
select listed.* exclude (size), coalesce(slip.detail, '') as explanation
from listed
left join (select recipe_id, detail from $explanations where rank = 1) as slip using (recipe_id)
order by listed.verdict = 'disagrees' desc, listed.size desc, listed.recipe_id
