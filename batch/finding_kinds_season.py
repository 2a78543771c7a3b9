"""The catalogue's findings about a season: states of applications, promises and meters."""

from batch.finding_kind import ERROR, WATCH, Kind

SEASON_KINDS = {
    "budget-overcommitted": Kind(
        WATCH, "More is promised than there is",
        "What was paid and committed is more than the budget and what is carried in.",
        "Raise the budget or what is carried in, or mend the amounts of the approved farms."),
    "approval-without-amount": Kind(
        WATCH, "An approval without an amount",
        "The farm was approved, and neither approved incentive nor cooperative's cost is given.",
        "Fill the amounts from the approval's papers, 0 where nothing was approved."),
    "approval-expired": Kind(
        WATCH, "An approval has expired",
        "The last day of the approval is before the study's date; its money is still committed.",
        "Set the status to withdrawn, or type the day to which the board extended it."),
    "history-impossible": Kind(
        WATCH, "States and dates that do not fit",
        "Status and dates of an application contradict each other.", "Mend one of them."),
    "rules-year-unknown": Kind(
        ERROR, "A rules year without rules",
        "The farm was approved by the rules of a year that this program does not hold.",
        "Type a year that it holds, or leave the cell blank."),
    "rules-year-unused": Kind(
        WATCH, "A rules year that is not used",
        "Only farms that were approved keep the rules of their year.",
        "Leave the cell blank, or mend the status."),
    "delivered-unknown-farm": Kind(
        WATCH, "A delivered row without its farm",
        "The row of the Delivered sheet names a candidate that the Candidates sheet does not list.",
        "Mend the name, or add the farm with its status."),
    "delivered-twice": Kind(
        WATCH, "A season of a farm twice", "Two rows of the Delivered sheet are of one farm's "
        "season; only the first counts.", "Delete one, or mend its season."),
    "delivered-without-service": Kind(
        WATCH, "Delivered, and not in service",
        "A farm with a row on the Delivered sheet has another status than in service.",
        "Set its status to in service, or delete the row."),
    "meter-unlikely": Kind(
        WATCH, "A meter reading that is unlikely",
        "The meter shows more demand than the transformer is rated for, or more energy than its "
        "demand can have used in the hours.",
        "Read the meter's multiplier and the hours again; another load may hang on the meter."),
}
