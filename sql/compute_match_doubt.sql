-- compute_match_doubt.sql: how far the runners-up of a match lie from the chosen food.
-- in      counted_line   lines of role counted (compute_line.sql)
--         runner_up      RUNNER_UP of pipeline/tables.py
--         nutrient_value(food_id, nutrient, amount_per_100g, ...)
-- out     one row a (text, food_id, nutrient): doubt_sq, the mean square of the difference from
--         the chosen food, per 100 g squared; the belief not given to any runner-up is spread
--         around the chosen food
--         around the chosen food. Kinds that the words leave open are apart from that belief: the
--         match may be certain and the kind unsaid.
--         A food that is wrong less often than a 90 % range leaves out on one side does not widen
--         it; one that is wrong as often as it leaves out altogether does in full
-- params  $other_food_cv: relative spread of "some other food than those named"
--         $rare, $common: doubt up to which a match widens nothing, and from which it does in full
with chosen as (
    select distinct text, food_id, 1 - confidence as doubt
    from counted_line
    where role = 'counted' and (confidence < 1 or text in (select text from runner_up where left_open > 0))
), other as (
    select chosen.text, chosen.food_id, chosen.doubt, runner_up.food_id as other_id,
           greatest(runner_up.probability, 0) as p, coalesce(runner_up.left_open, 0) as left_open,
           sum(greatest(runner_up.probability, 0))
               over (partition by chosen.text, chosen.food_id) as p_all
    from chosen
    join runner_up on runner_up.text = chosen.text and runner_up.food_id <> chosen.food_id
), difference as (
    select other.text, other.food_id, mine.nutrient, other.left_open,
           -- runners-up never take more belief than the match itself leaves open
           other.p * least(1, other.doubt / nullif(other.p_all, 0)) as p,
           theirs.amount_per_100g - mine.amount_per_100g as d
    from other
    join nutrient_value as mine on mine.food_id = other.food_id
    join nutrient_value as theirs
        on theirs.food_id = other.other_id and theirs.nutrient = mine.nutrient
), named as (
    select text, food_id, nutrient, fsum(p * d * d) as doubt_sq, fsum(p) as p_named,
           fsum(left_open * d * d) as open_sq
    from difference
    group by text, food_id, nutrient
)
select
    chosen.text,
    chosen.food_id,
    value.nutrient,
    coalesce(named.open_sq, 0)
        + least(greatest((chosen.doubt - $rare) / ($common - $rare), 0), 1) * (
        coalesce(named.doubt_sq, 0)
        + greatest(chosen.doubt - coalesce(named.p_named, 0), 0)
        * pow($other_food_cv * value.amount_per_100g, 2)) as doubt_sq
from chosen
join nutrient_value as value on value.food_id = chosen.food_id
left join named
    on named.text = chosen.text and named.food_id = chosen.food_id
    and named.nutrient = value.nutrient
