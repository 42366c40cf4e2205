-- compute_sub_recipe.sql: what a line brings that uses another recipe of the collection.
-- in      recipe_use(line, recipe, sub, share, share_sd)   share of the other recipe's whole
--         total(recipe, n, amount, shift, variance)   totals of recipes done before
--         wanted(n, is_energy)
-- out     rows as compute_value.sql gives them
select
    recipe_use.line,
    recipe_use.recipe,
    total.n,
    recipe_use.share * total.amount as amount,
    recipe_use.share * total.shift as shift,
    pow(recipe_use.share_sd * coalesce(total.amount, 0), 2) as var_grams,
    pow(recipe_use.share, 2) * total.variance as var_match,
    0.0 as var_composition,
    recipe_use.share * energy.amount as kcal
from recipe_use
join total on total.recipe = recipe_use.sub
join total as energy
    on energy.recipe = recipe_use.sub and energy.n = (select n from wanted where is_energy)
