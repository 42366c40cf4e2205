-- reconcile_settle.sql: the verdict on each number, once all numbers of a recipe are known.
-- in      finding_in(row_no, recipe_id, nutrient, verdict, outside, wide)   row_no: row of the finding;
--         outside: distance of the computed number from what is allowed, in half widths of its
--         range; wide: that range is too wide to vouch for a number
--         recipe_in(recipe_id, coverage)
--         honest_in(recipe_id, honest, as_net)   belief in an honest sum, all numbers together, and
--         the same of one with carbohydrate given without fibre; may be empty
-- out     one row a finding: row_no, verdict
--         One core number off (energy, protein, carbohydrate, fat) while an honest sum is the
--         likelier reading of all: uncertain. None off for certain, and all together no honest sum:
--         the one furthest outside disagrees. All together surely an honest sum: what was
--         uncertain agrees, unless its range is wide. What else is stated keeps its own verdict
-- params  $open_below, $open_above; $open_below_unknown where more than a twentieth is not known
with core as (
    select *, nutrient in ('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'CHOAVLDF', 'FAT') as core
    from finding_in
), whole as (
    select
        recipe_id,
        bool_or(verdict = 'disagrees') as off,
        bool_or(verdict = 'disagrees' and not core) as other_off
    from core
    group by recipe_id
), ranked as (
    select
        core.*, whole.off, whole.other_off, honest_in.honest, honest_in.as_net, recipe_in.coverage,
        row_number() over (
            partition by core.recipe_id
            order by (core.core and core.verdict = 'uncertain') desc, core.outside desc, core.row_no
        ) as furthest
    from core
    join whole using (recipe_id)
    left join recipe_in using (recipe_id)
    left join honest_in using (recipe_id)
)
select
    row_no,
    case
        when not core or honest is null then verdict
        when verdict = 'disagrees' and not other_off and honest > 0.5 then 'uncertain'
        when verdict = 'uncertain' and not off and furthest = 1 and greatest(honest, as_net) < case
            when coverage < 0.95 then $open_below_unknown else $open_below end then 'disagrees'
        when verdict = 'uncertain' and not off and not wide and greatest(honest, as_net) > $open_above then 'agrees'
        else verdict
    end as verdict
from ranked
order by row_no
