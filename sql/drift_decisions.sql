-- sql/drift_decisions.sql: remembered answers that point to foods the new snapshot lacks, or
--         holds as reference only.
-- in      attached snapshots before and after; decided(text, food_id, applies_to)
-- out     one row per decision; description as it was
select
    decided.text,
    decided.applies_to,
    decided.food_id,
    coalesce(before.food.description, '') as description
from decided
left join before.food using (food_id)
where decided.food_id not in (select food_id from after.food where not reference)
  and decided.food_id not like 'pantry:%'
  and decided.food_id not like 'recipe:%'
  and decided.food_id not in ('', 'none')
order by decided.text
