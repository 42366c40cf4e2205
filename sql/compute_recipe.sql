-- compute_recipe.sql: servings, weight and coverage of each recipe.
-- in      recipe_in(recipe, servings, yield_g); counted_line; total; nutrient_value; wanted(n, is_energy)
-- out     one row per recipe: servings (null when not a positive number), weight_g with
--         weight_basis yield | summed | none, coverage of the energy, lines that name a food,
--         lines_unknown among them; salt_open: salt or something as salty is on a line without an
--         amount, so that the sodium of the whole is not known
-- params  $salty_mg: sodium per 100 g from which a food is taken for a salt
with line as (
    select
        recipe,
        fsum(grams) as grams,
        count(*) as lines,
        count(*) filter (where role in ('unmatched', 'unweighed', 'not_in_table')) as lines_unknown
    from counted_line
    group by recipe
), salted as (
    select distinct line.recipe
    from counted_line as line
    join nutrient_value as value
        on value.food = line.food and value.nutrient = 'NA'
        and value.amount_per_100g >= $salty_mg
    where line.basis = 'open'
)
select
    recipe_in.recipe,
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
    salted.recipe is not null as salt_open
from recipe_in
left join line using (recipe)
left join salted using (recipe)
left join total as energy
    on energy.recipe = recipe_in.recipe and energy.n = (select n from wanted where is_energy)
order by recipe_in.recipe
