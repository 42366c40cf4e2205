-- reconcile_finding.sql: each stated number beside the sum of the lines, and what may lie between.
-- in      stated_in(recipe_id, nutrient, amount, basis, step)
--         computed_frame   COMPUTED of pipeline/tables.py: whole recipes
--         recipe_in(recipe_id, servings, weight_g)
--         band_frame(profile, nutrient, lower, upper, upper_included, minus, plus, kind, floor,
--         per_100g): the rows of shared/tolerances.csv, NaN for what they leave open
-- out     one row per (recipe_id, nutrient, basis) that is stated; amounts per the basis stated on
--         allowed   the most the computed number may differ from the stated one on its side of it,
--                   rounding included; infinite where a one-sided rule has no limit
--         verdict   agrees | uncertain | disagrees | not_judged
-- params  $profile; $narrow: true when two sums of the same lines are held to the 'recipe' rows too
--         $percent; $least_coverage: below it only a known part that is already too much is judged
--         $net: tagname of net carbohydrate (carbohydrate by difference less fibre)
--         $available: true when the carbohydrate given is without fibre already
with band as materialized (
    select * replace (
        nullif(lower, 'nan'::double) as lower,
        nullif(upper, 'nan'::double) as upper,
        nullif(minus, 'nan'::double) as minus,
        nullif(plus, 'nan'::double) as plus,
        nullif(floor, 'nan'::double) as floor
    )
    from band_frame
), given as materialized (
    select recipe_id::varchar as recipe_id, nutrient::varchar as nutrient,
           amount::double as amount, low::double as low, high::double as high,
           coverage::double as coverage
    from computed_frame
    where nutrient in (select nutrient from stated_in) or nutrient in ('CHOCDF', 'FIBTG')
), computed_in as (  -- the totals, with net carbohydrate beside the total
    select * from given
    union all
    select
        carbs.recipe_id,
        $net,
        greatest(carbs.amount - fibre.amount, 0),
        greatest(carbs.amount - fibre.amount
            - sqrt(pow(carbs.amount - carbs.low, 2) + pow(fibre.high - fibre.amount, 2)), 0),
        greatest(carbs.amount - fibre.amount, 0)
            + sqrt(pow(carbs.high - carbs.amount, 2) + pow(fibre.amount - fibre.low, 2)),
        least(carbs.coverage, fibre.coverage)
    from given as carbs
    join given as fibre on fibre.recipe_id = carbs.recipe_id and fibre.nutrient = 'FIBTG'
    where carbs.nutrient = 'CHOCDF' and not $available and carbs.amount is not null
        and fibre.amount is not null
    union all
    select recipe_id, $net, amount, low, high, coverage
    from given
    where nutrient = 'CHOCDF' and $available
), based as (
    select
        stated_in.*,
        -- how many stated units the whole recipe holds
        case stated_in.basis
            when 'per_serving' then recipe_in.servings
            when 'per_100g' then recipe_in.weight_g / 100
            else 1
        end as units,
        recipe_in.weight_g
    from stated_in
    left join recipe_in using (recipe_id)
), compared as (
    select
        based.recipe_id,
        based.nutrient,
        based.basis,
        based.amount as stated,
        greatest(coalesce(based.step, 0), 0) as step,
        computed_in.amount / based.units as computed,
        computed_in.low / based.units as low,
        computed_in.high / based.units as high,
        coalesce(computed_in.coverage, 0) as coverage,
        -- from stated units to per 100 g; 1 when the weight is not known
        coalesce(100 / nullif(based.weight_g / based.units, 0), 1) as to_100g
    from based
    left join computed_in
        on computed_in.recipe_id = based.recipe_id and computed_in.nutrient = based.nutrient
), edge as (  -- the smallest and the largest number that is written so
    select *, 'lower' as side, greatest(stated - step / 2, 0) as declared from compared
    union all
    select *, 'upper' as side, stated + step / 2 as declared from compared
), direct as (  -- bands given for the nutrient itself
    select
        edge.recipe_id, edge.nutrient, edge.basis, edge.side, band.profile,
        case when edge.side = 'lower' then band.minus else band.plus end as size,
        band.kind, band.floor, edge.declared, edge.computed,
        case when band.per_100g then edge.to_100g else 1 end as scale
    from edge
    join band
        on band.nutrient = edge.nutrient
        and (band.profile = $profile or ($narrow and band.profile = 'recipe'))
        and band.kind <> 'from_macros'
        and (band.lower is null
             or edge.declared * case when band.per_100g then edge.to_100g else 1 end >= band.lower)
        and (band.upper is null
             or edge.declared * case when band.per_100g then edge.to_100g else 1 end < band.upper
             or (band.upper_included
                 and edge.declared * case when band.per_100g then edge.to_100g else 1 end
                     = band.upper))
), sized as (
    select
        recipe_id, nutrient, basis, side, profile,
        case kind
            when 'absolute' then size / scale
            when 'percent' then size / 100 * case when profile = 'recipe'
                then greatest(coalesce(computed, declared), declared) else declared end
            when 'setting' then $percent / 100 * declared
        end as width,
        floor
    from direct
), width as (
    select recipe_id, nutrient, basis, side, profile, greatest(width, coalesce(floor, 0)) as width
    from sized
    where width is not null  -- a one-sided rule sets no limit on the other side
    union all  -- energy under a rule that has no band for it: the macros use theirs in full
    select edge.recipe_id, edge.nutrient, edge.basis, edge.side, sized.profile,
           fsum(sized.width * case sized.nutrient when 'FAT' then 9 else 4 end)
    from edge
    join band on band.nutrient = edge.nutrient and band.profile = $profile
        and band.kind = 'from_macros'
    join sized on sized.recipe_id = edge.recipe_id and sized.basis = edge.basis
        and sized.side = edge.side and sized.profile = $profile
        and sized.nutrient in ('PROCNT', 'CHOCDF', 'FAT')
    group by all
), narrowest as (
    select
        recipe_id, nutrient, basis,
        min(width) filter (where side = 'lower') as minus,
        min(width) filter (where side = 'upper') as plus,
        true as has_rule
    from width
    group by all
), limits as (
    select
        compared.*,
        coalesce(narrowest.has_rule, false) as has_rule,
        -- the limit is rounded as the number is written, and so is what is compared with it
        case when narrowest.minus is null then '-infinity'::double
             when step > 0 then round(greatest(stated - step / 2, 0) / step - narrowest.minus / step)
                 * step - step / 2
             else stated - narrowest.minus end as lowest,
        case when narrowest.plus is null then 'infinity'::double
             when step > 0 then round((stated + step / 2 + narrowest.plus) / step - 1e-9)
                 * step + step / 2
             else stated + narrowest.plus end as highest
    from compared
    left join narrowest using (recipe_id, nutrient, basis)
)
select
    recipe_id,
    nutrient,
    basis,
    stated,
    computed,
    low,
    high,
    computed - stated as difference,
    case when computed >= stated then highest - stated else stated - lowest end as allowed,
    case
        when computed is null or not has_rule or not isfinite(stated) then 'not_judged'
        when low > highest then 'disagrees'
        when coverage < $least_coverage then 'not_judged'
        when computed between lowest and highest then 'agrees'
        when high < lowest then 'disagrees'
        else 'uncertain'
    end as verdict,
    coverage
from limits
order by recipe_id, nutrient, basis
