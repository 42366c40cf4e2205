-- compute_value.sql: what each counted line brings, per nutrient, and how unsure that is.
-- in      counted_line (compute_line.sql), doubted (compute_doubted.sql), match_doubt
--         nutrient_value(food, n, amount_per_100g, relative_se)
--         wanted(n, cap_n, cap_per_100g, energy_factor, is_energy)
-- out     one row per (line, n), for the whole recipe, in the nutrient's unit, with the line's recipe:
--         amount           null when the table has no value, never 0
--         shift            mean minus amount, where the range of grams is lopsided
--         var_grams, var_match, var_composition
--         kcal             energy of the line, the same in each of its rows
--         A missing value gets a one-sided spread: it lies between nothing and a part of what
--         could be there (fibre within carbohydrate, saturates within fat).
-- params  $missing_share: the part of the cap that is the 95 % point of a missing value; $z
with of_food as (                             -- per gram; once per food, whatever its lines are
    select
        known.food, wanted.n, wanted.energy_factor, wanted.is_energy,
        value.amount_per_100g / 100 as c,
        pow(value.relative_se * value.amount_per_100g / 100, 2) as own_sq,
        case when value.amount_per_100g is null
             then $missing_share * coalesce(cap.amount_per_100g, wanted.cap_per_100g) / 100 / $z end
             as missing
    from (select distinct food from counted_line where role = 'counted') as known
    cross join wanted
    left join nutrient_value as value on value.food = known.food and value.n = wanted.n
    left join nutrient_value as cap on cap.food = known.food and cap.n = wanted.cap_n
), energy as (                                -- it has no error of its own: it follows the macros
    select food, any_value(c) filter (where is_energy) as c,
           fsum(pow(energy_factor, 2) * own_sq) filter (where energy_factor <> 0) as own_sq
    from of_food
    group by food
), per_gram as (
    select of_food.food, of_food.n, of_food.c, of_food.c * of_food.c as c_sq, energy.c as kcal,
           sqrt(2 / pi()) * missing as missing,  -- one-sided
           (1 - 2 / pi()) * missing * missing as missing_sq,
           coalesce(case when is_energy then energy.own_sq else of_food.own_sq end, 0) as own_sq
    from of_food
    join energy using (food)
), asked as (
    select line.line, line.recipe, line.food, line.grams, line.grams * line.grams as grams_sq,
           sqrt(2 / pi()) * (sd_high_g - sd_low_g) as lopsided,
           (1 - 2 / pi()) * pow(sd_high_g - sd_low_g, 2) + sd_low_g * sd_high_g as var_g,
           doubted.doubt_id
    from counted_line as line
    left join doubted on doubted.text = line.text and doubted.food = line.food
    where line.role = 'counted'
)
select
    asked.line,
    asked.recipe,
    per_gram.n,
    grams * c as amount,
    coalesce(lopsided * c, grams * missing) as shift,
    coalesce(var_g * c_sq, grams_sq * missing_sq) as var_grams,
    coalesce(match_doubt.doubt_sq, 0) * grams_sq as var_match,
    own_sq * grams_sq as var_composition,
    grams * kcal as kcal
from asked
cross join wanted                             -- in the order of the lines, whatever stands beside them
join per_gram on per_gram.food = asked.food and per_gram.n = wanted.n
left join match_doubt on match_doubt.doubt_id = asked.doubt_id and match_doubt.n = per_gram.n
