-- compute_match_doubt.sql: how far the runners-up of a match lie from the chosen food.
-- in      doubted(doubt_id, text, food, doubt)   compute_doubted.sql
--         runner_up(text, food, probability, left_open)   RUNNER_UP of pipeline/tables.py by numbers
--         nutrient_value(food, n, amount_per_100g, ...)
-- out     one row per (doubt_id, n) that is unsure: doubt_sq, the mean square of the difference from
--         the chosen food, per gram squared; the belief not given to any runner-up is spread
--         around the chosen food. Kinds that the words leave open are apart from that belief: the
--         match may be certain and the kind unsaid.
--         Foods so far off, or farther, that the line means less often than $rare do not widen it;
--         those meant as often as $common do in full
-- params  $other_food_cv: relative spread of "some other food than those named"
--         $rare, $common: belief up to which foods widen nothing, and from which they do in full
with other as (                               -- of a match that a doubt widens, or a kind left open
    select doubted.doubt_id, doubted.food, doubted.doubt, runner_up.food as other,
           greatest(runner_up.probability, 0) as p, coalesce(runner_up.left_open, 0) as left_open
    from runner_up
    join doubted on doubted.text = runner_up.text and doubted.food <> runner_up.food
), believed as (
    select doubt_id, fsum(p order by p, other) as p_all
    from other
    group by doubt_id
), difference as (
    select other.doubt_id, mine.n, other.other, other.left_open,
           -- runners-up never take more belief than the match itself leaves open
           other.p * least(1, other.doubt / nullif(believed.p_all, 0)) as p,
           theirs.amount_per_100g - mine.amount_per_100g as d
    from other
    join believed using (doubt_id)
    join nutrient_value as mine on mine.food = other.food
    join nutrient_value as theirs on theirs.food = other.other and theirs.n = mine.n
    where other.doubt > $rare or other.left_open > 0
), so_far as (                               -- belief in foods at least as far from the chosen one
    select *, fsum(p) over (partition by doubt_id, n order by abs(d) desc, p
                            rows between unbounded preceding and current row) as belief
    from difference
), named as (
    select doubt_id, n, fsum(p) as p_named, fsum(left_open * d * d) as open_sq,
           fsum(p * d * d * least(greatest((belief - $rare) / ($common - $rare), 0), 1)) as doubt_sq
    from (from so_far order by doubt_id, n, abs(d), p)  -- added up in this order
    group by doubt_id, n
)
select
    doubted.doubt_id,
    value.n,
    (coalesce(named.open_sq, 0)
        + coalesce(named.doubt_sq, 0)
        + least(greatest((doubted.doubt - $rare) / ($common - $rare), 0), 1)
        * greatest(doubted.doubt - coalesce(named.p_named, 0), 0)
        * pow($other_food_cv * value.amount_per_100g, 2)) / 10000 as doubt_sq
from doubted
join nutrient_value as value on value.food = doubted.food
left join named on named.doubt_id = doubted.doubt_id and named.n = value.n
where doubted.doubt > $rare or named.open_sq > 0
