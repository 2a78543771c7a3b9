"""The catalogue of findings: what each slug means, for ever. A slug is never used again for another
thing."""

from batch.finding_kind import ERROR as ERROR
from batch.finding_kind import NOTE as NOTE
from batch.finding_kind import WATCH as WATCH
from batch.finding_kind import Kind as Kind
from batch.finding_kinds_season import SEASON_KINDS

CATALOGUE = {
    # Cells
    "value-missing": Kind(
        ERROR, "A needed value is missing",
        "The cell is blank and the study cannot go on without it.", "Fill the cell."),
    "not-a-number": Kind(
        ERROR, "Not a number", "The cell holds text where a number is needed.",
        "Type a plain number; the unit stands in the header."),
    "not-a-whole-number": Kind(
        ERROR, "Not a whole number", "The cell holds a fraction where a count is needed.",
        "Type a whole number."),
    "not-yes-or-no": Kind(
        ERROR, "Neither yes nor no", "The cell holds something else than yes or no.",
        "Type yes or no."),
    "not-a-date": Kind(
        ERROR, "Not a date", "The cell holds no date.", "Type a date, as in 2026-04-30."),
    "date-in-number-cell": Kind(
        ERROR, "A date where a number is needed",
        "The cell is formatted as a date, so that its number reads as a day.",
        "Set the cell's format to General and type the number again."),
    "number-in-date-cell": Kind(
        ERROR, "A number where a date is needed", "The cell holds a plain number.",
        "Type a date, as in 2026-04-30."),
    "unknown-choice": Kind(
        ERROR, "Not one of the choices", "The word is not on the list for this column.",
        "Pick a word from the list."),
    "choice-corrected": Kind(
        NOTE, "A word was read as its closest choice",
        "Only capitals, blanks or marks differ from the listed word.", "Nothing to do."),
    "below-minimum": Kind(
        ERROR, "Below the least possible value", "The value cannot be right.",
        "Check the value and its unit."),
    "above-maximum": Kind(
        ERROR, "Above the largest possible value", "The value cannot be right.",
        "Check the value and its unit."),
    "unusual-value": Kind(
        WATCH, "Outside the usual range", "The value is possible but rarely seen.",
        "Check the value and its unit; leave it if it is right."),
    "excel-error": Kind(
        ERROR, "The cell holds a spreadsheet error", "A formula failed, as in #DIV/0!.",
        "Mend the formula or type the value."),
    "formula-without-value": Kind(
        ERROR, "A formula without a stored value",
        "The workbook was saved by a program that did not calculate.",
        "Open it in a spreadsheet program, let it calculate, and save."),
    "formula-value-used": Kind(
        NOTE, "A formula's stored value was used",
        "The cell holds a formula; the value of its last calculation was read.",
        "Nothing to do if the workbook was saved after its last change."),
    "number-from-text": Kind(
        NOTE, "A number stored as text was read", "The cell holds a number as text.",
        "Nothing to do; a plain number is safer."),
    "unit-converted": Kind(
        NOTE, "Another unit was converted", "The header or the cell names another unit.",
        "Nothing to do if the unit is right."),
    "unit-unknown": Kind(
        ERROR, "Unknown unit", "The unit is not on the list or is of another kind.",
        "Write one of the units that the message names."),
    "ambiguous-number": Kind(
        ERROR, "A number that can be read in two ways",
        "Points and commas do not tell thousands from decimals.",
        "Type the number without marks for thousands."),
    "percent-cell": Kind(
        NOTE, "A percent-formatted cell was read as shown",
        "The cell shows a percent sign; 0.75 shown as 75 % was read as 75.", "Nothing to do."),
    "fraction-for-percent": Kind(
        WATCH, "Looks like a fraction where percent is asked for",
        "Percent columns take 75 for 75 %, and the value is 1 or less.",
        "Type 75 for 75 %; leave it if the small value is right."),
    "date-in-text-cell": Kind(
        WATCH, "A date where a word is expected",
        "The spreadsheet program took what was typed for a date.",
        "Set the cell's format to Text and type it again; leave it if the date is meant."),
    "list-unreadable": Kind(
        ERROR, "A list that cannot be read",
        "The cell holds no list of months, shares, tiers, cost items or counted things in the form "
        "of the help.",
        "Write the list as in the example of the message."),
    "text-cleaned": Kind(
        NOTE, "Text was cleaned", "The text held control characters or was too long.",
        "Nothing to do."),
    "defaults-taken": Kind(
        NOTE, "Defaults were taken",
        "Cells of the row are blank, and their columns have defaults: one finding for each row, "
        "with every default that it took.", "Fill the cells where a default does not fit."),
    # Rows and sheets
    "id-repeated": Kind(
        ERROR, "The same name on two rows", "A name must be unique on its sheet.",
        "Give each row a name of its own, or delete the copy."),
    "blank-row-skipped": Kind(
        NOTE, "A blank row was skipped", "A row between filled rows is empty.", "Nothing to do."),
    "example-row-skipped": Kind(
        NOTE, "Example rows were skipped", "The rows still are the blank workbook's examples.",
        "Delete the rows, or leave them."),
    "quotation-unused": Kind(
        WATCH, "A price for one candidate prices nothing",
        "No row of Candidates has the name, or the item is a line, whose price is that of all.",
        "Write the candidate's name as on Candidates, or delete the row."),
    "limit-unusable": Kind(
        ERROR, "A row of Limits that cannot be held",
        "Its unit is not that of what it counts, the price list has no such size, or an earlier "
        "row counts the same. The study goes on without the row.",
        "Mend the cell, or delete the row."),
    "price-row-open": Kind(
        NOTE, "Rows of the price list have no price",
        "The price's cell is blank, so that the row is not offered.",
        "Fill in the prices of what your program offers. A price that a farm needs and the list "
        "lacks is told by itself."),
    "header-row-skipped": Kind(
        NOTE, "A further header row was skipped",
        "A row below the header repeats the headers, or holds their units.", "Nothing to do."),
    "hidden-rows-read": Kind(
        NOTE, "Hidden rows were read", "The rows are hidden by hand or by a filter.",
        "Show all rows and delete those that are not meant."),
    "hidden-sheet-read": Kind(
        NOTE, "A hidden sheet was read", "The sheet is hidden in the workbook.",
        "Show the sheet and look at it, or delete it where the study needs none."),
    "column-unknown": Kind(
        NOTE, "A column that the study does not use",
        "The header is not in the dictionary. The column is kept and carried through.",
        "Nothing to do, or mend the header."),
    "key-unknown": Kind(
        WATCH, "A key that the study does not use", "The key is not in the dictionary.",
        "Mend the key or delete the line."),
    "rule-changed": Kind(
        NOTE, "A rule of the year was replaced", "The Program sheet holds another value.",
        "Nothing to do if the board's resolution says so."),
    "scenario-changed": Kind(
        NOTE, "A scenario changed a value",
        "The run lays a scenario over the workbook.",
        "Nothing to do; the run without the scenario stands in its own folder."),
    "scenario-unusable": Kind(
        WATCH, "A scenario that cannot be studied",
        "A column of the Scenarios sheet says what the workbook cannot take.",
        "Mend the cell, or leave it blank."),
    "scenario-without-effect": Kind(
        WATCH, "A factor that changes nothing",
        "The scenario multiplies a price, a rate or a cell that the workbook does not hold.",
        "Mend the scenario, fill the workbook, or leave the entry out."),
    "sheet-unknown": Kind(
        NOTE, "A sheet that the study does not use", "The sheet's name is not in the contract.",
        "Nothing to do."),
    "reference-unknown": Kind(
        ERROR, "A name that no other sheet lists",
        "The row names a rate, feeder or shared line that its sheet does not hold.",
        "Add it to that sheet, or mend the name."),
    "reference-faulty": Kind(
        ERROR, "A name whose own row has a fault",
        "The row names a rate or a shared line whose row has an error.",
        "Mend the row that the message names."),
    "feeder-unknown": Kind(
        WATCH, "A feeder that the Feeders sheet does not list",
        "The farm is studied, but its feeder's capacity is not assessed.",
        "Add the feeder to its sheet, or mend the name."),
    # Several cells of a row
    "depth-or-hours-missing": Kind(
        ERROR, "Neither depth nor hours", "The season's pumping is not known.",
        "Fill the gross depth or the season hours."),
    "hours-beyond-year": Kind(
        ERROR, "More pumping hours than a year has",
        "The depth, area and flow ask for more hours than there are.",
        "Check area, depth and flow."),
    "list-unlike-survey": Kind(
        WATCH, "The list is far from the state's irrigation survey",
        "The farms of the list are unlike the state's, or a column is in another unit than its "
        "header says.",
        "Check the column and its unit; nothing to do where the list is right."),
    "hours-against-depth": Kind(
        WATCH, "Hours and depth do not fit each other",
        "The hours are not what the area, depth and flow ask for.",
        "Check hours, depth, area and flow; the hours were used."),
    "fuel-price-missing": Kind(
        WATCH, "No fuel price", "What the member saves is not known and not assessed; the "
        "cooperative's side is.", "Fill the fuel price."),
    "pipe-diameter-missing": Kind(
        ERROR, "A pipe without a diameter", "Friction cannot be computed.",
        "Fill the inside diameter, or clear the pipe's length."),
    "present-demand-missing": Kind(
        ERROR, "No present demand",
        "A rotary converter already is an electric load; added load is counted above it.",
        "Fill the present electric demand from the meter."),
    "engine-life-missing": Kind(
        WATCH, "An engine price without its remaining life",
        "The year of the replacement is not known, and it was left out.",
        "Fill the remaining life."),
    "supply-design-unfit": Kind(
        ERROR, "A supply design that the row's supply option does not have",
        "Each supply option has its own designs; a design without an option tells nothing.",
        "Name the supply option of which it is a design, take one of its designs, or leave the "
        "design blank."),
    "area-exceeds-circle": Kind(
        ERROR, "The area is larger than the pivot's circle",
        "The pivot, with end gun, cannot reach that area.",
        "Check the area and the pivot's length."),
    "towers-against-length": Kind(
        WATCH, "Towers and pivot length do not fit each other",
        "The span between towers is not one that is built.",
        "Check the number of towers and the pivot's length."),
    "motor-below-shaft-power": Kind(
        WATCH, "The nameplate motor is smaller than the pump needs",
        "The shaft power is above the motor's rating.",
        "Check the nameplate, flow and head; take a larger motor."),
    "motor-oversized": Kind(
        WATCH, "The nameplate motor is far larger than the pump needs",
        "The shaft power is below half of the motor's rating.",
        "Check the nameplate, flow and head."),
    "motor-not-standard": Kind(
        ERROR, "Not a standard motor rating",
        "Tables of current, efficiency and price go by standard ratings.",
        "Use the rating on the nameplate; the message lists the neighbours."),
    "fuel-against-criteria": Kind(
        WATCH, "Measured fuel does not fit the pumping work",
        "The fuel is far from what the criteria and the performance rating give.",
        "Check the fuel rate, its unit, and the flow and head."),
    "fuel-use-against-rate": Kind(
        WATCH, "Annual fuel use and fuel rate do not fit each other",
        "The fuel of the year is not what the fuel rate burns in the pumping hours.",
        "Check both and the pumping hours; the fuel rate was used."),
    "generator-below-load": Kind(
        WATCH, "The generator is rated below the farm's load",
        "The pump and the pivot need more than the generator can give, so that no part-load chart "
        "tells its fuel.",
        "Check the generator's rating, flow and head, or fill the measured fuel rate."),
    "present-demand-unlikely": Kind(
        WATCH, "Present demand does not fit the pumping work",
        "The electric demand with the rotary converter is far from what the same pump and pivot "
        "should take.",
        "Check the present demand, its unit, and the flow and head."),
    "flow-per-acre": Kind(
        WATCH, "Unusual flow per acre",
        "The flow is far from what a field of that size is usually given.",
        "Check flow and area."),
    "pipe-velocity": Kind(
        WATCH, "Unusual velocity in the pipe",
        "Water in supply pipes rarely goes slower than 0.5 or faster than 7 ft/s.",
        "Check flow and the inside diameter."),
    # Results
    "price-missing": Kind(
        WATCH, "A price that the list lacks", "No option that has a price meets every limit, and "
        "one that fails none has no price: the farms are not assessed.",
        "Add the item with this size or a larger one to the price list."),
    "beyond-table": Kind(
        WATCH, "Not sized", "What is needed is larger than any size of the tables, or a cell that "
        "it is sized by is blank.", "Fill what is blank, or have the case engineered."),
    "waveform-unsettled": Kind(
        WATCH, "A drive's current has no steady waveform",
        "With so little bus capacitance, or so much impedance ahead, the current does not repeat "
        "from cycle to cycle; these variants are not assessed.",
        "Check the bus capacitance on the Program sheet and the line's impedance."),
    "line-sets-limited": Kind(
        WATCH, "A line has too many farms for every set of them",
        "Of a line of up to eight farms every set that might build is studied; of a longer one "
        "only some. Where the best set chooses options, the phases are tried on lines of up to "
        "six farms.",
        "Part the line's farms into two lines where they will not build together, or leave out "
        "farms that will not."),
    "shared-line-incomplete": Kind(
        WATCH, "A shared line with farms that are not assessed",
        "Rows with errors do not take part in sharing the line; shares will change when they do.",
        "Mend those rows first."),
    "lead-unknown": Kind(
        WATCH, "A cable length is blank",
        "The output filter goes by the longest cable; the dearest was priced.",
        "Fill the length from the drive to the motor and to the pivot's panel."),
    "lead-length-assumed": Kind(
        WATCH, "A lead's length was assumed",
        "The cell is blank: the leads are sized for the program's length, and priced at it where "
        "none exist. Their drop is not assessed.", "Fill the length of the cable."),
    "comparison-unknown": Kind(
        WATCH, "The present yearly cost is not known",
        "Fuel rate or fuel price is missing, or the generator's load is off the published chart.",
        "Fill the measured fuel rate and the fuel price; for new irrigation, those of the engine "
        "that would be bought."),
    "present-demand-ignored": Kind(
        WATCH, "A present demand that was not used",
        "Only a rotary converter is an electric load today.",
        "Clear the cell, or mend the present power."),
    "month-hours": Kind(
        WATCH, "More hours in a month than it has",
        "The season profile puts more pumping hours into a month than the month has.",
        "Check the hours, or spread the season profile."),
    "nameplate-current": Kind(
        WATCH, "The nameplate current is far from the code's table",
        "Drive and conductors follow the larger of the two; a nameplate far from the table is "
        "often a misread one.", "Check the nameplate."),
    "nameplate-above-table": Kind(
        NOTE, "The nameplate current is above the code's table",
        "The motor draws more than usual ones of its rating, as submersibles do: drive, "
        "conductors, device and overload follow its nameplate.",
        "Nothing to do if the nameplate is right."),
    "several-rates-of-return": Kind(
        NOTE, "Several rates of return",
        "The member's cash flow changes its sign more than once, and its NPV is zero at more than "
        "one rate: no IRR is shown.", "Judge the farm by its NPV."),
    "pivot-nameplate-current": Kind(
        WATCH, "A pivot motor's nameplate current is far from the code's table",
        "It was used all the same: conductors and devices of a pivot follow nameplates.",
        "Check the nameplate, and that the current is of one motor at its rated voltage."),
    "no-added-load": Kind(
        WATCH, "No added load",
        "The new demand is not above the present electric demand: the farm brings the system no "
        "new load.", "Check the present demand."),
    "no-useful-load": Kind(
        WATCH, "No useful load",
        "Motor and pivot take no more than the present rotary converter gives them, so that cost "
        "per kW of useful load has no meaning.",
        "Check the present demand; the farm stands unranked."),
    "nothing-meets": Kind(
        WATCH, "No supply option meets every limit",
        "Each option fails at least one check; the least costly is shown.",
        "See the sheet What fails for each check and its remedy."),
    "asked-option-fails": Kind(
        WATCH, "The supply option that is asked for fails a limit",
        "The row asks for an option that fails a check, though another one would fail none.",
        "Write auto, so that the program chooses, or mend what fails."),
    "price-step-ignored": Kind(
        WATCH, "A price step that is not used", "Only lines are priced in steps.",
        "Clear the cell 'From', or mend the item."),
    "cost-year-old": Kind(
        WATCH, "Prices of another year", "Prices were taken years before the rules' year.",
        "Bring the price list up to date."),
    "incentive-differs": Kind(
        WATCH, "The approved incentive is not what the rules give",
        "The amount in the workbook differs from the one computed.",
        "See the row's costs, and the rules in force."),
    "share-above-farm-cap": Kind(
        NOTE, "The cooperative's share is cut to the cap per farm",
        "By the rules of cost sharing the cooperative would pay more for the farm than its cap.",
        "Tell the member of the larger share, or have the board lift the cap."),
    "known-too-little": Kind(
        WATCH, "Too little is known of a ranked farm for money",
        "The farm qualifies as far as it is known. The rule knowledge_for_money asks for cells "
        "that are blank, so that it takes no budget.",
        "Fill the cells, or have the board decide by name: funding choice 'must fund'."),
    "must-fund-unranked": Kind(
        WATCH, "A farm that must be funded cannot be",
        "The row says 'must fund', and the farm does not qualify or is not assessed.",
        "Mend what keeps the farm from qualifying, or clear its funding choice."),
    "budget-set-impossible": Kind(
        WATCH, "The farms that must be funded do not fit",
        "The farms that must be funded exceed the budget, a feeder or a shared line's other farms.",
        "Raise the budget, free capacity, or clear a funding choice."),
    "set-limit-unmet": Kind(
        WATCH, "A rule about the whole set leaves no farm in it",
        "The rules ask a ratio or a cost per kW of the best set that no farm reaches, nor farms "
        "of one line together: the best set is empty.",
        "Change the rule on the Program sheet; 0 is no such rule."),
    "account-blank": Kind(
        WATCH, "A farm has no member account under a cap per account",
        "The rules cap what all farms of one account may get. The row names no account, so that "
        "the farm counts as an account of its own.",
        "Type the account's name in the row, the same on each of its farms."),
    "feeder-unbalanced": Kind(
        WATCH, "A feeder's voltage may be out of balance",
        "With the phases that keep it least, the upper estimate of voltage unbalance at the "
        "weakest tap is above the program's limit.",
        "Study the feeder's phases with its own model before the farms are connected."),
    "line-use-exceeds": Kind(
        ERROR, "More of a shared line is used than there is",
        "The farm would leave the shared line beyond its end.",
        "Mend the feet that are used, or the line's length on the Shared lines sheet."),
    "line-counted-twice": Kind(
        WATCH, "A shared line may be counted twice",
        "The farm's own line is as long as what it uses of its shared line, or up to twice as "
        "long: it may contain it.",
        "Give the farm's own spur beyond the shared line alone; if it is this long, leave it."),
    "limit-exceeded": Kind(
        WATCH, "The funded farms take more than there is",
        "The ranking's line does not look at the Limits sheet; the best set does.",
        "Provide for more, fund the best set (rule budget_method), or change the row of Limits."),
    "feeder-over-capacity": Kind(
        WATCH, "A feeder would be overloaded",
        "The added load of its candidates is above the feeder's spare capacity.",
        "Choose among the candidates, or strengthen the feeder."),
    **SEASON_KINDS,
}
