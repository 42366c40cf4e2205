-- sql/snapshot_sr28.sql: USDA SR28 from its files into the snapshot tables.
-- in      food_des of snapshot_food_des.sql; variables abbrev_path, weight_path, food_groups_path,
--         nutrients_path, preference, reference, food_base
-- out     rows of food, loaded, nutrient, measure_text
-- ABBREV and FOOD_DES use ^ between fields and ~ around text; an empty field is unknown, never 0.
create temp table abbrev as
select * replace (nullif(trim(NDB_No), '') as NDB_No)
from read_csv(
    getvariable('abbrev_path'),
    delim = '^', quote = '~', escape = '', header = false, auto_detect = false,
    columns = {
        'NDB_No': 'varchar', 'Shrt_Desc': 'varchar',
        'Water': 'double', 'Energ_Kcal': 'double', 'Protein': 'double', 'Lipid_Tot': 'double',
        'Ash': 'double', 'Carbohydrt': 'double', 'Fiber_TD': 'double', 'Sugar_Tot': 'double',
        'Calcium': 'double', 'Iron': 'double', 'Magnesium': 'double', 'Phosphorus': 'double',
        'Potassium': 'double', 'Sodium': 'double', 'Zinc': 'double', 'Copper': 'double',
        'Manganese': 'double', 'Selenium': 'double', 'Vit_C': 'double', 'Thiamin': 'double',
        'Riboflavin': 'double', 'Niacin': 'double', 'Panto_Acid': 'double', 'Vit_B6': 'double',
        'Folate_Tot': 'double', 'Folic_Acid': 'double', 'Food_Folate': 'double',
        'Folate_DFE': 'double', 'Choline_Tot': 'double', 'Vit_B12': 'double',
        'Vit_A_IU': 'double', 'Vit_A_RAE': 'double', 'Retinol': 'double',
        'Alpha_Carot': 'double', 'Beta_Carot': 'double', 'Beta_Crypt': 'double',
        'Lycopene': 'double', 'Lut_Zea': 'double', 'Vit_E': 'double', 'Vit_D_mcg': 'double',
        'Vit_D_IU': 'double', 'Vit_K': 'double', 'FA_Sat': 'double', 'FA_Mono': 'double',
        'FA_Poly': 'double', 'Cholestrl': 'double',
        'GmWt_1': 'double', 'GmWt_Desc1': 'varchar', 'GmWt_2': 'double', 'GmWt_Desc2': 'varchar',
        'Refuse_Pct': 'double'
    }
);

create temp table sr28_nutrient as
select * from read_csv(getvariable('nutrients_path'), header = true, all_varchar = true,
                       nullstr = '\N');  -- sodium's tagname is NA: no word is a null here

insert into nutrient by name
select * from (
    select nutrient, unit, label, nutrient_nbr from sr28_nutrient
    union all
    select 'ALC', 'g', 'Alcohol, ethyl', '221'
)
where nutrient not in (select nutrient from nutrient);

-- SR Legacy, when it is preferred, has SR28's numbers; but a food of it that lacks energy or macros
-- does not displace the one here.
create temp table displaced as
select food_no, food_id
from food
join food_wide using (food_id)
where food.source = 'sr_legacy'
  and not getvariable('reference')
  and (kcal is null or protein_g is null or fat_g is null or carbs_g is null)
  and food_id in (select 'sr28:' || NDB_No from food_des);
delete from amount where food_no in (select food_no from displaced);
delete from food_wide where food_id in (select food_id from displaced);
delete from food where food_id in (select food_id from displaced);
drop table displaced;

insert into food by name
select
    getvariable('food_base') + row_number() over (order by food_des.NDB_No) as food_no,
    'sr28:' || food_des.NDB_No as food_id,
    'sr28' as source,
    food_des.NDB_No as source_code,
    trim(food_des.Long_Desc) as description,
    coalesce(food_group.category, '') as category,
    coalesce(food_des.Survey, '') = 'Y' as survey,
    coalesce(abbrev.Refuse_Pct, food_des.Refuse) as refuse_pct,
    coalesce(food_des.Ref_Desc, '') as refuse,
    food_des.N_Factor as nitrogen_factor,
    food_des.Pro_Factor as protein_factor,
    food_des.Fat_Factor as fat_factor,
    food_des.CHO_Factor as carb_factor,
    coalesce(food_des.ComName, '') as common_name,
    coalesce(food_des.SciName, '') as scientific_name,
    coalesce(food_des.ManufacName, '') as manufacturer,
    coalesce(food_des.Shrt_Desc, '') as short_description,
    getvariable('preference') as preference,
    '100 g' as per,
    '' as energy_from,
    getvariable('reference') as reference
from food_des
left join abbrev using (NDB_No)
left join read_csv(getvariable('food_groups_path'), header = true, all_varchar = true)
    as food_group on food_group.code = food_des.FdGrp_Cd
where 'sr28:' || food_des.NDB_No not in (select food_id from food)  -- a preferred source has it
order by food_id;

insert into loaded by name
with reported as (       -- one row a value that stands in the file; unpivot drops the empty ones
    unpivot abbrev
    on columns(* exclude (
        NDB_No, Shrt_Desc, GmWt_1, GmWt_Desc1, GmWt_2, GmWt_Desc2, Refuse_Pct))
    into name field value amount
)
select
    food.food_id,
    sr28_nutrient.nutrient,
    reported.amount as amount_per_100g,
    null::integer as n,
    '' as derivation
from reported
join sr28_nutrient using (field)
join food on food.food_id = 'sr28:' || reported.NDB_No and food.source = 'sr28'
order by food_id, nutrient;

-- Alcohol is not in the abbreviated file. It is what the other proximates leave of 100 g, where
-- the energy says the same at 6.93 kcal a gram (Atwater, as SR28 uses it): both must agree within
-- 0.5 g or 6 %, and come to 1.5 g at least. Vinegar fails that (acetic acid carries less energy),
-- and so does bread whose protein was mistyped. No row, not zero, where it cannot be told.
insert into loaded by name
with estimate as (
    select
        abbrev.NDB_No,
        100 - Water - Protein - Lipid_Tot - Ash - Carbohydrt as by_difference_g,
        (
            Energ_Kcal
            - Protein * coalesce(Pro_Factor, 4)
            - Lipid_Tot * coalesce(Fat_Factor, 9)
            - Carbohydrt * coalesce(CHO_Factor, 4)
        ) / 6.93 as by_energy_g
    from abbrev
    join food_des using (NDB_No)
)
select
    food.food_id,
    'ALC' as nutrient,
    round(by_difference_g, 1) as amount_per_100g,
    null::integer as n,
    'by difference of proximates, confirmed by energy at 6.93 kcal/g' as derivation
from estimate
join food on food.food_id = 'sr28:' || NDB_No and food.source = 'sr28'
where by_difference_g >= 1.5
  and abs(by_difference_g - by_energy_g) <= greatest(0.5, 0.06 * by_difference_g)
order by food_id;

-- Household weights. A row gives the weight of Amount units together, and Std_Dev of that weight.
insert into measure_text by name
select
    food.food_id,
    weight.Seq as seq,
    weight.Msre_Desc as text,
    weight.Amount as amount,
    weight.Gm_Wgt as grams,
    weight.Num_Data_Pts as n,
    weight.Std_Dev / weight.Amount as sd_grams,
    'SR28 WEIGHT seq ' || weight.Seq as source
from read_csv(
    getvariable('weight_path'),
    header = true, auto_detect = false, delim = ',', quote = '"', escape = '"',
    columns = {
        'NDB_No': 'varchar', 'Seq': 'integer', 'Amount': 'double', 'Msre_Desc': 'varchar',
        'Gm_Wgt': 'double', 'Num_Data_Pts': 'integer', 'Std_Dev': 'double'
    }
) as weight
join food on food.food_id = 'sr28:' || weight.NDB_No
where food.source = 'sr28'
   or food.food_id not in (select food_id from measure_text);  -- of SR Legacy without portions
