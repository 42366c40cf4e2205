-- compute_line.sql: what part each ingredient line plays in the sums, and what it may weigh.
-- in      line_result   LINE_RESULT of pipeline/tables.py with line, a number of each row, numbers of
--                       its recipe, text and food (null: none), and eaten_share, eaten_low and
--                       eaten_high (0-1; null: all of it)
--         food_in(food, food_id); nutrient_value(food, ...)
--         unit_grams(unit, grams)     rough grams of a unit, for lines that could not be counted
-- out     one row per line that names a food:
--         role    counted | recipe | unmatched | unweighed | not_in_table | aside (made of other
--                 lines or only if added, and not weighed: nothing is missing)
--         grams, sd_low_g, sd_high_g  the two halves of a two-piece normal: grams_low and
--                                     grams_high lie $z_grams standard deviations apart from
--                                     the middle
--         rough_g                     rough weight of a line that is not counted, null if unknown
-- params  $z_grams: standard deviations from the middle to an end of a range of grams
with line as (
    select
        *,
        coalesce(eaten_share, 1) as share,
        coalesce(eaten_low, eaten_share, 1) as share_low,
        coalesce(eaten_high, eaten_share, 1) as share_high,
        coalesce(grams_low, grams) as low,
        coalesce(grams_high, grams) as high
    from line_result
    where coalesce(names_food, true)
)
select
    line.line,
    line.recipe,
    line.line_no,
    line.text,
    line.food,
    line.basis,
    line.unit,
    line.amount,
    least(greatest(coalesce(line.confidence, 1), 0), 1) as confidence,
    case
        when line.use in ('made', 'if_added')
             and (line.food is null or line.grams is null
                  or starts_with(food_in.food_id, 'recipe:')) then 'aside'
        when line.food is null then 'unmatched'
        when starts_with(food_in.food_id, 'recipe:') then 'recipe'
        when line.grams is null then 'unweighed'
        when known.food is null then 'not_in_table'
        else 'counted'
    end as role,
    line.grams * line.share as grams,
    -- the weight and the part of it that is eaten are unsure each for itself
    sqrt(pow(greatest(line.grams - line.low, 0) * line.share, 2)
         + pow(line.grams * greatest(line.share - line.share_low, 0), 2)) / $z_grams as sd_low_g,
    sqrt(pow(greatest(line.high - line.grams, 0) * line.share, 2)
         + pow(line.grams * greatest(line.share_high - line.share, 0), 2)) / $z_grams as sd_high_g,
    case
        when line.basis = 'open' or line.use in ('made', 'if_added') then 0
        else coalesce(line.grams, line.amount * unit_grams.grams) * line.share
    end as rough_g
from line
left join food_in using (food)
left join (select distinct food from nutrient_value) as known using (food)
left join unit_grams using (unit)
