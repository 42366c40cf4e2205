-- compute_total.sql: what each recipe adds up to, per nutrient, with its 90 % range.
-- in      counted_line (compute_line.sql); line_value (compute_value.sql, compute_sub_recipe.sql)
--         wanted(n, energy_factor, is_energy)
-- out     one row per (recipe, n), for the whole recipe:
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
with valued as (
    select line, kcal
    from line_value
    where n = (select n from wanted where is_energy)
), line_kcal as (
    select line.line, line.recipe, line.rough_g, valued.kcal, valued.line is not null as has_values
    from counted_line as line
    left join valued using (line)
    where line.role <> 'aside'
), known as (
    select recipe, fsum(kcal) as kcal, avg(kcal) filter (where kcal > 0) as kcal_a_line
    from line_kcal
    group by recipe
), rough as (
    select
        line_kcal.*,
        case when line_kcal.kcal is null
             then coalesce(line_kcal.rough_g * $kcal_per_g, known.kcal_a_line, $line_kcal) end
             as rough_kcal
    from line_kcal
    join known using (recipe)
), whole as (                                 -- of all nutrients alike
    select
        recipe,
        count(*) as lines,
        fsum(kcal) as kcal,
        coalesce(fsum(rough_kcal) filter (where not has_values), 0) as kcal_without,
        coalesce(fsum(rough_kcal), 0) as kcal_rough,
        coalesce(fsum(pow(rough_kcal, 2)), 0) as kcal_rough_sq
    from rough
    group by recipe
), valueless as (                             -- lines of a food that lacks this nutrient alone
    select value.recipe, value.n, fsum(coalesce(rough.kcal, rough.rough_kcal)) as kcal
    from line_value as value
    join rough using (line)
    where value.amount is null
    group by value.recipe, value.n
), summed as (
    select
        recipe,
        n,
        fsum(amount) as amount,
        fsum(shift) as shift,
        fsum(var_grams + var_match + var_composition) as variance,
        count(amount) as lines,
        fsum(kcal) filter (where amount is not null) as kcal_known
    from line_value
    group by recipe, n
), spread as (
    select
        whole.recipe, wanted.n, summed.amount,
        -- a line of unknown food is taken to be made like the rest of the recipe
        coalesce(summed.amount / nullif(whole.kcal, 0), 0) as per_kcal,
        -- one-sided: the unknown line brings between nothing and twice its rough estimate, and
        -- what it is made of is not known either
        coalesce(summed.shift, 0) + sqrt(2 / pi()) * (2 / $z) * kcal_rough * per_kcal as shift,
        coalesce(summed.variance, 0) + (1 - 2 / pi()) * pow(2 / $z * per_kcal, 2) * kcal_rough_sq
            + coalesce(pow($made_of_sd / nullif(wanted.energy_factor, 0), 2) * kcal_rough_sq, 0)
            as variance,
        kcal_rough * per_kcal as rough,
        -- energy of the lines that carry a value of this nutrient, and of those that do not
        coalesce(summed.kcal_known, 0) as kcal_known,
        kcal_without + coalesce(valueless.kcal, 0) as kcal_missing,
        whole.lines - coalesce(summed.lines, 0) as lines_left_out
    from whole
    cross join wanted
    left join summed on summed.recipe = whole.recipe and summed.n = wanted.n
    left join valueless on valueless.recipe = whole.recipe and valueless.n = wanted.n
)
select
    recipe,
    n,
    amount,
    shift,
    variance,
    case when amount is not null
         then greatest(least(amount, amount + shift - $z * sqrt(variance)), 0) end as low,
    case when amount is not null
         then greatest(amount, amount + shift + $z * sqrt(variance)) end as high,
    case when kcal_known + kcal_missing > 0 then kcal_known / (kcal_known + kcal_missing)
         else (lines_left_out = 0)::int::double end as coverage,
    rough,
    lines_left_out
from spread
