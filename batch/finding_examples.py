"""One example of every kind of finding, as a study says it; the remedy stands behind it there.

A test provokes each kind and holds the form of its message to the example.
"""

EXAMPLES = {
    "value-missing": "Candidates!S2: Flow is blank.",
    "not-a-number": "Candidates!S3: Flow is the text 'about 800'.",
    "not-a-whole-number": "Candidates!AH4: Towers is 7.5.",
    "not-yes-or-no": "Candidates!AF5: Inverter-duty motor is 'perhaps'.",
    "not-a-date": "Candidates!F6: Application date is 'last spring'.",
    "date-in-number-cell": "Candidates!R7: Pumping hours per season holds the date 2026-04-30.",
    "number-in-date-cell": "Candidates!F8: Application date holds the number 45000.",
    "unknown-choice":
        "Candidates!H9: Present power is 'steam engine', which is not one of: diesel engine, "
        "propane engine, natural gas engine, gasoline engine, diesel generator, rotary converter,"
        " none. Closest is 'diesel engine'.",
    "choice-corrected":
        "Candidates!H10: Present power is 'Diesel-Engine'; it was read as 'diesel engine'.",
    "below-minimum": "Candidates!S11: Flow is -800 gal/min, below the least possible 5 gal/min.",
    "above-maximum":
        "Candidates!U12: Pressure at the pivot is 900 psi, above the largest possible 250 psi.",
    "unusual-value":
        "Candidates!T13: Pumping lift is 1 ft, outside the usual range of 3 to 800 ft.",
    "excel-error": "Candidates!U14: Pressure at the pivot holds the spreadsheet error #DIV/0!.",
    "formula-without-value": "Candidates!S15: Flow holds the formula =400*2 and no value.",
    "formula-value-used":
        "Candidates!S16: Flow holds the formula =300+500; its stored value 800 was read.",
    "number-from-text": "Candidates!S17: Flow is the text '800'; it was read as 800 gal/min.",
    "unit-converted": "Candidates!T18: Pumping lift is '43 m'; it was read as 141.076 ft.",
    "unit-unknown":
        "Candidates!T19: Pumping lift is '7 fathoms': the unit 'fathoms' is not known for this "
        "column, which takes: ft, feet, foot, m, in, inch, inches, mm, cm, km, mi, mile, miles.",
    "ambiguous-number":
        "Candidates!W20: Pipe length is the text '1.300,5': points and commas do not tell "
        "thousands from decimals.",
    "percent-cell": "Candidates!Z21: Pump efficiency is 0.75 shown as 75 %; it was read as 75.",
    "fraction-for-percent":
        "Candidates!AJ22: End tower duty is 0.6, which reads as 0.6 %; 60 may be meant.",
    "date-in-text-cell": "Candidates!G23: Crop holds the date 2026-03-04.",
    "list-unreadable":
        "Rates!F3: Demand months is 'summer': 'summer' is not a month. Example: 6-9.",
    "text-cleaned": "Candidates!B24: Farm held control characters, which were left out.",
    "defaults-taken":
        "Candidates, row 24: 1 blank cell takes the default: Pump efficiency 75 %.",
    "id-repeated": "Candidates!A25: Candidate is 'F-12', as row 2 already is.",
    "blank-row-skipped": "Candidates: blank rows between filled ones: 55, 58.",
    "example-row-skipped": "Candidates!A26: 1 example row of the blank workbook.",
    "quotation-unused":
        "Unit costs!M51: no candidate is called 'A-9', and the row prices nothing.",
    "limit-unusable":
        "Limits!B3: Unit is 'm', and what the row counts is counted in ft.",
    "price-row-open": "Unit costs!F50: 1 row without a price, not offered.",
    "header-row-skipped": "Candidates, row 56: repeats the headers.",
    "hidden-rows-read": "Candidates: rows that are hidden or filtered out were read: 4, 7 to 9.",
    "hidden-sheet-read": "The sheet 'Rates' is hidden; it was read.",
    "column-unknown": "Candidates!BC1: the column 'soil' is not used.",
    "key-unknown": "Program!B3: the key 'tower_spam_ft' is not used. Closest is 'tower_span_ft'.",
    "rule-changed":
        "Program!B2: Tower span is 185 ft in place of the year's 175 ft; source: Resolution 9.",
    "scenario-changed": "Scenario 'dear': candidates 'fuel_price_usd' times 1.1.",
    "scenario-unusable":
        "Scenario 'dear': Scenarios!E5 (Flow) is the text 'many'.",
    "scenario-without-effect":
        "Scenario 'dear': the factor on 'summer_adder_usd_kwh' of [rates] changes nothing, as the "
        "column 'Summer energy adder' of the Rates sheet has only zeros.",
    "sheet-unknown": "The sheet 'Notes of the field' is not used.",
    "reference-unknown": "Candidates!E27: Rate is 'NONE', which the Rates sheet does not list.",
    "reference-faulty":
        "Candidates!E28: Rate names 'BAD', whose row 3 on the Rates sheet has an error.",
    "feeder-unknown": "Candidates!C29: Feeder is 'F9', which the Feeders sheet does not list.",
    "depth-or-hours-missing":
        "Candidates!Q30: Gross depth per season is blank, and so are the season hours.",
    "hours-beyond-year":
        "Candidates!Q31: the depth asks for 26,611 pumping hours; a year has 8,760.",
    "list-unlike-survey":
        "Candidates: flow: the median of 12 farms is 150 gal/min; the irrigation survey's figure "
        "for NE is 763 (mean pumping capacity of wells), more than 3 times apart.",
    "hours-against-depth":
        "Candidates!R32: 2,000 hours were given, but area, depth and flow ask for 1,140.",
    "fuel-price-missing": "Candidates!J33: Fuel price is blank, and the farm burns fuel.",
    "pipe-diameter-missing": "Candidates!X34: Pipe inside diameter is blank, and there is a pipe.",
    "present-demand-missing":
        "Candidates!O35: Present electric demand is blank, and the farm runs on a rotary "
        "converter.",
    "engine-life-missing":
        "Candidates!N36: Engine life left is blank, and the engine's price is given.",
    "supply-design-unfit":
        "Candidates!AV48: Supply design is given, and the row asks for no supply option of which "
        "it is one.",
    "area-exceeds-circle": "Candidates!P37: 400.0 acres; the pivot's circle with end gun is 139.3.",
    "towers-against-length":
        "Candidates!AH38: the length and the towers give spans of 645 ft; 100 to 240 ft are "
        "built.",
    "motor-below-shaft-power":
        "Candidates!AB39: the nameplate says 10.0 hp; the pump needs 63.7 hp at its shaft.",
    "motor-oversized":
        "Candidates!AB40: the nameplate says 200.0 hp; the pump needs less than half, with twice "
        "its shaft power at 127.4 hp.",
    "motor-not-standard":
        "Candidates!AB41: 47 hp is not a standard rating. Ratings: 1, 1.5, 2, 3, 5, 7.5, 10, 15, "
        "20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300.",
    "fuel-against-criteria":
        "Candidates!I42: the measured fuel is 7.77 times what the pumping work should take; 0.6 "
        "to 1.6 is believable.",
    "fuel-use-against-rate":
        "Candidates!J42: 6,800 a year were given, but the fuel rate and the pumping hours make "
        "4,674.",
    "generator-below-load":
        "Candidates!J42: the generator is rated 20 kW; pump and pivot need 43.9 kW.",
    "present-demand-unlikely":
        "Candidates!O42: the present demand is 8.66 times what the pumping work should take; 0.6 "
        "to 1.6 is believable.",
    "asked-option-fails":
        "Candidates row 53: the rotary converter that is asked for fails single-phase start; "
        "single-phase drive would fail no check.",
    "flow-per-acre": "Candidates!S43: 2.0 gal/min per acre; 2.5 to 12 is usual.",
    "pipe-velocity": "Candidates!X44: water would run at 20.4 ft/s; 0.5 to 7 is usual.",
    "price-missing":
        "Unit costs: no price for rotary converter of 100 hp, which A26-012 asks for.",
    "beyond-table": "Candidates row 45: Not assessed: no size of transformer; disconnect; service "
        "conductor; drive; sine filter; motor lead; motor change.",
    "waveform-unsettled":
        "Candidates row 2: no steady waveform with bare drive, line reactor 3 %, line reactor 5 "
        "%, DC choke, tuned filter, active front end.",
    "line-sets-limited":
        "Shared line S1: of its 10 farms not every set that might build was studied; the best set "
        "is not proven.",
    "shared-line-incomplete": "Shared line S1: F-12 of 2 farms not assessed.",
    "lead-unknown": "Candidates row 46: a cable length is blank; a sine filter was priced.",
    "lead-length-assumed":
        "Candidates row 47: the leads to the pump motor are taken as 140 ft long.",
    "comparison-unknown": "Candidates row 47: saving and payback of the member are not assessed.",
    "present-demand-ignored":
        "Candidates!O48: 30.0 kW were not used, since the farm has no rotary converter.",
    "month-hours":
        "Candidates!R49: the season profile gives its fullest month 1,054 hours; a month has 744.",
    "nameplate-above-table":
        "Candidates!AE32: the nameplate's 74.0 A are above the table's 65.0 A.",
    "nameplate-current":
        "Candidates!AD50: the nameplate current is 0.26 times the table's; 0.75 to 1.15 is usual.",
    "several-rates-of-return":
        "Candidates row 12: the member's cash flow changes its sign 3 times, and its NPV is zero "
        "at 2 rates.",
    "pivot-nameplate-current":
        "Candidates!AM12: the nameplate current is 4.29 times the table's; 0.6 to 1.6 is usual.",
    "no-added-load": "Candidates row 51: the added load is -4 kW.",
    "no-useful-load": "Candidates row 51: the useful load is -2.5 kW.",
    "nothing-meets":
        "Candidates row 52: Asked for in the workbook. Compared: single-phase drive (active "
        "front end): 95,375 USD, fails service voltage at full load, starting dip at the tap; "
        "rotary converter (across the line): 59,675 USD, fails service voltage at full load, "
        "single-phase start, end tower voltage; three-phase line (across the line): 226,320 USD, "
        "fails cooperative payback with incentive.",
    "price-step-ignored": "Unit costs row 9: 'drive' from 500 ft is taken as one price.",
    "cost-year-old": "1 prices are of 2010 to 2010; the rules are of 2026.",
    "incentive-differs":
        "Candidates row 53: 5,400.00 USD were approved; the rules of 2026 give 6,000.00 USD.",
    "share-above-farm-cap":
        "Candidates row 12: of the cooperative's share 2,662.50 USD are above the cap per farm "
        "of 40,000 USD and go to the member.",
    "known-too-little":
        "Candidates row 12: ranked, and no money yet: Fault current at the tap (9 checks); Drive "
        "to pump motor (3 checks).",
    "must-fund-unranked":
        "Candidates row 12: the farm must be funded, and its verdict is 'incomplete'.",
    "budget-set-impossible":
        "The must-fund farm F-12 costs 39,500.00 USD; the budget is 39,000.00 USD. Add 500.00 USD, "
        "or release it.",
    "set-limit-unmet":
        "Rule ratepayer_ratio_floor: no set of farms reaches a ratepayer ratio of 2.5; the nearest "
        "has 1.7342: F-12.",
    "budget-overcommitted":
        "52,000.00 USD are paid and committed; the budget has 50,000.00 USD with what is carried "
        "in.",
    "approval-without-amount":
        "Candidates!BJ12: Approved incentive is blank, and the farm is approved; the budget counts "
        "nothing for it.",
    "approval-expired":
        "Candidates!BO12: Approval expires is 2026-03-31; the study is of 2026-04-30, and the "
        "money is still committed.",
    "history-impossible":
        "Candidates!BP12: In-service date is 2026-05-01, and the farm is withdrawn.",
    "rules-year-unknown":
        "Candidates!BI12: Rules year of the farm is 2019, of which there are no rules.",
    "rules-year-unused":
        "Candidates!BI12: Rules year of the farm is 2025; the farm is received and judged by the "
        "rules of 2026.",
    "delivered-unknown-farm":
        "Delivered!A4: no candidate is called 'F-21'; the row counts nowhere. Closest is 'F-12'.",
    "delivered-twice":
        "Delivered!C5: 'F-12' has the season 2026 in row 4 already; this row counts nowhere.",
    "delivered-without-service":
        "Delivered!A4: 'F-12' is approved on Candidates, and not in service.",
    "meter-unlikely":
        "Delivered!K4: 'F-12' shows 140.0 kW on a transformer of 75 kVA.",
    "account-blank":
        "Candidates row 12: no member account, and the cap per account is 20,000 USD; the farm "
        "counts alone.",
    "feeder-unbalanced":
        "Feeder Heron 1: up to 2.6 % voltage unbalance with the funded farms (limit 2 %).",
    "line-use-exceeds":
        "Candidates!F12: Shared line used is 9,000 ft; the line 'S1' has 5,280 ft.",
    "line-counted-twice":
        "Candidates!E12: Single-phase line to build is 5,600 ft, and the farm uses 5,280 ft of the "
        "shared line 'S1' besides; both are paid for.",
    "limit-exceeded":
        "Limits row 2: the funded farms take 5,300 ft of 'three-phase line'; 5,000 ft are "
        "available.",
    "feeder-over-capacity":
        "Feeder Heron 1: 946 kW of all ranked farms stand against 900 kW of spare capacity; down "
        "the ranking, F-12 is the first that does not fit.",
}
