-- sql/snapshot_measures.sql: household measures of every food from all that know one.
-- in      measure_text(food_id, seq, text, amount, grams, n, sd_grams, source, alone): as the
--         sources write them; amount null: the number stands in the text (`counted` false below);
--         alone: the only measure of its food, nothing to number or to compare
--         text_read(text, counted, amount, unit, qualifier, size, inner_amount, inner_unit): each
--         distinct text read; described_read(..., description): the same where the food's name
--         was needed to read it
-- out     measure: rows without a number of their own are numbered from 1001 on; equal measures
--         stand once
insert into measure by name
with of_source as (
    select
        measure_text.food_id,
        measure_text.seq,
        coalesce(described_read.amount, text_read.amount) * coalesce(measure_text.amount, 1)
            as amount,
        coalesce(described_read.unit, text_read.unit) as unit,
        coalesce(described_read.qualifier, text_read.qualifier) as qualifier,
        coalesce(described_read.size, text_read.size) as size,
        measure_text.grams,
        measure_text.n,
        measure_text.sd_grams,
        measure_text.source,
        1 as rank,
        text_read.inner_amount,
        text_read.inner_unit
    from measure_text
    join food using (food_id)
    join text_read
        on text_read.text = measure_text.text
        and text_read.counted = (measure_text.amount is not null)
    left join described_read
        on described_read.text = measure_text.text
        and described_read.counted = (measure_text.amount is not null)
        and described_read.description = food.description
    where measure_text.grams > 0 and not coalesce(measure_text.alone, false)
),
together as (
    select * exclude (inner_amount, inner_unit) from of_source
    union all by name
    select
        food_id,
        null::integer as seq,
        inner_amount as amount,
        inner_unit as unit,
        '' as qualifier,
        '' as size,
        grams,
        n,
        sd_grams,
        source || ', volume named in it' as source,
        2 as rank
    from of_source
    where inner_unit is not null
),
one_a_number as (
    select *
    from together
    where grams > 0 and amount > 0 and unit <> ''
    qualify row_number() over (
        partition by food_id, seq, case when seq is null then source || unit || qualifier || size end
        order by rank, source
    ) = 1
),
one_a_measure as (       -- the same words and weight from two places; two weights are kept
    select *
    from one_a_number
    qualify row_number() over (
        partition by food_id, unit, qualifier, size, round(grams / amount, 3)
        order by rank, seq nulls last, source
    ) = 1
)
select
    food_id,
    coalesce(
        seq,
        greatest(1000, coalesce(max(seq) over (partition by food_id), 0)) + row_number() over (
            partition by food_id, seq is null order by rank, source, unit, qualifier, size
        )
    )::integer as seq,
    amount, unit, qualifier, size, grams, n::integer as n, sd_grams, source
from one_a_measure;

insert into measure by name
select
    measure_text.food_id,
    measure_text.seq,
    text_read.amount,
    text_read.unit,
    text_read.qualifier,
    text_read.size,
    measure_text.grams,
    measure_text.n,
    measure_text.sd_grams,
    measure_text.source
from measure_text
join text_read on text_read.text = measure_text.text and not text_read.counted
where measure_text.alone and measure_text.grams > 0 and text_read.amount > 0;
