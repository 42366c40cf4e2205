-- compute_food_number.sql: foods and nutrients by number, so that joins compare numbers.
-- in      nutrient_value(food_id, nutrient, amount_per_100g, relative_se); wanted(n, nutrient)
--         runner_up: RUNNER_UP of pipeline/tables.py
-- out     food_number(food_id, food): foods with at least one value
--         food_value(food, n, amount_per_100g, relative_se): nutrient_value with the numbers
--         runner_up with the number of its food, null where it has no value
create or replace temp table food_number as
select food_id, (row_number() over ())::integer as food
from (select distinct food_id from nutrient_value);

create or replace temp table food_value as
select food_number.food, wanted.n, value.amount_per_100g, value.relative_se
from nutrient_value as value
join food_number using (food_id)
join wanted using (nutrient);

create or replace temp table runner_up as
select runner_up.*, food_number.food
from runner_up
left join food_number using (food_id)
where runner_up.food_id is not null
