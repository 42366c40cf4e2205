-- sql/report_order.sql: the place of every recipe in a report: by how it stands, then the largest
-- relative difference, as ``Result.recipes_by_size``.
-- in      $recipes, $findings: of a run
-- out     one row per recipe: n from 0; standing: its verdict, or accepted
with sized as (
    select recipe_id, max(abs(difference) / greatest(abs(stated), 1)) as size
    from $findings
    group by recipe_id
),
standing as (
    select
        recipe_id, title as written, coalesce(nullif(title, ''), recipe_id) as title, source, verdict, coverage,
        coalesce(accepted, '') as accepted,
        case when coalesce(accepted, '') <> '' then 'accepted' else verdict end as standing
    from $recipes
)
select
    row_number() over (
        order by
            list_position(['disagrees', 'uncertain', 'accepted', 'agrees', 'not_judged'], standing),
            coalesce(size, -1) desc, written, recipe_id
    ) - 1 as n,
    standing.* exclude (written)
from standing
left join sized using (recipe_id)
order by n
