"""The trade's own habits as named numbers: common practice, no published source, every one.

Defaults and notes where a data sheet is silent, never hard rules where it speaks. `PRACTICES` says
each in a sentence, for pages and findings that quote it.
"""

from collections.abc import Mapping
from types import MappingProxyType

PRACTICE = "common practice, no published source"

BARE_GRIT_P = 150
BARE_GRIT_UNDER_STAIN_P = 220
SCUFF_GRIT_P = (220, 320)
OVERLAP_PCT = (40.0, 60.0)
FAN_WIDTH_MM = (150.0, 250.0)
DISTANCE_MM = (130.0, 220.0)
GENERAL_NOZZLE_MM = 1.3
MICROFOAM_NOZZLE_MM = 1.1
ROOM_C = (19.0, 24.0)
ROOM_LIKELY_C = 21.0
ROOM_RH_PCT = (40.0, 50.0)
EXTENDER_BELOW_RH_PCT = 35.0
WATER_BORNE_RECOAT_H = 3.0
OIL_BASED_RECOAT_H = 24.0
LACQUER_RECOAT_H = 1.0
COATS_DECOR = 3
COATS_TABLE = (4, 5)
COATS_A_LONG_DAY = 3
USUAL_DAYS = 2
NIGHT_BEFORE_PACKING_H = 12.0
DECOR_BEFORE_SHIPPING_H = 24.0
TABLE_BEFORE_HANDLING_H = 72.0
FLUSH_WITHIN_H = 12.0
STRIP_CLEAN_DAYS = 30
COMES_BACK_A_WEEK = 1
COMES_BACK_SHIPS_LATER_DAYS = 1
WIDE_PANEL_MM = 300.0

PRACTICES: Mapping[str, str] = MappingProxyType(
    {
        "bare_grit": "Bare wood for a sprayed film is sanded to P150, not much finer.",
        "stain_grit": "Under stain wood is sanded finer (P220), and then takes less colour.",
        "overlap": "Strokes overlap by 40 to 60 %.",
        "fan": "The fan is about a hand wide and the gun a little less than a hand away.",
        "nozzle": "1.3 mm is the general nozzle; about 1.1 mm with a thinner finish for microfoam.",
        "scuff": "Between coats the film is scuffed with worn P220 to P320.",
        "coats": "Three coats for decor; four or five for tables and dear or hard-used pieces.",
        "first_coat": "The first coat soaks in and stands for less film than the next.",
        "room": "The room is kept at about 21 °C and 40 to 50 % relative humidity.",
        "extender": "In dry air an extender keeps the film open.",
        "recoat": "Water-borne coats stand about three hours apart at that climate.",
        "rhythm": "Three coats fit one long day; two days are the usual rhythm.",
        "packing": "A night passes before packing, at least a day before decor ships.",
        "table_wait": "A table is not handled for several days.",
        "three_clocks": "Touch-dry is not wrap-safe and wrap-safe is not cured.",
        "tack_cloth": "A waxy tack cloth can leave fish eyes under a water-borne finish.",
        "stained_scuff": "Stained work is first scuffed by hand, so as not to cut through.",
        "pores": "Deep-pored oaks show their pores without a filler.",
        "points": "A softwood dents on standoff points.",
        "flush": "Water-borne guns are flushed at breaks and at the day's end.",
        "strip_clean": "A gun is taken apart and cleaned about monthly.",
        "lacquer": "Nitrocellulose lacquer burns into the coat below and blushes in damp air.",
        "comes_back": "About one piece in a week's work comes back with a nib or hair, and ships a "
        "day later.",
    }
)
