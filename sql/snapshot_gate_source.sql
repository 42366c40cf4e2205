-- sql/snapshot_gate_source.sql: what the gate looks at, source by source.
-- in      source, food, measure
-- out     one row a source that gives household measures and has foods: how many of them it has
select source.source, count(measure.food_id) as measures
from source
join food on food.preference = source.preference
left join measure on measure.food_id = food.food_id
where source.measures
group by source.source
order by source.source
