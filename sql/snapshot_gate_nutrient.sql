-- sql/snapshot_gate_nutrient.sql: what the gate looks at, nutrient by nutrient.
-- in      food, food_nutrient, nutrient
-- out     one row a tagname in use
select
    food_nutrient.nutrient,
    any_value(nutrient.unit) as unit,
    count(*) as amounts,
    count(*) - count(distinct food_nutrient.food_id) as repeated,
    count(*) filter (where amount_per_100g < 0) as negative,
    count(*) filter (where not isfinite(amount_per_100g)) as not_finite,
    count(*) filter (where food.food_id is null) as of_no_food,
    max(amount_per_100g) as largest,
    fsum(amount_per_100g) / count(*) as mean
from food_nutrient
left join nutrient using (nutrient)
left join food using (food_id)
group by food_nutrient.nutrient
order by food_nutrient.nutrient
