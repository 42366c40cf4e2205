-- compute_total.sql: what each recipe adds up to, per nutrient, with its 90 % range.
-- in      counted_line (compute_line.sql); line_value (compute_value.sql, compute_sub_recipe.sql)
--         wanted(n, nutrient, energy_factor, is_energy)
-- out     one row a (recipe_id, n) with the nutrient's tagname, for the whole recipe:
--         amount    sum of the known lines; null when no line counts
--         shift     mean of the distribution minus amount
--         variance  of independent lines
--         low, high 90 % range
--         coverage  0-1: energy of the lines known, over that plus a rough estimate of the others
--         rough     that estimate, in the nutrient's unit
--         lines_left_out  lines that name a food and bring no value
-- params  $z; $kcal_per_g: energy of a line of unknown food whose weight can be guessed
--         $line_kcal: energy of a line of which nothing is known, when no other line is known
--         $made_of_sd: spread of a macro's share in the energy of a line of unknown food
with line_kcal as (
    select line.line, line.recipe_id, line.rough_g, energy.amount as kcal
    from counted_line as line
    left join (
        select value.line, value.amount
        from line_value as value
        join wanted using (n)
        where wanted.is_energy
    ) as energy using (line)
    where line.role <> 'aside'
), known as (
    select recipe_id, fsum(kcal) as kcal, avg(kcal) filter (where kcal > 0) as kcal_a_line
    from line_kcal
    group by recipe_id
), rough as (
    select
        line_kcal.*,
        case when line_kcal.kcal is null
             then coalesce(line_kcal.rough_g * $kcal_per_g, known.kcal_a_line, $line_kcal) end
             as rough_kcal
    from line_kcal
    join known using (recipe_id)
), pair as (
    select rough.recipe_id, rough.kcal, rough.rough_kcal, wanted.n, value.amount, value.shift,
           value.var_grams, value.var_match, value.var_composition
    from rough
    cross join wanted
    left join line_value as value on value.line = rough.line and value.n = wanted.n
), summed as (
    select
        pair.recipe_id,
        pair.n,
        fsum(pair.amount) as amount,
        coalesce(fsum(pair.shift), 0) as shift,
        coalesce(fsum(pair.var_grams + pair.var_match + pair.var_composition), 0) as variance,
        count(*) filter (where pair.amount is null) as lines_left_out,
        -- energy of the lines that carry a value of this nutrient, and of those that do not
        coalesce(fsum(pair.kcal) filter (where pair.amount is not null), 0) as kcal_known,
        coalesce(fsum(coalesce(pair.kcal, pair.rough_kcal)) filter (where pair.amount is null), 0)
            as kcal_missing,
        coalesce(fsum(pair.rough_kcal), 0) as kcal_rough,
        coalesce(fsum(pow(pair.rough_kcal, 2)), 0) as kcal_rough_sq
    from pair
    group by pair.recipe_id, pair.n
), scaled as (
    select
        summed.*,
        -- a line of unknown food is taken to be made like the rest of the recipe
        coalesce(summed.amount / nullif(known.kcal, 0), 0) as per_kcal
    from summed
    join known using (recipe_id)
), spread as (
    select
        recipe_id, n, wanted.nutrient, amount,
        -- one-sided: the unknown line brings between nothing and twice its rough estimate, and
        -- what it is made of is not known either
        shift + sqrt(2 / pi()) * (2 / $z) * kcal_rough * per_kcal as shift,
        variance + (1 - 2 / pi()) * pow(2 / $z * per_kcal, 2) * kcal_rough_sq
            + coalesce(pow($made_of_sd / nullif(wanted.energy_factor, 0), 2) * kcal_rough_sq, 0)
            as variance,
        kcal_rough * per_kcal as rough,
        case when kcal_known + kcal_missing > 0 then kcal_known / (kcal_known + kcal_missing)
             else (lines_left_out = 0)::int::double end as coverage,
        lines_left_out
    from scaled
    join wanted using (n)
)
select
    recipe_id,
    n,
    nutrient,
    amount,
    shift,
    variance,
    case when amount is not null
         then greatest(least(amount, amount + shift - $z * sqrt(variance)), 0) end as low,
    case when amount is not null
         then greatest(amount, amount + shift + $z * sqrt(variance)) end as high,
    coverage,
    rough,
    lines_left_out
from spread
order by recipe_id, nutrient
