-- compute_convention.sql: values per 100 g in the collection's convention of energy and carbohydrate.
-- in      nutrient_value (compute_nutrient_value.sql), as the table has them
--         pantry(food_id)   labels: their numbers are the maker's, and stay
-- out     nutrient_value, the same rows: CHOCDF without fibre where carbohydrate is 'available';
--         ENERC_KCAL by general factors where energy is 'eu' or 'atwater' and the macros are there.
--         Fibre that the table lacks takes nothing away
-- params  $energy: table | eu | atwater; $available: true for carbohydrate without fibre
--         $protein, $carbs, $fat, $alcohol, $fibre: kcal per g (shared/energy_factors.csv)
create or replace temp table nutrient_value as
with wide as (
    select
        food_id,
        any_value(amount_per_100g) filter (where nutrient = 'PROCNT') as protein,
        any_value(amount_per_100g) filter (where nutrient = 'CHOCDF') as total,
        any_value(amount_per_100g) filter (where nutrient = 'FAT') as fat,
        coalesce(any_value(amount_per_100g) filter (where nutrient = 'FIBTG'), 0) as fibre,
        coalesce(any_value(amount_per_100g) filter (where nutrient = 'ALC'), 0) as alcohol
    from nutrient_value
    where food_id not in (select food_id from pantry)
    group by food_id
), food as (
    -- greatest() passes over null, and what is not known is not nought
    select *, total - least(fibre, total) as available from wide where total is not null
)
select value.* replace (
    coalesce(case
        when value.nutrient = 'CHOCDF' and $available then available
        when value.nutrient = 'ENERC_KCAL' and $energy = 'eu' then
            $protein * protein + $carbs * available + $fat * fat
            + $fibre * fibre + $alcohol * alcohol
        when value.nutrient = 'ENERC_KCAL' and $energy = 'atwater' then
            $protein * protein + $fat * fat + $alcohol * alcohol
            + $carbs * case when $available then available else total end
    end, value.amount_per_100g) as amount_per_100g
)
from nutrient_value as value
left join food using (food_id)
