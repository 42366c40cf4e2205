-- sql/snapshot_gate_nutrient.sql: what the gate looks at, nutrient by nutrient.
-- in      food, amount, nutrient
-- out     one row a tagname in use by foods that may be answers; repeated and of_no_food are counted among one food in
--         $one_in, everything else over all rows
-- params  $one_in: as in sql/snapshot_gate_food.sql
with total as (
    select
        nutrient_no,
        count(*) as amounts,
        count(*) filter (where amount_per_100g < 0) as negative,
        count(*) filter (where not isfinite(amount_per_100g)) as not_finite,
        max(amount_per_100g) as largest
    from amount
    anti join (from food where reference) as reference_food using (food_no)
    group by nutrient_no
),
drawn as (
    select nutrient_no, food_no
    from amount
    anti join (from food where reference) as reference_food using (food_no)
    where food_no % $one_in = 0
),
counted as (
    select
        nutrient_no,
        count(*) - count(distinct food_no) as repeated,
        count(*) filter (where food_no not in (select food_no from food)) as of_no_food
    from drawn
    group by nutrient_no
)
select
    coalesce(nutrient.nutrient, 'number ' || total.nutrient_no) as nutrient,
    nutrient.unit,
    total.amounts,
    coalesce(counted.repeated, 0) as repeated,
    total.negative,
    total.not_finite,
    coalesce(counted.of_no_food, 0) as of_no_food,
    total.largest
from total
left join counted using (nutrient_no)
left join nutrient using (nutrient_no)
order by nutrient
