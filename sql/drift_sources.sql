-- sql/drift_sources.sql: foods of each source against another snapshot.
-- in      food (the new one); attached as before: the same table of the other
-- out     one row per source of both: foods_ratio, foods now per food before; shared_share, how many
--         of the foods before are still there under their id
with old as (
    select source, food_id from before.food where not reference
),
new as (
    select source, food_id from food where not reference
)
select
    old.source,
    count(*) as foods_before,
    (select count(*) from new where new.source = old.source) as foods_now,
    (select count(*) from new where new.source = old.source) / count(*) as foods_ratio,
    count(*) filter (where old.food_id in (select food_id from new)) / count(*) as shared_share
from old
where old.source in (select source from new)
group by old.source
order by old.source
