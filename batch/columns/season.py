"""The dictionary of the season's tables: the budget, who waits, and approved farms."""

from batch.columns.column import Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value

BUDGET = Sheet(
    name="Budget",
    help="Each program year's budget to the cent: budget and what is carried in are what is paid, "
         "committed, funded now and left.",
    columns=grouped(
        "budget",
        _value("program_year", "Program year", "", 0, "The year that the money is for."),
        _value("budget_usd", "Budget", "USD", 2, "As the Study sheet gives it."),
        _value("carried_in_usd", "Carried in", "USD", 2, "As the Study sheet gives it."),
        _value("paid_usd", "Paid", "USD", 2,
               "What was approved for farms that went into service in this year."),
        _value("committed_usd", "Committed", "USD", 2,
               "What was approved for farms that are approved or under construction."),
        _value("funded_now_usd", "Funded now", "USD", 2,
               "What the budget counts of the farms that this study funds."),
        _value("left_usd", "Left", "USD", 2, "Below zero where more is promised than there is.",
               worked="budget_usd + carried_in_usd - paid_usd - committed_usd - funded_now_usd"),
        _value("waiting_usd", "Waiting", "USD", 2,
               "What the farms ask that may be funded and are not; outside the budget."),
    ))

WAITING_LIST = Sheet(
    name="Waiting list",
    help="Who may be funded and is not, in the ranking's order, and what would have to be free.",
    columns=grouped(
        "budget",
        _value("place", "Place", "", 0, "In the waiting list."),
        _text("farms", "Farms", "A farm, or farms of one line that wait together."),
        _value("asks_usd", "Asks", "USD", 2,
               "What the budget would count of them, beside the funded ones and those before."),
        _value("so_far_usd", "Asked so far", "USD", 2, "With all that wait before."),
        _value("must_be_free_usd", "Must become free", "USD", 2,
               "How much more than is left would have to be there, with all that wait before."),
    ))

APPROVED_FARMS = Sheet(
    name="Approved farms",
    help="The farms that were approved, judged again with today's prices and loads by the rules "
         "that they were approved by. What was promised stays promised.",
    columns=grouped(
        "approval",
        _text("candidate_id", "Candidate", "As on the Candidates sheet."),
        _text("status", "Status", "As on the Candidates sheet."),
        _value("rules_year", "Rules year", "", 0, "The program year whose rules judge it."),
        _text("verdict", "Verdict today", "What it would be if it asked today."),
        _value("promised_usd", "Promised", "USD", 2,
               "Approved incentive and approved cooperative's cost."),
        _value("today_usd", "Today", "USD", 2, "The incentive cost that these rules give today."),
        _value("change_usd", "Today less promised", "USD", 2, "Nothing is paid or asked for it.",
               worked="today_usd - promised_usd"),
        _value("partners_left_usd", "Project cost by farms that left", "USD", 2,
               "What the project costs more because farms of its shared line have left."),
        _value("approved_added_load_kw", "Approved added load", "kW", 1, "As approved."),
        _value("added_load_kw", "Added load today", "kW", 1, "As judged again."),
        _value("load_change_kw", "Change of load", "kW", 1, "Today less approved.",
               worked="added_load_kw - approved_added_load_kw"),
        _value("approved_project_cost_usd", "Approved project cost", "USD", 0, "As approved."),
        _value("project_cost_usd", "Project cost today", "USD", 0, "As judged again."),
        _value("cost_change_usd", "Change of cost", "USD", 0, "Today less approved.",
               worked="project_cost_usd - approved_project_cost_usd"),
        _text("approval_expires", "Approval expires", "As on the Candidates sheet."),
        _text("told", "What changed", "In words."),
    ))
