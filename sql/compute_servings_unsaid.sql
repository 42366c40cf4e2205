-- compute_servings_unsaid.sql: how many servings make every stated number follow from the lines,
-- for recipes that say nothing of what they make.
-- in      unsaid(recipe_id)
--         told(recipe_id, servings): counts that its texts name, of anything
--         total_in(recipe_id, nutrient, amount, coverage): of the whole recipe
--         stated_in(recipe_id, nutrient, amount, basis)
-- out     one row per recipe_id for which there is such a number: servings (the one that is nearest)
-- params  $nutrients: those that have to follow; $most: servings tried, from 1, beside those told
--         $off, $least: share of a number, and amount, by which the sum may miss it
--         $enough: numbers that have to follow unless the whole is one serving
--         $least_coverage: below it nothing is told; $available: carbohydrate is without fibre already,
--         else it may be stated so
with tried as (
    select recipe_id, unnest(range(1, $most + 1))::double as servings from unsaid
    union
    select recipe_id, servings from told
), compared as (
    select
        said.recipe_id,
        count.servings,
        total.amount / count.servings as per_serving,
        case when said.nutrient = 'CHOCDF' and not $available
             then (total.amount - coalesce(fibre.amount, 0)) / count.servings end as without_fibre,
        said.amount as stated
    from unsaid
    join stated_in as said using (recipe_id)
    join total_in as total on total.recipe_id = said.recipe_id and total.nutrient = said.nutrient
    left join total_in as fibre
        on fibre.recipe_id = said.recipe_id and fibre.nutrient = 'FIBTG'
    join tried as count on count.recipe_id = said.recipe_id
    where said.basis = 'per_serving' and list_contains($nutrients, said.nutrient)
        and total.coverage >= $least_coverage
), missed as (  -- as total or as net carbohydrate, whichever is nearer
    select *, least(abs(per_serving - stated), abs(without_fibre - stated)) as miss from compared
), fitted as (
    select
        recipe_id,
        servings,
        count(*) as numbers,
        bool_and(miss <= $off * stated + $least) as follows,
        avg(miss / (stated + $least)) as off
    from missed
    group by recipe_id, servings
)
select recipe_id, arg_min(servings, off)::double as servings
from fitted
where follows and (numbers >= $enough or servings = 1)
group by recipe_id
order by recipe_id
