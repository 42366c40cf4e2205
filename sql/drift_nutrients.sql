-- sql/drift_nutrients.sql: how a new snapshot's amounts stand against another's, by nutrient.
-- in      food_nutrient (the new one); attached as before: the same table of the other
-- out     one row per nutrient of both: amounts_ratio, new rows per old row of the foods that both
--         tables have; median_ratio of the amounts; moved_share, how many foods change by more
--         than 25 % and by more than 1 unit
-- params  $one_in: look at one food in so many; 1 for all
with both_foods as (
    select food_id
    from food
    where hash(food_id) % $one_in = 0 and not reference
    intersect
    select food_id from before.food where not reference
),
old as (
    select food_id, nutrient, amount_per_100g as old_amount
    from before.food_nutrient
    join both_foods using (food_id)
    where derivation = ''
),
new as (
    select food_id, nutrient, amount_per_100g as new_amount
    from food_nutrient
    join both_foods using (food_id)
    where derivation = ''
)
select
    nutrient,
    count(old_amount) as foods_before,
    count(new_amount) as foods_now,
    count(new_amount) / nullif(count(old_amount), 0) as amounts_ratio,
    median(new_amount / old_amount) filter (where old_amount > 0) as median_ratio,
    (count(*) filter (
        where abs(new_amount - old_amount) > greatest(0.25 * old_amount, 1)
    )) / nullif(count(*) filter (where old_amount is not null and new_amount is not null), 0)
        as moved_share
from old
full join new using (food_id, nutrient)
group by nutrient
having count(old_amount) >= 20
order by nutrient
