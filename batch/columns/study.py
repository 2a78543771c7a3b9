"""The `Study` sheet: one key and value per line."""

from batch.columns.column import Column, Sheet

# As the post office writes them, and as the irrigation survey's table has them.
STATES = tuple("""
    AK AL AR AZ CA CO CT DE FL GA HI IA ID IL IN KS KY LA MA MD ME MI MN MO MS MT NC ND NE NH NJ NM
    NV NY OH OK OR PA RI SC SD TN TX UT VA VT WA WI WV WY""".split())

BUDGETS = ("program_budget_usd", "program_budget_year_2_usd", "program_budget_year_3_usd")

STUDY = Sheet(
    name="Study",
    is_table=False,
    help="What this study is, who made it and which program year's rules it follows.",
    columns=(
        Column(key="study_name", label="Study name", group="study", kind="text", required=True,
               help="Names the run folder and heads every page.", example="Example study"),
        Column(key="cooperative_name", label="Cooperative", group="study", kind="text",
               help="Printed on the reports.", example="Example Electric Cooperative"),
        Column(key="state", label="State", group="study", kind="choice", choices=STATES,
               help="Two letters, as NE. The list's spread is then shown beside the public "
                    "irrigation survey's figures for the state. Blank: not compared."),
        Column(key="rules_year", label="Rules year", group="study", kind="integer", required=True,
               minimum=2000, maximum=2100, decimals=0, unit="",
               help="The program year whose dated rule set is in force for this study."),
        Column(key="study_date", label="Study date", group="study", kind="date",
               help="The date of the study, typed as a date. The clock is never read for it."),
        Column(key="prepared_by", label="Prepared by", group="study", kind="text",
               help="Name or role of the engineer who answers for the workbook."),
        Column(key="program_budget_usd", label="Program budget", group="study", unit="USD",
               minimum=0, decimals=0,
               help="What the board has set aside for incentive cost in this program year. "
                    "Blank: no budget line is drawn."),
        Column(key="carried_in_usd", label="Carried in", group="study", unit="USD",
               minimum=0, decimals=2,
               help="Money of earlier program years that this year's budget adds: what they have "
                    "committed and not paid, and what the board carries over. Blank: none."),
        *(Column(key=f"program_budget_year_{year}_usd", label=f"Budget of program year {year}",
                 group="study", unit="USD", minimum=0, decimals=0,
                 help=f"Incentive budget of the {words} program year, where the best set may "
                      "spread farms over several years. Blank: none.")
          for year, words in ((2, "second"), (3, "third"))),
        Column(key="currency", label="Currency", group="study", kind="choice", choices=("USD",),
               default="USD", help="All money is in US dollars."),
        Column(key="notes", label="Notes", group="study", kind="text",
               help="Anything a reader of the study should know."),
    ),
)
