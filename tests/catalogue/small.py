"""A small sound set of tables, invented for the tests, that each test spoils in one place."""

from pathlib import Path

from cubital.catalogue.table import COLUMNS

SMALL: dict[str, str] = {
    "edition.txt": "test-1\n",
    "sources.toml": (
        '[memory]\ntitle = "remembered"\n'
        '[paper]\ntitle = "A paper"\nyear = 2001\npart = "table 2"\nbasis = "published"\n'
        'seen = "primary"\naddress = "doi:10.0/1"\n'
        '[habit]\ntitle = "common practice"\nbasis = "common practice"\n'
    ),
    "choices.csv": (
        "topic,option,default,meaning,source\n"
        "tbv-per-kg,low,yes,the low figure,memory\n"
        "tbv-per-kg,high,no,the high figure,paper\n"
        "blood-limit,careful,yes,the careful limit,memory\n"
        "renin-cooling,room,yes,at room temperature,paper\n"
        "renin-cooling,ice,no,on ice,memory\n"
        "mixing-turns,published,yes,as published,paper\n"
        "mixing-turns,local,no,as done here,habit\n"
    ),
    "settings.csv": (
        "key,value,unit,meaning,source\n"
        "tourniquet_max_s,60,s,the minute,paper\n"
        "share,0.5,,a share,memory\n"
        "order_note,as printed,,a word,memory\n"
    ),
    "closure_colours.csv": (
        "code,name,rgb,ink,source\nred,red,#c0392b,#ffffff,paper\nlavender,lavender,#b39ddb,#000000,paper\n"
    ),
    "additives.csv": (
        "code,name,letter_code,colour,hl7_0371,order_class,yields,source\n"
        "clot,clot activator,CAT,red,,clot_activator,serum,paper\n"
        "edta,EDTA,K2E,lavender,EDTK,edta,plasma,paper\n"
    ),
    "ratios.csv": "additive,blood_parts,additive_parts,source\n",
    "mixing.csv": (
        "additive,choice,inversions_low,inversions_high,source\n"
        "clot,mixing-turns:published,5,6,paper\n"
        "edta,mixing-turns:published,8,10,paper\n"
        "clot,mixing-turns:local,4,5,habit\n"
    ),
    "fill_limits.csv": (
        "additive,choice,minimum_percent,maximum_percent,to_the_mark,source\n"
        "clot,,50,110,no,memory\nedta,,90,110,no,memory\n"
    ),
    "containers.csv": (
        "code,name,additive,form,nominal_ul,headspace_ul,made_for_altitude_m,rank,in_use,"
        "height_mm,diameter_mm,source\n"
        "clot-4,clot activator 4 mL,clot,evacuated,4000,1000,,0,yes,75,13,memory\n"
        "edta-2,EDTA 2 mL,edta,evacuated,2000,1000,,0,yes,75,13,memory\n"
        "edta-05,EDTA 0.5 mL,edta,micro,500,,,1,no,45,11,memory\n"
    ),
    "stations.csv": (
        "code,name,max_tests_per_tube,source\ncore,Core,20,memory\nhaem,Haematology,5,memory\n"
    ),
    "dead_volumes.csv": (
        "station,form,dead_ul,source\ncore,evacuated,200,memory\ncore,micro,50,memory\n"
        "haem,evacuated,100,memory\nhaem,micro,60,memory\n"
    ),
    "benches.csv": (
        "code,name,station,source\nchem,Chemistry,core,memory\nblood,Haematology,haem,memory\n"
    ),
    "tests.csv": (
        "code,name,short,loinc,bench,matrix,own_tube,containers_needed,aliases,source\n"
        "potassium,Potassium,K,2823-3,chem,serum_plasma,no,1,serum potassium;K+,memory\n"
        "sodium,Sodium,Na,2951-2,chem,serum_plasma,,,,memory\n"
        "haemoglobin,Haemoglobin,Hb,718-7,blood,whole_blood,no,1,hgb,memory\n"
        "renin,Renin activity,Renin,2915-7,chem,plasma,no,1,,memory\n"
    ),
    "test_additives.csv": (
        "test,additive,rank,source\npotassium,clot,0,memory\nsodium,clot,0,memory\n"
        "sodium,edta,1,memory\nhaemoglobin,edta,0,memory\nrenin,edta,0,memory\n"
    ),
    "test_volumes.csv": (
        "test,volume_ul,source\npotassium,20,memory\nsodium,20,memory\nhaemoglobin,150,memory\n"
        "renin,500,memory\n"
    ),
    "handling.csv": (
        "test,need,value,choice,source\n"
        "renin,never_chilled,,renin-cooling:room,paper\n"
        "renin,ice_slurry,,renin-cooling:ice,memory\n"
        "renin,spin_within_min,60,,memory\n"
        "renin,spin_within_min,20,renin-cooling:ice,memory\n"
        "potassium,no_fist,,,memory\n"
    ),
    "preparation.csv": (
        "test,need,low,high,severity,sentence,choice,source\n"
        "renin,supine_min,30,,ask,Lie down for 30 minutes.,,memory\n"
    ),
    "stability.csv": (
        "test,matrix,condition,keeps_h,choice,source\npotassium,whole_blood,room,4,,memory\n"
        "potassium,serum_plasma,fridge,168.5,,memory\n"
    ),
    "panels.csv": (
        "code,name,loinc,aliases,source\nlytes,Electrolytes,,salts,memory\n"
        "admission,Admission panel,,,memory\n"
    ),
    "panel_members.csv": (
        "panel,member,source\nlytes,sodium,memory\nlytes,potassium,memory\n"
        "admission,haemoglobin,memory\nadmission,lytes,memory\nadmission,sodium,memory\n"
    ),
    "needles.csv": "gauge,hub_colour,outer_mm,source\n21,green,0.8,paper\n23,blue,0.6,paper\n",
    "needle_bores.csv": "gauge,wall,inner_mm,source\n21,regular,0.49,paper\n",
    "devices.csv": (
        "code,name,route,tubing_air_ul,draws_by,needle_length_mm,source\n"
        "straight,straight needle,venous,,vacuum,25,memory\n"
        "heel,heel lancet,capillary,,drops,,memory\n"
    ),
    "device_rules.csv": (
        "choice,device,gauge,age_from_days,age_to_days,veins,rank,sentence,source\n"
        ",straight,21,0,54786,any,5,A 21 G needle.,memory\n"
        ",heel,0,0,365,any,9,A heel lancet.,memory\n"
    ),
    "order_profiles.csv": (
        "code,name,route,default,source\nvein,by the paper,venous,yes,paper\n"
        "skin,by the paper,capillary,yes,paper\n"
    ),
    "order_of_draw.csv": (
        "profile,order_class,position,source\nvein,clot_activator,1,paper\nvein,edta,2,paper\n"
        "skin,edta,1,paper\n"
    ),
    "sites.csv": (
        "code,name,route,verdict,rank,sided,age_from_days,age_to_days,caution,source\n"
        "median_cubital,median cubital vein,venous,allowed,1,yes,,,,memory\n"
        "femoral,femoral vein,never,never,9,yes,,,,memory\n"
    ),
    "site_conditions.csv": (
        "condition,scope,severity,sentence,source\nmastectomy,arm,ask,Take the other arm.,memory\n"
    ),
    "patient_cautions.csv": (
        "condition,severity,sentence,source\nfainting,note,Let the patient lie down.,memory\n"
    ),
    "blood_volumes.csv": (
        "choice,sex,age_from_days,age_to_days,ml_per_kg,source\nlow,any,0,54786,65,memory\n"
        "high,any,0,365,80,paper\nhigh,female,365,54786,65,paper\nhigh,male,365,54786,70,paper\n"
    ),
    "blood_limits.csv": (
        "policy,age_from_days,age_to_days,window_h,measure,value,severity,source\n"
        "careful,0,54786,24,percent_of_tbv,2.5,ask,memory\n"
    ),
    "aims.csv": (
        "age_from_days,age_to_days,aim,small_containers,source\n0,2192,least_blood,yes,memory\n"
        "2192,54786,fewest_tubes,no,memory\n"
    ),
    "haematocrits.csv": (
        "sex,age_from_days,age_to_days,percent,source\nany,0,54786,50,memory\n"
    ),
    "culture_volumes.csv": (
        "choice,weight_from_g,weight_to_g,sets,first_set_ul,second_set_ul,bottles_per_set,source\n"
        ",0,1000000,2,20000,20000,2,memory\n"
    ),
    "label_sizes.csv": (
        "code,name,width_mm,height_mm,page_width_mm,page_height_mm,columns,rows,left_mm,top_mm,"
        "gap_x_mm,gap_y_mm,source\n50x25,roll,50,25,50,25,,,,,,,memory\n"
    ),
}  # fmt: skip


def write(folder: Path, **changes: str | bytes | None) -> Path:
    """
    Write the small tables into a folder; tables not named in SMALL have their header alone.

    Args:
        folder: made when it is not there.
        changes: file stem (``tests``, or ``sources_toml``) -> whole new content, None to leave out.
    """
    folder.mkdir(parents=True, exist_ok=True)
    content: dict[str, str | bytes | None] = {
        cls.FILE: ",".join(columns) + "\n" for cls, columns in COLUMNS.items()
    }
    content |= SMALL
    for stem, change in changes.items():
        content[f"{stem}.csv" if f"{stem}.csv" in content else stem.replace("_", ".")] = change
    for name, text in content.items():
        if text is not None:
            data = text if isinstance(text, bytes) else text.encode()
            (folder / name).write_bytes(data)
    return folder


def lay(folder: Path, **tables: str) -> Path:
    """Write a laboratory's own folder: file stem -> content, ``sources_toml`` for the sources."""
    folder.mkdir(parents=True, exist_ok=True)
    for stem, text in tables.items():
        name = "sources.toml" if stem == "sources_toml" else f"{stem}.csv"
        (folder / name).write_text(text, encoding="utf-8")
    return folder
