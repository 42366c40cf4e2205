-- reconcile_internal.sql: the stated numbers against one another, ingredients apart.
-- in      stated_in(recipe_id, nutrient, amount, basis, step)
--         recipe_in(recipe_id, servings, weight_g)
-- out     one row per (recipe_id, basis) where something may be wrong: the numbers, the energy by each
--         convention, the slack that rounding leaves, the weight of the portion
-- params  $energy_share, $energy_floor_kcal: how far energy may lie from the nearest convention
--         $protein, $carbs, $fat, $alcohol, $fibre: kcal per g (shared/energy_factors.csv)
with wide as (
    select
        recipe_id,
        basis,
        any_value(amount) filter (where nutrient = 'ENERC_KCAL') as kcal,
        any_value(amount) filter (where nutrient = 'PROCNT') as protein_g,
        any_value(amount) filter (where nutrient in ('CHOCDF', 'CHOAVLDF')) as carbs_g,
        bool_or(nutrient = 'CHOAVLDF') as net,
        any_value(amount) filter (where nutrient = 'FAT') as fat_g,
        any_value(amount) filter (where nutrient = 'FIBTG') as fibre_g,
        any_value(amount) filter (where nutrient = 'SUGAR') as sugar_g,
        any_value(amount) filter (where nutrient = 'FASAT') as satfat_g,
        coalesce(any_value(amount) filter (where nutrient = 'ALC'), 0) as alcohol_g,
        max(step) filter (where nutrient in ('PROCNT', 'CHOCDF', 'CHOAVLDF', 'FAT', 'FIBTG',
            'SUGAR', 'FASAT')) as step_g,
        any_value(step) filter (where nutrient = 'ENERC_KCAL') as step_kcal,
        min(amount) as least,
        arg_min(nutrient, amount) as least_of
    from stated_in
    group by recipe_id, basis
),
beside as (
    select
        wide.*,
        $protein * protein_g + $carbs * carbs_g + $fat * fat_g + $alcohol * alcohol_g as kcal_all_carbs,
        $protein * protein_g + $carbs * (carbs_g - fibre_g) + $fat * fat_g + $alcohol * alcohol_g
            + $fibre * fibre_g as kcal_fibre_2,
        $protein * protein_g + $carbs * (carbs_g - fibre_g) + $fat * fat_g + $alcohol * alcohol_g
            as kcal_fibre_0,
        $protein * protein_g + $carbs * carbs_g + $fat * fat_g + $alcohol * alcohol_g
            + $fibre * fibre_g as kcal_net_plus_fibre,
        (($protein + $carbs + $fat) * coalesce(step_g, 1) + coalesce(step_kcal, 1)) / 2 as slack_kcal,
        coalesce(step_g, 1) as slack_g,
        case wide.basis
            when 'per_100g' then 100
            when 'per_serving' then recipe_in.weight_g / recipe_in.servings
            else recipe_in.weight_g
        end as portion_g
    from wide
    left join recipe_in using (recipe_id)
)
select *
from beside
where least < 0
    or greatest(
        least(kcal_all_carbs, kcal_fibre_2, kcal_fibre_0, kcal_net_plus_fibre) - kcal,
        kcal - greatest(kcal_all_carbs, kcal_fibre_2, kcal_fibre_0, kcal_net_plus_fibre)
    ) > slack_kcal + greatest($energy_share * kcal, $energy_floor_kcal)
    or fibre_g > carbs_g + slack_g
    or sugar_g > carbs_g + slack_g
    or satfat_g > fat_g + slack_g
    or coalesce(protein_g, 0) + coalesce(carbs_g, 0) + coalesce(fat_g, 0) > portion_g
order by recipe_id, basis
