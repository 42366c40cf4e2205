-- reconcile_verdict.sql: one verdict a recipe, the worst of the numbers that are shown.
-- in      finding_in(recipe_id, nutrient, verdict)   settled; recipe_in(recipe_id)
-- out     one row a recipe_id: verdict. A recipe disagrees where one of its numbers does and never
--         otherwise. Energy, protein, carbohydrate and fat count in full; what else is stated
--         counts when it disagrees (salt to taste leaves sodium open almost always)
with ranked as (
    select
        recipe_id,
        max(case
            when verdict = 'disagrees' then 3
            when verdict = 'uncertain'
                and nutrient in ('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'CHOAVLDF', 'FAT') then 2
            when verdict in ('agrees', 'uncertain') then 1
            else 0
        end) as worst
    from finding_in
    group by recipe_id
)
select
    recipe_in.recipe_id,
    case ranked.worst
        when 3 then 'disagrees'
        when 2 then 'uncertain'
        when 1 then 'agrees'
        else 'not_judged'
    end as verdict
from recipe_in
left join ranked using (recipe_id)
order by recipe_in.recipe_id
