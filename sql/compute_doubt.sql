-- compute_doubt.sql: which lines own the doubt about a recipe's energy.
-- in      counted_line (compute_line.sql); line_value (compute_value.sql); wanted(n, is_energy)
-- out     one row a line, those of a recipe together: share of the variance of the energy, 0-1, cause: grams
--         (weigh it), food (say which one), composition, not_counted
-- params  $z, $kcal_per_g, $line_kcal as in compute_total.sql
with energy as (
    select value.* exclude (n)
    from line_value as value
    join wanted using (n)
    where wanted.is_energy
), known as (
    select line.recipe_id, avg(energy.amount) filter (where energy.amount > 0) as kcal_a_line
    from energy
    join counted_line as line using (line)
    group by all
), part as (
    select
        line.line,
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
    left join energy using (line)
    left join known using (recipe_id)
), shared as (
    select *, var_grams + var_match + var_composition + var_unknown as variance
    from part
)
select
    shared.line,
    shared.line_no,
    coalesce(shared.variance / nullif(sum_of.variance, 0), 0) as share,
    case
        when shared.variance = 0 then ''
        when var_unknown = shared.variance then 'not_counted'
        when var_match >= greatest(var_grams, var_composition) then 'food'
        when var_grams >= var_composition then 'grams'
        else 'composition'
    end as cause
from shared
join (select recipe_id, fsum(variance) as variance from shared group by recipe_id) as sum_of
    using (recipe_id)
order by shared.recipe_id, share desc, shared.line_no
