"""The picture of the member's cash flow: a bar per year and the discounted sum as a line."""

import numpy as np

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 360, 190, 46, 8, 12, 24
ROUND_STEPS = (1, 2, 2.5, 5, 10)
MOST_YEARS_NAMED = 6


def flow_picture(flow_usd, summed_usd) -> dict | None:
    """Bars, line and scale for the template to draw; None where a year is unknown."""
    flow, summed = np.asarray(flow_usd, float), np.asarray(summed_usd, float)
    if not (np.isfinite(flow).all() and np.isfinite(summed).all()):
        return None
    ticks = _ticks(min(flow.min(), summed.min(), 0), max(flow.max(), summed.max(), 0))
    low, high = ticks[0], ticks[-1]

    def y(usd):
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (high - usd) / (high - low), 1)

    step = (WIDTH - LEFT - RIGHT) / len(flow)
    middle = [round(LEFT + step * (k + 0.5), 1) for k in range(len(flow))]
    bars = [{"x": round(x - 0.32 * step, 1), "width": round(0.64 * step, 1),
             "y": min(y(usd), y(0)), "height": round(abs(y(usd) - y(0)), 1),
             "is_cost": bool(usd < 0)} for x, usd in zip(middle, flow)]
    every = max(1, -(-len(flow) // MOST_YEARS_NAMED))
    return {"width": WIDTH, "height": HEIGHT, "left": LEFT, "right": WIDTH - RIGHT, "bars": bars,
            "zero": y(0), "points": list(zip(middle, map(y, summed))),
            "ticks": [{"y": y(usd), "text": _dollars(usd)} for usd in ticks],
            "years": [{"x": x, "text": k} for k, x in enumerate(middle) if k % every == 0]}


def _ticks(low, high):
    """Four to six round numbers that hold the range."""
    span = max(high - low, 1.0)
    power = 10.0 ** np.floor(np.log10(span / 4))
    step = next(s * power for s in ROUND_STEPS if s * power >= span / 5)
    first, last = np.floor(low / step), np.ceil(high / step)
    return [step * k for k in range(int(first), int(max(last, first + 1)) + 1)]


def _dollars(usd):
    text = f"${abs(usd) / 1000:,g}k" if abs(usd) >= 1000 else f"${abs(usd):,g}"
    return "-" + text if usd < 0 else text
