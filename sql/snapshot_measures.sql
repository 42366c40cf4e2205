-- sql/snapshot_measures.sql: household measures of every food from all that know one.
-- in      measure_read(food_id, source_code, seq, amount, unit, qualifier, size, grams, n,
--         sd_grams, source, rank): texts already read into parts; food
-- out     measure: of rows with the same (food_id, seq) the one of lowest rank; rows that carry
--         no source number (seq null) are numbered from 1001 on
insert into measure by name
with of_food as (           -- rows of the shared tables name the SR number, not one source's food
    select
        coalesce(measure_read.food_id, food.food_id) as food_id,
        measure_read.* exclude (food_id, source_code)
    from measure_read
    left join food
        on measure_read.food_id is null
        and food.source_code = measure_read.source_code
        and food.source in ('sr28', 'sr_legacy')
    where measure_read.grams > 0 and measure_read.unit <> ''
),
numbered as (
    select
        * replace (
            coalesce(
                seq,
                1000 + row_number() over (
                    partition by food_id, seq is null order by rank, source, unit, qualifier, size
                )
            ) as seq
        )
    from of_food
    where food_id is not null
)
select food_id, seq::integer as seq, amount, unit, qualifier, size, grams,
       n::integer as n, sd_grams, source
from numbered
qualify row_number() over (partition by food_id, seq order by rank, source) = 1
order by food_id, seq;
