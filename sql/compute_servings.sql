-- compute_servings.sql: which reading of the servings fits the stated energy, where words leave it
-- open.
-- in      reading(recipe_id, rank, servings, serving_word, serving_g, belief, how, basis): servings
--         null where the words count none; with serving_g they are the weight of the dish over it;
--         basis per_recipe where the numbers are for the whole by this reading
--         stated_in(recipe_id, nutrient, amount, basis)
--         energy(recipe_id, amount, low, high, coverage): kcal of the whole recipe
--         weight(recipe_id, weight_g): of the dish
-- out     one row per recipe_id with more than one reading, or one by weight: rank, servings,
--         serving_word, how, basis, readings (how many for a serving), per_serving_kcal (of the reading), stated_kcal
--         (null when none is stated per serving), other_servings, other_kcal (the next best one)
-- params  $z; $least_coverage: below it the energy does not decide
--         $close_sd, $wide_sd, $close_share: of recipes whose servings are right, the share
--         $close_share has ln(computed / stated) spread by $close_sd, the others by $wide_sd
--         $uncounted: density of that logarithm where the words count no servings
with counted as (
    select
        reading.recipe_id,
        reading.rank,
        -- the words may say the number and the weight of a serving too: the number wins
        coalesce(reading.servings, weight.weight_g / nullif(reading.serving_g, 0)) as servings,
        reading.serving_word,
        reading.how,
        reading.belief,
        reading.basis,
        case when reading.basis = 'per_recipe' then 1 else coalesce(
            reading.servings, weight.weight_g / nullif(reading.serving_g, 0)
        ) end as divisor
    from reading
    left join weight using (recipe_id)
), said as (
    select recipe_id, any_value(amount) as kcal
    from stated_in
    where nutrient = 'ENERC_KCAL' and basis = 'per_serving' and amount > 0
    group by recipe_id
), beside as (
    select
        counted.*,
        said.kcal as stated_kcal,
        energy.amount / counted.divisor as kcal,
        ln(energy.amount / counted.divisor / said.kcal) as off,
        pow((energy.high - energy.low) / 2 / $z / energy.amount, 2) as spread,
        said.kcal is not null and energy.amount > 0 and energy.coverage >= $least_coverage as decides
    from counted
    left join said using (recipe_id)
    left join energy using (recipe_id)
), scored as (
    select
        *,
        belief * case
            when not coalesce(decides, false) then 1
            when servings is null then $uncounted
            else $close_share / sqrt(2 * pi() * (pow($close_sd, 2) + spread))
                     * exp(-off * off / 2 / (pow($close_sd, 2) + spread))
                 + (1 - $close_share) / sqrt(2 * pi() * (pow($wide_sd, 2) + spread))
                     * exp(-off * off / 2 / (pow($wide_sd, 2) + spread))
        end as score
    from beside
), placed as (
    select
        *,
        row_number() over (partition by recipe_id order by score desc, rank) as place,
        count(*) filter (basis <> 'per_recipe') over (partition by recipe_id) as readings
    from scored
)
select
    best.recipe_id,
    best.rank,
    best.servings,
    best.serving_word,
    best.how,
    best.basis,
    best.readings,
    case when best.decides then best.kcal end as per_serving_kcal,
    case when best.decides then best.stated_kcal end as stated_kcal,
    other.servings as other_servings,
    case when best.decides then other.kcal end as other_kcal
from placed as best
left join placed as other on other.recipe_id = best.recipe_id and other.place = 2
where best.place = 1
order by best.recipe_id
