"""The dictionary of the list's spread beside the irrigation survey's figures."""

from batch.columns.column import Sheet, grouped
from batch.columns.column import output_text as _text
from batch.columns.column import output_value as _value

LIST_SPREAD = Sheet(
    name="List spread",
    help="The list's own spread beside the public irrigation survey's figures for the state. Far "
         "apart is a watch, never an error: a list may be of other farms than the state's mean.",
    columns=grouped(
        "list",
        _text("quantity", "Quantity", "What is compared."),
        _text("unit", "Unit", "Of the figures."),
        _value("farms", "Farms", "", 0, "Of which it is known; for a share, farms with an engine."),
        _value("low", "Low of the list", "", 1, "10 of 100 farms have less. Blank for a share."),
        _value("middle", "Median of the list", "", 1, "Half of the farms have less. For a share: "
               "the share of the farms with an engine."),
        _value("high", "High of the list", "", 1, "90 of 100 farms have less. Blank for a share."),
        _value("survey", "Survey", "", 1, "For the state. Blank: the survey has none."),
        _text("survey_is", "What the survey's figure is", "It is not always the same thing."),
        _text("survey_source", "Source", "Of the survey's figure."),
    ))
