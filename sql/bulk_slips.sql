-- sql/bulk_slips.sql: how often each kind of slip is the likeliest explanation.
-- in      $explanations: results of every part
-- out     one row per kind, commonest first
select kind, count(*) as recipes
from $explanations
where rank = 1
group by kind
order by recipes desc, kind
