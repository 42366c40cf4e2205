-- sql/drift_recipes.sql: how the totals of a collection's recipes moved between two snapshots.
-- in      total_before, total_after(recipe_id, title, source, basis, nutrient, computed): on that
--         basis;
--         verdict_before, verdict_after(recipe_id, nutrient, verdict): nutrient '' for the
--         recipe as a whole
-- out     one row per (recipe_id, nutrient) whose total moved or whose verdict flipped
-- params  $least: relative changes below this are noise of rounding
with verdict as (
    select
        recipe_id,
        nutrient,
        verdict_before.verdict as verdict_before,
        verdict_after.verdict as verdict_after
    from verdict_before
    full join verdict_after using (recipe_id, nutrient)
),
total as (
    select
        recipe_id,
        coalesce(total_after.title, total_before.title) as title,
        coalesce(total_after.source, total_before.source) as source,
        coalesce(total_after.basis, total_before.basis) as basis,
        nutrient,
        total_before.computed as before,
        total_after.computed as after
    from total_before
    full join total_after using (recipe_id, nutrient)
),
whole as (              -- the recipe's own verdict has no amount
    select recipe_id, any_value(title) as title, any_value(source) as source,
           any_value(basis) as basis, '' as nutrient,
           null::double as before, null::double as after
    from total
    group by recipe_id
),
paired as (
    select * from (from total union all from whole)
    left join verdict using (recipe_id, nutrient)
)
select
    recipe_id,
    title,
    source,
    basis,
    nutrient,
    before,
    after,
    after - before as change,
    100 * (after - before) / nullif(abs(before), 0) as change_pct,
    coalesce(verdict_before, '') as verdict_before,
    coalesce(verdict_after, '') as verdict_after,
    coalesce(verdict_before, '') <> coalesce(verdict_after, '') as flipped
from paired
where flipped
   or (before is distinct from after
       and (before is null or after is null
            or abs(after - before) > $least * greatest(abs(before), abs(after))))
order by flipped desc, abs(coalesce(change_pct, 0)) desc, recipe_id, nutrient
