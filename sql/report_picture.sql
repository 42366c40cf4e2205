-- sql/report_picture.sql: findings for the picture of stated against computed.
-- in      $findings: of a run; report_order
-- out     at most $most rows a nutrient: half the largest differences, half spread evenly over the
--         list; columns of a finding, number, and of: how many there are of the nutrient
with judged as (
    select
        finding.*, place.n + 1 as number,
        count(*) over (partition by nutrient) as of,
        row_number() over (
            partition by nutrient
            order by finding.verdict = 'agrees', abs(difference) / greatest(abs(computed), 1) desc, n
        ) as by_size,
        row_number() over (partition by nutrient order by n) as by_place
    from $findings as finding
    join report_order as place using (recipe_id)
    where nutrient in ('kcal', 'protein_g', 'carbs_g', 'fat_g')
      and finding.verdict in ('agrees', 'uncertain', 'disagrees')
      and stated is not null and computed is not null
)
select * exclude (by_size, by_place)
from judged
where by_size <= $most // 2 or by_place % greatest(of // ($most // 2), 1) = 0
order by nutrient, number
