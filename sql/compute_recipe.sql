-- compute_recipe.sql: servings, weight and coverage of each recipe.
-- in      recipe_in(recipe_id, servings, yield_g); counted_line; total
-- out     one row a recipe_id: servings (null when not a positive number), weight_g with
--         weight_basis yield | summed | none, coverage of the energy, lines that name a food,
--         lines_unknown among them; salt_open: salt or something as salty is on a line without an
--         amount, so that the sodium of the whole is not known
-- params  $salty_mg: sodium per 100 g from which a food is taken for a salt
with line as (
    select
        recipe_id,
        fsum(grams) as grams,
        count(*) as lines,
        count(*) filter (where role in ('unmatched', 'unweighed', 'not_in_table')) as lines_unknown
    from counted_line
    group by recipe_id
), salted as (
    select distinct line.recipe_id
    from counted_line as line
    join nutrient_value as value
        on value.food_id = line.food_id and value.nutrient = 'NA'
        and value.amount_per_100g >= $salty_mg
    where line.basis = 'open'
)
select
    recipe_in.recipe_id,
    case when recipe_in.servings > 0 and isfinite(recipe_in.servings)
         then recipe_in.servings end as servings,
    case when recipe_in.yield_g > 0 then recipe_in.yield_g
         when line.grams > 0 then line.grams end as weight_g,
    line.grams as raw_weight_g,
    case when recipe_in.yield_g > 0 then 'yield'
         when line.grams > 0 then 'summed'
         else 'none' end as weight_basis,
    coalesce(energy.coverage, 0) as coverage,
    coalesce(line.lines, 0)::integer as lines,
    coalesce(line.lines_unknown, 0)::integer as lines_unknown,
    salted.recipe_id is not null as salt_open
from recipe_in
left join line using (recipe_id)
left join salted using (recipe_id)
left join total as energy
    on energy.recipe_id = recipe_in.recipe_id and energy.nutrient = 'ENERC_KCAL'
order by recipe_in.recipe_id
