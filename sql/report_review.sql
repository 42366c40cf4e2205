-- sql/report_review.sql: lines to look at, equal texts together, by the energy that they leave open.
-- in      $to_review: of a run; $page_open: open_kcal and whole_kcal of those lines; report_order
-- out     one row per distinct text, at most $most: what it was taken for and its first recipe; texts:
--         how many there are; trivial: how many of them move no number
-- params  $most; $least_kcal, $least_share: below both a text moves no number
with opened as (
    select
        review.*, place.n, place.title, coalesce(line.open_kcal, 0) as open_kcal,
        line.whole_kcal > 0 as whole,
        if(line.whole_kcal > 0, least(line.open_kcal / line.whole_kcal, 1), 1) as share
    from $to_review as review
    join report_order as place using (recipe_id)
    left join $page_open as line using (recipe_id, line_no)
),
distinct_text as (
    select
        arg_min(text, n) as text, arg_min(coalesce(description, ''), n) as food,
        arg_min(coalesce(food_id, ''), n) as food_id, arg_min(confidence, n) as confidence,
        arg_min(coalesce(why, ''), n) as why, arg_min(title, n) as title, min(n) as n,
        count(distinct recipe_id) as recipes, fsum(open_kcal) as open_kcal, max(share) as share,
        bool_or(whole) as whole
    from opened
    group by lower(trim(text))
)
select
    *, count(*) over () as texts,
    count(*) filter (open_kcal < $least_kcal and share < $least_share) over () as trivial
from distinct_text
order by open_kcal desc, text
limit $most
