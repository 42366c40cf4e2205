-- compute_value.sql: what each counted line brings, per nutrient, and how unsure that is.
-- in      counted_line (compute_line.sql), match_doubt (compute_match_doubt.sql)
--         nutrient_value(food_id, nutrient, amount_per_100g, relative_se)
--         wanted(nutrient, cap_nutrient, cap_per_100g, energy_factor)
-- out     one row a (recipe_id, line_no, nutrient), for the whole recipe, in the nutrient's unit:
--         amount           null when the table has no value, never 0
--         shift            mean minus amount, where the range of grams is lopsided
--         var_grams, var_match, var_composition
--         A missing value gets a one-sided spread: it lies between nothing and a part of what
--         could be there (fibre within carbohydrate, saturates within fat).
-- params  $missing_share: the part of the cap that is the 95 % point of a missing value; $z
with per_gram as (
    select
        line.recipe_id, line.line_no, wanted.nutrient, wanted.energy_factor,
        line.grams, line.sd_low_g as s1, line.sd_high_g as s2,
        value.amount_per_100g / 100 as c,
        value.relative_se,
        coalesce(match_doubt.doubt_sq, 0) / 10000 as doubt_sq,
        case when value.amount_per_100g is null
             then coalesce(cap.amount_per_100g, wanted.cap_per_100g) / 100 end as cap
    from counted_line as line
    cross join wanted
    left join nutrient_value as value
        on value.food_id = line.food_id and value.nutrient = wanted.nutrient
    left join nutrient_value as cap
        on cap.food_id = line.food_id and cap.nutrient = wanted.cap_nutrient
    left join match_doubt
        on match_doubt.text = line.text and match_doubt.food_id = line.food_id
        and match_doubt.nutrient = wanted.nutrient
    where line.role = 'counted'
), spread as (
    select
        *,
        $missing_share * cap * grams / $z as s_missing,  -- one-sided, null when a value is there
        pow(relative_se * c * grams, 2) as var_own
    from per_gram
)
select
    recipe_id,
    line_no,
    nutrient,
    grams * c as amount,
    case when c is null then sqrt(2 / pi()) * s_missing
         else sqrt(2 / pi()) * (s2 - s1) * c end as shift,
    case when c is null then (1 - 2 / pi()) * pow(s_missing, 2)
         else ((1 - 2 / pi()) * pow(s2 - s1, 2) + s1 * s2) * pow(c, 2) end as var_grams,
    coalesce(doubt_sq * pow(grams, 2), 0) as var_match,
    -- energy has no error of its own: it follows protein, carbohydrate and fat
    coalesce(case when nutrient = 'ENERC_KCAL'
         then fsum(pow(energy_factor, 2) * var_own) over (partition by recipe_id, line_no)
         else var_own end, 0) as var_composition
from spread
