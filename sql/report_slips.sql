-- sql/report_slips.sql: how often each kind of slip is the likeliest explanation.
-- in      $explanations: of a run; report_order
-- out     one row per kind, commonest first, at most $most: recipes, titles and numbers of the first six
select
    kind, count(*) as recipes,
    list(title order by n)[:6] as titles,
    list(n order by n)[:6] as numbers
from $explanations
join report_order using (recipe_id)
where rank = 1 and probability >= 0.5 and kind not in ('none_found', 'habit')
group by kind
having count(*) >= 3
order by recipes desc, kind
limit $most
