-- reconcile_verdict.sql: one verdict a recipe.
-- in      finding_in(recipe_id, nutrient, verdict); recipe_in(recipe_id, coverage)
--         honest_in(recipe_id, honest)   belief in an honest sum, all numbers together; may be empty
-- out     one row a recipe_id: verdict, the worst of its judged nutrients, where the numbers taken
--         together do not say otherwise. Energy, protein, carbohydrate and fat count in full; what
--         else is stated counts when it disagrees (salt to taste leaves sodium open almost always)
-- params  $open_below, $open_above; $open_below_unknown where more than a twentieth is not known
with ranked as (
    select
        recipe_id,
        max(case
            when verdict = 'disagrees' then 3
            when verdict = 'uncertain'
                and nutrient in ('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'CHOAVLDF', 'FAT') then 2
            when verdict in ('agrees', 'uncertain') then 1
            else 0
        end) as worst,
        -- a number of another kind than energy and macros is not part of the joint reading
        bool_or(verdict = 'disagrees'
            and nutrient not in ('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'CHOAVLDF', 'FAT')) as other
    from finding_in
    group by recipe_id
)
select
    recipe_in.recipe_id,
    case
        when ranked.worst = 3 and not ranked.other and honest_in.honest > 0.5 then 'uncertain'
        when ranked.worst = 3 then 'disagrees'
        when ranked.worst = 2 and honest_in.honest < case
            when recipe_in.coverage < 0.95 then $open_below_unknown else $open_below end
            then 'disagrees'
        when ranked.worst = 2 and honest_in.honest > $open_above then 'agrees'
        when ranked.worst = 2 then 'uncertain'
        when ranked.worst = 1 then 'agrees'
        else 'not_judged'
    end as verdict
from recipe_in
left join ranked using (recipe_id)
left join honest_in using (recipe_id)
order by recipe_in.recipe_id
