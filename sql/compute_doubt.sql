-- compute_doubt.sql: which lines own the doubt about a recipe's energy.
-- in      counted_line (compute_line.sql); line_value (compute_value.sql); wanted(n, is_energy)
-- out     one row per line, those of a recipe together: share of the variance of the energy, 0-1, cause: grams
--         (weigh it), food (say which one), composition, not_counted
-- params  $z, $kcal_per_g, $line_kcal as in compute_total.sql
with energy as (
    select *
    from line_value
    where n = (select n from wanted where is_energy)
), known as (
    select recipe, avg(kcal) filter (where kcal > 0) as kcal_a_line
    from energy
    group by recipe
), part as (
    select
        line.line,
        line.recipe,
        line.line_no,
        coalesce(energy.var_grams, 0) as var_grams,
        coalesce(energy.var_match, 0) as var_match,
        coalesce(energy.var_composition, 0) as var_composition,
        case when energy.kcal is null and line.role <> 'aside'
             then (1 - 2 / pi()) * pow(2 / $z * coalesce(
                line.rough_g * $kcal_per_g, known.kcal_a_line, $line_kcal), 2)
             else 0 end as var_unknown
    from counted_line as line
    left join energy using (line)
    left join known on known.recipe = line.recipe
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
join (select recipe, fsum(variance) as variance from shared group by recipe) as sum_of
    using (recipe)
order by shared.recipe, share desc, shared.line_no
