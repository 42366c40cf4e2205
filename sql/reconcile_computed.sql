-- reconcile_computed.sql: the computed totals, with net carbohydrate beside the total.
-- in      computed_frame   COMPUTED of pipeline/tables.py
-- out     computed_in(recipe_id, nutrient, amount, low, high, coverage)
-- params  $net: tagname of net carbohydrate (carbohydrate by difference less fibre)
--         $available: true when the carbohydrate given is without fibre already
create or replace temp table computed_in as
with given as (
    select recipe_id::varchar as recipe_id, nutrient::varchar as nutrient,
           amount::double as amount, low::double as low, high::double as high,
           coverage::double as coverage
    from computed_frame
)
select * from given
union all
select
    carbs.recipe_id,
    $net,
    greatest(carbs.amount - fibre.amount, 0),
    greatest(carbs.amount - fibre.amount
        - sqrt(pow(carbs.amount - carbs.low, 2) + pow(fibre.high - fibre.amount, 2)), 0),
    greatest(carbs.amount - fibre.amount, 0)
        + sqrt(pow(carbs.high - carbs.amount, 2) + pow(fibre.amount - fibre.low, 2)),
    least(carbs.coverage, fibre.coverage)
from given as carbs
join given as fibre on fibre.recipe_id = carbs.recipe_id and fibre.nutrient = 'FIBTG'
where carbs.nutrient = 'CHOCDF' and not $available and carbs.amount is not null
    and fibre.amount is not null
union all
select recipe_id, $net, amount, low, high, coverage
from given
where nutrient = 'CHOCDF' and $available
