-- sql/drift_foods.sql: what changed about the foods that a collection uses.
-- in      attached snapshots before and after; used(food_id, lines, recipes): foods of the
--         collection under either snapshot
-- out     one row a (food_id, column) that differs: before, after (null: not reported, or the food
--         is not in that snapshot), change, change_pct; state: changed | appeared | vanished for
--         the food itself
-- params  $least: relative changes below this are noise of rounding, e.g. 0.0005
with old as (
    unpivot (
        from before.food_wide
        semi join (from before.food where not reference) as answer using (food_id)
    ) on columns(* exclude (food_id)) into name nutrient value amount
),
new as (
    unpivot (
        from after.food_wide
        semi join (from after.food where not reference) as answer using (food_id)
    ) on columns(* exclude (food_id)) into name nutrient value amount
),
paired as (
    select
        used.food_id,
        nutrient,
        old.amount as before,
        new.amount as after,
        used.lines,
        used.recipes
    from used
    join (select food_id, nutrient from old union select food_id, nutrient from new) as known
        using (food_id)
    left join old using (food_id, nutrient)
    left join new using (food_id, nutrient)
)
select
    paired.food_id,
    coalesce(new_food.description, old_food.description) as description,
    case
        when new_food.food_id is null then 'vanished'
        when old_food.food_id is null then 'appeared'
        else 'changed'
    end as state,
    nutrient,
    before,
    after,
    after - before as change,
    100 * (after - before) / nullif(abs(before), 0) as change_pct,
    lines,
    recipes
from paired
left join (from before.food where not reference) as old_food using (food_id)
left join (from after.food where not reference) as new_food using (food_id)
where before is distinct from after
  and (before is null or after is null
       or abs(after - before) > $least * greatest(abs(before), abs(after)))
order by lines desc, abs(coalesce(change_pct, 100)) desc, food_id, nutrient
