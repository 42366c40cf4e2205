-- sql/snapshot_gate_measure.sql: what the gate looks at, measure by measure.
-- in      measure, food
-- out     one row a (food_id, seq); mass_ratio: grams against what the unit itself weighs, for
--         measures that are masses ("3 oz") of the food as it is, else null
-- params  $limit: at most so many rows at random, and every row that breaks a hard range
with looked_at as (
    select
        measure.food_id,
        seq,
        measure.food_id || ' #' || seq as measure_id,
        amount,
        unit,
        qualifier,
        grams,
        case
            when regexp_matches(qualifier, 'bone|yield|refuse|cooked|prepared|dry|raw|shell')
                then null
            else grams / (amount * case unit
                when 'oz' then 28.349523125 when 'lb' then 453.59237 when 'g' then 1
                when 'kg' then 1000 end)
        end as mass_ratio,
        food.food_id is null as of_no_food,
        row_number() over (order by hash(measure.food_id), seq) as drawn
    from measure
    left join food using (food_id)
)
select * exclude (drawn)
from looked_at
where drawn <= $limit or not (amount > 0 and grams > 0 and grams < 50000) or of_no_food
order by food_id, seq
