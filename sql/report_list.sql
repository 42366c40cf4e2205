-- sql/report_list.sql: the rows of the list of all recipes, each an array of JSON: title, how it
-- stands, share known, basis, then stated, computed and verdict of energy, protein, carbohydrate and fat.
-- in      $recipes, $findings: of a run; report_order
-- out     one row per recipe: n, row
with verdict as (
    select
        recipe_id,
        max(verdict) filter (nutrient = 'kcal') as kcal,
        max(verdict) filter (nutrient = 'protein_g') as protein,
        max(verdict) filter (nutrient = 'carbs_g') as carbs,
        max(verdict) filter (nutrient = 'fat_g') as fat,
        max(verdict) filter (nutrient = 'net_carbs_g') as net,
        max(stated) filter (nutrient = 'net_carbs_g') as net_stated,
        max(computed) filter (nutrient = 'net_carbs_g') as net_computed
    from $findings
    group by recipe_id
),
shown as (  -- carbohydrate without fibre stands in where only that is stated
    select place.*, recipe.* exclude (recipe_id, title, source, verdict, coverage, accepted),
           verdict.* exclude (recipe_id), recipe.carbs_g_stated is null and net is not null as by_net
    from report_order as place
    join $recipes as recipe using (recipe_id)
    left join verdict using (recipe_id)
)
select
    n,
    json_array(
        title, standing, round(coverage, 4), basis,
        round(kcal_stated, 1), round(kcal_computed, 1), kcal,
        round(protein_g_stated, 2), round(protein_g_computed, 2), protein,
        round(if(by_net, net_stated, carbs_g_stated), 2),
        round(if(by_net, net_computed, carbs_g_computed), 2), if(by_net, net, carbs),
        round(fat_g_stated, 2), round(fat_g_computed, 2), fat
    )::varchar as row
from shown
order by n
