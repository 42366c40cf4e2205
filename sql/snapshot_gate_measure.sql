-- sql/snapshot_gate_measure.sql: what the gate looks at, measure by measure.
-- in      measure, food
-- out     one row a (food_id, seq); mass_ratio: grams against what the unit itself weighs, for
--         measures that are masses ("3 oz") of the food as it is, else null
-- params  $one_in: measures of one food in so many, and every one that breaks a hard range
with picked as (
    select *
    from measure
    where hash(food_id) % $one_in = 0
       or not (amount > 0 and grams > 0 and grams < 50000)
)
select
    picked.food_id,
    seq,
    picked.food_id || ' #' || seq as measure_id,
    amount,
    unit,
    qualifier,
    grams,
    case
        when regexp_matches(qualifier, 'bone|yield|refuse|cooked|prepared|dry|raw|shell') then null
        else grams / (amount * case unit
            when 'oz' then 28.349523125 when 'lb' then 453.59237 when 'g' then 1
            when 'kg' then 1000 end)
    end as mass_ratio,
    food.food_id is null as of_no_food
from picked
left join (select distinct food_id from food semi join picked using (food_id)) as food
    using (food_id)
order by picked.food_id, seq
