-- compute_every_total.sql: the totals of every recipe, those without a counted line among them.
-- in      recipe_in(recipe, servings, yield_g); wanted(n); total (compute_total.sql)
-- out     one row per (recipe, n): amount, low, high (null when no line counts), coverage,
--         lines_left_out, shift, variance, rough
select recipe_in.recipe, wanted.n, total.amount, total.low, total.high,
       coalesce(total.coverage, 0) as coverage,
       coalesce(total.lines_left_out, 0)::integer as lines_left_out,
       coalesce(total.shift, 0) as shift,
       coalesce(total.variance, 0) as variance,
       coalesce(total.rough, 0) as rough
from recipe_in
cross join wanted
left join total on total.recipe = recipe_in.recipe and total.n = wanted.n
order by recipe_in.recipe, wanted.n
