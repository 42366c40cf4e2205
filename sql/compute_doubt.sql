-- compute_doubt.sql: which lines own the doubt about a recipe's energy.
-- in      counted_line, line_value (see above); total(recipe_id, nutrient, variance)
-- out     one row a (recipe_id, line_no): share of the variance of the energy, 0-1, and cause:
--         grams (weigh it), food (say which one), composition, not_counted
-- params  $z, $kcal_per_g, $line_kcal as in compute_total.sql
with energy as (
    select recipe_id, line_no, amount, var_grams, var_match, var_composition
    from line_value
    where nutrient = 'ENERC_KCAL'
), known as (
    select recipe_id, avg(amount) filter (where amount > 0) as kcal_a_line from energy group by all
), part as (
    select
        line.recipe_id,
        line.line_no,
        coalesce(energy.var_grams, 0) as var_grams,
        coalesce(energy.var_match, 0) as var_match,
        coalesce(energy.var_composition, 0) as var_composition,
        case when energy.amount is null and line.role <> 'aside'
             then (1 - 2 / pi()) * pow(2 / $z * coalesce(
                line.rough_g * $kcal_per_g, known.kcal_a_line, $line_kcal), 2)
             else 0 end as var_unknown
    from counted_line as line
    left join energy using (recipe_id, line_no)
    left join known using (recipe_id)
), shared as (
    select *, var_grams + var_match + var_composition + var_unknown as variance
    from part
)
select
    recipe_id,
    line_no,
    coalesce(variance / nullif(fsum(variance) over (partition by recipe_id), 0), 0) as share,
    case
        when variance = 0 then ''
        when var_unknown = variance then 'not_counted'
        when var_match >= greatest(var_grams, var_composition) then 'food'
        when var_grams >= var_composition then 'grams'
        else 'composition'
    end as cause
from shared
order by recipe_id, share desc, line_no
