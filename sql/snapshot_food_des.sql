-- sql/snapshot_food_des.sql: SR28's own words on each food, its refuse and its factors.
-- in      variable food_des_path
-- out     temp table food_des, one row a food (NDB_No); columns named as the source names them
-- note    the SR28 loader and the FoodData Central loader both stand on it
create or replace temp table food_des as
select *
from read_csv(
    getvariable('food_des_path'),
    delim = '^', quote = '~', escape = '', header = false, auto_detect = false,
    columns = {
        'NDB_No': 'varchar', 'FdGrp_Cd': 'varchar', 'Long_Desc': 'varchar',
        'Shrt_Desc': 'varchar', 'ComName': 'varchar', 'ManufacName': 'varchar',
        'Survey': 'varchar', 'Ref_Desc': 'varchar', 'Refuse': 'double', 'SciName': 'varchar',
        'N_Factor': 'double', 'Pro_Factor': 'double', 'Fat_Factor': 'double',
        'CHO_Factor': 'double'
    }
);
