"""What became of what was promised: each farm in service against its meter, and all together."""

import numpy as np
import pandas as pd

from batch.columns.delivered import APPROVED_KEYS, DELIVERED_FARMS, REALIZATION
from batch.portfolio.realization import ratio_of_sums

GAL_PER_ACRE_FT = 325_851.0  # 43,560 ft3 of 7.4805 gal
NEAR_PCT = 10.0  # what a season's hours, water or load may differ by without a word
EQUAL = ("realization_kwh_equal_hours_pct", "realization_kwh_equal_water_pct")
# Measure -> promised, delivered.
MEASURES = {"added load [kW]": ("approved_added_load_kw", "metered_kw"),
            "energy [kWh]": ("approved_energy_kwh", "metered_kwh"),
            "energy for equal hours [kWh]": ("approved_energy_kwh", EQUAL[0]),
            "energy for equal water [kWh]": ("approved_energy_kwh", EQUAL[1]),
            "project cost [USD]": ("approved_project_cost_usd", "final_project_cost_usd"),
            "incentive and cooperative's cost [USD]": ("promised_usd", "paid_usd")}


def delivered_farms(inputs, results: pd.DataFrame) -> pd.DataFrame:
    """A row for each row of the Delivered sheet whose farm is known, in the sheet's order."""
    rows = inputs.delivered
    if rows.empty:
        return pd.DataFrame(columns=list(DELIVERED_FARMS.by_key))
    row_of = dict(zip(inputs.candidates["candidate_id"], inputs.candidates.index))
    farm = rows["candidate_id"].map(row_of)
    rows, farm = rows[farm.notna()], farm.dropna().astype(int)
    out = rows.copy()
    for key in APPROVED_KEYS:
        out[key] = rows[key].fillna(pd.Series(inputs.candidates.loc[farm, key].to_numpy(float),
                                              rows.index))
    study = results.loc[farm].set_axis(rows.index)
    out["planned_hours"] = study["season_hours"].astype(float)
    out["planned_acre_ft"] = (inputs.candidates.loc[farm, "flow_gpm"].set_axis(rows.index)
                              * out["planned_hours"] * 60.0 / GAL_PER_ACRE_FT)
    out["promised_usd"] = _both(out, "approved")
    out["paid_usd"] = paid_of(rows, out)
    ratios = {"realization_kw_pct": ("metered_kw", "approved_added_load_kw"),
              "realization_kwh_pct": ("metered_kwh", "approved_energy_kwh"),
              "realization_cost_pct": ("final_project_cost_usd", "approved_project_cost_usd")}
    for key, (has, promised) in ratios.items():
        out[key] = 100.0 * _over(out[has], out[promised])
    for what, planned, was in (("hours", "planned_hours", "hours_run"),
                               ("water", "planned_acre_ft", "water_acre_ft")):
        share = _over(out[planned], out[was])
        out[f"realization_kwh_equal_{what}_pct"] = out["realization_kwh_pct"] * share
    out["promised_usd_per_kw"] = _over(out["promised_usd"], out["approved_added_load_kw"])
    out["paid_usd_per_kw"] = _over(out["paid_usd"], out["metered_kw"])
    out["told"] = [_told(row) for row in out.to_dict("records")]
    return out[list(DELIVERED_FARMS.by_key)]


def paid_of(rows, approved) -> pd.Series:
    """What was paid by each row [USD]: as it says, each part of it else as approved; NaN where
    neither is known."""
    parts = pd.DataFrame({of: rows[f"paid_{of}_usd"].fillna(approved[f"approved_{of}_usd"])
                          for of in ("incentive", "cooperative")})
    return parts.sum(axis=1, min_count=1)


def realization(delivered: pd.DataFrame) -> pd.DataFrame:
    """A row for each measure: the sums of what is known of both, their ratio and its interval."""
    rows = []
    for measure, (promised, has) in MEASURES.items() if len(delivered) else ():
        x, y = delivered[promised].astype(float), amount_of(delivered, has)
        known = x.notna() & y.notna()
        found = ratio_of_sums(promised=x[known], delivered=y[known])
        rows.append({"measure": measure, "promised": x[known].sum(),
                     "delivered": y[known].sum(), "ratio": found.ratio,
                     "standard_error": found.standard_error, "low_90": found.low,
                     "high_90": found.high, "rows": float(known.sum()),
                     "rows_unknown": float((~known).sum())})
    return pd.DataFrame(rows, columns=list(REALIZATION.by_key))


def amount_of(delivered, key) -> pd.Series:
    """What a measure counts as delivered; of a percentage that part of the promised energy."""
    values = delivered[key].astype(float)
    return values * delivered["approved_energy_kwh"] / 100.0 if key in EQUAL else values


def _both(frame, prefix):
    return frame[[f"{prefix}_incentive_usd", f"{prefix}_cooperative_usd"]].sum(axis=1, min_count=1)


def _over(one, other):
    """A quotient; NaN where nothing stands under the line."""
    return one / other.where(other > 0)


def _told(row) -> str:
    """What hours, water and demand tell of the difference; no more than that."""
    texts = []
    for is_far, what, was, planned, unit in (
            (_is_far(row["hours_run"], row["planned_hours"]), "It ran", row["hours_run"],
             row["planned_hours"], "hours"),
            (_is_far(row["water_acre_ft"], row["planned_acre_ft"]), "It pumped",
             row["water_acre_ft"], row["planned_acre_ft"], "acre-ft")):
        if is_far:
            texts.append(f"{what} {was:,.0f} of {planned:,.0f} planned {unit}.")
    for what, other in (("hours", "hours_run"), ("water", "water_acre_ft")):
        equal = row[f"realization_kwh_equal_{what}_pct"]
        if not np.isnan(equal) and _is_far(row["realization_kwh_pct"], 100.0):
            is_told = not _is_far(equal, 100.0)
            texts.append(f"For equal {what} its energy is {equal:.0f} %"
                         + (f": the {what} explain the difference." if is_told else
                            f"; the {what} do not explain the difference."))
    if _is_far(row["metered_kw"], row["approved_added_load_kw"]):
        more = "above" if row["metered_kw"] > row["approved_added_load_kw"] else "below"
        texts.append(f"Its demand is {more} what was promised; what else its meter serves, and the "
                     "lift, are not known here.")
    if row["final_project_cost_usd"] > row["approved_project_cost_usd"]:
        over = row["final_project_cost_usd"] - row["approved_project_cost_usd"]
        texts.append(f"It cost {over:,.2f} USD more than approved.")
    if np.isnan(row["metered_kwh"]) and np.isnan(row["metered_kw"]):
        texts.append("No meter reading is given.")
    return " ".join(texts)


def _is_far(one, other) -> bool:
    return bool(abs(one - other) > NEAR_PCT / 100.0 * abs(other))  # False where one is not known
