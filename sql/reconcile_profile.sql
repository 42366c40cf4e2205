-- sql/reconcile_profile.sql: what names say of the foods, for finding a food's neighbours.
-- in      food, food_profile
-- out     one row per food_id that may answer, in its order: lists as text, words with a blank between; null for a food
--         without a profile
select
    array_to_string(head, ' ') as head,
    array_to_string("group", ' ') as "group",
    array_to_string(kind, ' ') as kind,
    array_to_string(list_transform(part, lambda word: 'part_' || replace(word, ' ', '_')), ' ') as part,
    array_to_string(list_concat(also, beside), ' ') as aside,
    array_to_string(states, ' ') as states,
    form,
    fat_pct_low
from food
left join food_profile using (food_id)
where not food.reference
order by food.food_id;
