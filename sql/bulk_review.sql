-- sql/bulk_review.sql: texts whose answer settles most: one decision holds for every line alike.
-- in      $to_review: results of every part
-- out     one row per distinct text, at most $most, the most energy and then the most lines first
select
    text,
    count(*) as lines,
    count(distinct recipe_id) as recipes,
    round(fsum(kcal)) as kcal,
    any_value(description) as description,
    min(why) as why
from $to_review
group by text
order by coalesce(fsum(kcal), 0) desc, count(*) desc, text
limit $most
