-- compute_sub_recipe.sql: what a line brings that uses another recipe of the collection.
-- in      recipe_use(recipe_id, line_no, sub_id, share, share_sd)   share of the other recipe's whole
--         counted_line (compute_line.sql)
--         total(recipe_id, n, amount, shift, variance, rough)   totals of recipes done before
-- out     rows as compute_value.sql gives them
select
    line.line,
    total.n,
    recipe_use.share * total.amount as amount,
    recipe_use.share * total.shift as shift,
    pow(recipe_use.share_sd * coalesce(total.amount, 0), 2) as var_grams,
    pow(recipe_use.share, 2) * total.variance as var_match,
    0.0 as var_composition
from recipe_use
join counted_line as line using (recipe_id, line_no)
join total on total.recipe_id = recipe_use.sub_id
