-- compute_value.sql: what each counted line brings, per nutrient, and how unsure that is.
-- in      counted_line (compute_line.sql), doubted (compute_doubted.sql), match_doubt
--         food_value(food, n, amount_per_100g, relative_se)
--         wanted(n, cap_n, cap_per_100g, energy_factor, is_energy)
-- out     one row a (line, n), for the whole recipe, in the nutrient's unit:
--         amount           null when the table has no value, never 0
--         shift            mean minus amount, where the range of grams is lopsided
--         var_grams, var_match, var_composition
--         A missing value gets a one-sided spread: it lies between nothing and a part of what
--         could be there (fibre within carbohydrate, saturates within fat).
-- params  $missing_share: the part of the cap that is the 95 % point of a missing value; $z
with of_food as (                             -- once a food, whatever number of lines it has
    select
        known.food, wanted.n, wanted.energy_factor, wanted.is_energy,
        value.amount_per_100g / 100 as c,
        value.relative_se,
        case when value.amount_per_100g is null
             then coalesce(cap.amount_per_100g, wanted.cap_per_100g) / 100 end as cap
    from (select distinct food from counted_line where role = 'counted') as known
    cross join wanted
    left join food_value as value on value.food = known.food and value.n = wanted.n
    left join food_value as cap on cap.food = known.food and cap.n = wanted.cap_n
), asked as (
    select line.line, line.food, line.grams, line.sd_low_g as s1, line.sd_high_g as s2,
           doubted.doubt_id
    from counted_line as line
    left join doubted on doubted.text = line.text and doubted.food = line.food
    where line.role = 'counted'
), per_gram as (
    select
        asked.line, of_food.n, of_food.energy_factor, of_food.is_energy,
        asked.grams, asked.s1, asked.s2, of_food.c, of_food.cap,
        pow(of_food.relative_se * of_food.c * asked.grams, 2) as var_own,
        coalesce(match_doubt.doubt_sq, 0) / 10000 as doubt_sq,
        $missing_share * of_food.cap * asked.grams / $z as s_missing  -- one-sided
    from asked
    join of_food using (food)
    left join match_doubt on match_doubt.doubt_id = asked.doubt_id and match_doubt.n = of_food.n
), energy as (                                -- it has no error of its own: it follows the macros
    select line, fsum(pow(energy_factor, 2) * var_own) as variance
    from per_gram
    where energy_factor <> 0
    group by line
)
select
    line,
    n,
    grams * c as amount,
    case when c is null then sqrt(2 / pi()) * s_missing
         else sqrt(2 / pi()) * (s2 - s1) * c end as shift,
    case when c is null then (1 - 2 / pi()) * pow(s_missing, 2)
         else ((1 - 2 / pi()) * pow(s2 - s1, 2) + s1 * s2) * pow(c, 2) end as var_grams,
    coalesce(doubt_sq * pow(grams, 2), 0) as var_match,
    coalesce(case when is_energy then energy.variance else var_own end, 0) as var_composition
from per_gram
left join energy using (line)
