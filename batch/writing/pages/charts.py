"""The charts of the board's page, as SVG that stands in the page itself.

The same figures give the same bytes: no date, no random names, no settings of the machine. Series
differ by hatch, marker or place and not by colour alone, so that a grey print tells them apart.
Plain numbers come in; the page prints the table behind each chart.
"""

import io
import re
import warnings

import matplotlib
import numpy as np
from markupsafe import Markup, escape
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

INK, TEAL, OCHRE, SAND, GREY = "#1e2a2f", "#1f4e5f", "#c8923a", "#e6dcc6", "#5b6468"
HATCH = "////"
WIDTH_IN = 4.9  # 353 units: on a narrow screen a unit is a pixel
LETTER_IN = 0.068  # mean width of a letter of the text size
LINES_IN_A_ROW, MOST_EDGED = 3, 150
LOOK = {
    "svg.fonttype": "none", "svg.hashsalt": "chart", "text.parse_math": False,
    "font.family": "sans-serif", "font.sans-serif": ["DejaVu Sans"], "font.size": 8.5,
    "text.color": INK, "axes.labelcolor": INK, "axes.edgecolor": GREY, "xtick.color": INK,
    "ytick.color": INK, "axes.spines.top": False, "axes.spines.right": False,
    "axes.linewidth": 0.7, "axes.axisbelow": True, "grid.color": "#ded8ca", "grid.linewidth": 0.6,
    "hatch.linewidth": 0.7, "legend.frameon": False, "legend.fontsize": 8.5,
    "axes.titlesize": 8.5, "axes.unicode_minus": False}


def drawn(name: str, title: str, text: str, draw, *figures) -> Markup:
    """The chart of a drawing function as SVG with a title and a text in its stead."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a sign that the measuring font lacks is no fault
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(LOOK)
        figure = draw(*figures)
        FigureCanvasSVG(figure)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return Markup(_in_page(out.getvalue(), name, title, text))


def _in_page(svg, name, title, text):
    """The bare element: names that are unique on the page and only those that are used, no style
    that reaches beyond it."""
    body = svg[svg.index("<svg"):]
    body = re.sub(r"\s*<metadata>.*?</metadata>|\s*<style.*?</style>", "", body, flags=re.DOTALL)
    body = body.replace("xlink:href", "href")
    used = set(re.findall(r'(?:url\(#|href="#)([^")]+)', body))
    body = re.sub(r' id="([^"]*)"', lambda m: m.group() if m.group(1) in used else "", body)
    body = re.sub(r'( id="|url\(#|href="#)', rf"\g<1>{name}-", body)
    box = re.search(r'viewBox="[^"]*"', body).group()
    inside = body[body.index(">") + 1:]
    return (f'<svg class="chart" {box} role="img" aria-labelledby="{name}-title {name}-text" '
            f'stroke-linejoin="round"><title id="{name}-title">{escape(title)}</title>'
            f'<desc id="{name}-text">{escape(text)}</desc>{inside}')


def _axes(height_in, *, left_in=0.55, bottom_in=0.42, top_in=0.12, right_in=0.2, rows=1,
          columns=1):
    """A figure and its axes, margins in inches."""
    figure = Figure(figsize=(WIDTH_IN, height_in))
    axes = figure.subplots(rows, columns)
    figure.subplots_adjust(left=left_in / WIDTH_IN, right=1 - right_in / WIDTH_IN,
                           bottom=bottom_in / height_in, top=1 - top_in / height_in)
    return figure, axes


def _names_axes(names, bar_in=0.34, **margins):
    """Axes with a place for a name per bar, the first on top."""
    longest = max(map(len, names))
    margins = {"left_in": min(0.2 + LETTER_IN * longest, 2.0), "top_in": 0.1} | margins
    height = margins["top_in"] + 0.45 + bar_in * max(len(names), 2)
    figure, axes = _axes(height, **margins)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    return figure, axes


def short(value: float, sign: str = "") -> str:
    """A number for an axis or a bar: 950, 12k, 1.3M."""
    for size, unit in ((1e6, "M"), (1e3, "k")):
        if abs(value) >= 0.9995 * size:
            text = f"{abs(value) / size:.3g}{unit}"
            break
    else:
        text = f"{abs(value):.3g}"
    return ("-" if value < 0 else "") + sign + text


def _dollars(axis):
    axis.set_major_locator(MaxNLocator(5))
    axis.set_major_formatter(FuncFormatter(lambda value, _: short(value, "$")))


def _clipped(name, most=20):
    return name if len(name) <= most else name[:most - 1] + "\u2026"


def ranking(cost_usd, usd_per_kw, is_funded, budget_usd, load):
    """Farms in the ranking's order: width is a farm's incentive cost, height its cost per kW of
    `load`."""
    figure, axes = _axes(2.6, top_in=0.62)
    edges = np.concatenate([[0.0], np.cumsum(cost_usd)])
    axes.stairs(np.where(is_funded, usd_per_kw, 0), edges, fill=True, color=TEAL, label="funded")
    axes.stairs(np.where(is_funded, 0, usd_per_kw), edges, fill=True, facecolor=SAND, hatch=HATCH,
                edgecolor=GREY, linewidth=0, label="not funded")
    if len(cost_usd) <= MOST_EDGED:
        axes.vlines(edges[1:], 0, usd_per_kw, color="white", linewidth=0.8)
    axes.set_ylim(bottom=0)
    axes.set_xlim(0, max(edges[-1], budget_usd or 0) * 1.02 or 1)
    if budget_usd is not None:
        axes.axvline(budget_usd, color=INK, linewidth=1.2, linestyle="--", label="budget line")
    _dollars(axes.xaxis)
    _dollars(axes.yaxis)
    axes.set_xlabel("running total of incentive cost, best farm first")
    axes.set_title(f"incentive cost per kW of {load}", loc="left", pad=22)
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=3, handlelength=1.6)
    return figure


def payers(names, usd):
    """What each party pays of the whole work."""
    figure, axes = _names_axes(names, right_in=1.05)
    axes.barh(range(len(names)), usd, height=0.62,
              color=[TEAL, OCHRE, SAND, "white"][:len(names)], edgecolor=INK, linewidth=0.7,
              hatch=["", "", HATCH, "xxx"][:len(names)])
    whole = sum(usd)
    for k, value in enumerate(usd):
        part = f"{100 * value / whole:.0f} of 100 dollars" if whole else ""
        axes.annotate(part, (value, k), (5, 0), textcoords="offset points", va="center")
    axes.set_xlim(0, max([*usd, 1]) * 1.0)
    _dollars(axes.xaxis)
    return figure


def money(names, usd):
    """A year's money in one bar, part behind part."""
    figure, axes = _axes(0.85, bottom_in=0.3, top_in=0.34, left_in=0.15)
    starts = np.concatenate([[0.0], np.cumsum(usd)])
    for k, (name, value) in enumerate(zip(names, usd)):
        axes.barh(0, value, left=starts[k], height=0.6, label=name, edgecolor=INK, linewidth=0.7,
                  color=[INK, TEAL, OCHRE, "white"][k], hatch=["", "", HATCH, ""][k])
    axes.set_yticks([])
    axes.set_xlim(0, starts[-1] or 1)
    _dollars(axes.xaxis)
    axes.legend(loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=4, handlelength=1.6)
    return figure


def promised(names, promised_kwh, metered_kwh):
    """Metered energy over promised; on the line as much came as was promised."""
    figure, axes = _axes(2.6, left_in=0.75, top_in=0.3)
    most = 1.1 * max([*promised_kwh, *metered_kwh, 1.0]) / 1000
    axes.plot([0, most], [0, most], color=GREY, linewidth=1, linestyle="--")
    axes.plot(promised_kwh / 1000, metered_kwh / 1000, "o", color=TEAL)
    for name, x, y in list(zip(names, promised_kwh / 1000, metered_kwh / 1000))[:MOST_EDGED]:
        axes.annotate(_clipped(name), (x, y), (5, -9), textcoords="offset points")
    axes.set_xlim(0, most)
    axes.set_ylim(0, most)
    axes.set_xlabel("promised, MWh in a season")
    axes.set_title("metered, MWh", loc="left")
    return figure


def tests(names, ratio):
    """Benefit over cost of each test, and the line at which they are equal."""
    figure, axes = _names_axes(names, right_in=0.6)
    axes.barh(range(len(names)), ratio, height=0.6, color=TEAL)
    for k, value in enumerate(ratio):
        axes.annotate(f"{value:.2f}", (value, k), (4, 0), textcoords="offset points", va="center")
    axes.axvline(1, color=INK, linewidth=1.2, linestyle="--")
    axes.set_xlim(0, max([*ratio, 1.2]))
    axes.set_xlabel("benefit over cost")
    return figure


def feeders(names, funded_kw, ranked_kw, spare_kw):
    """Load of funded and of all ranked farms against each feeder's spare capacity."""
    figure, axes = _names_axes([_clipped(n) for n in names], bar_in=0.42, top_in=0.62,
                               right_in=0.35)
    place = np.arange(len(names))
    axes.barh(place, ranked_kw, height=0.66, facecolor=SAND, hatch=HATCH, edgecolor=GREY,
              linewidth=0.6, label="all ranked farms")
    axes.barh(place, funded_kw, height=0.36, color=TEAL, label="funded farms")
    known = ~np.isnan(spare_kw)
    axes.plot(spare_kw[known], place[known], linestyle="", marker="|", markersize=17,
              markeredgewidth=2.2, color=INK, label="spare capacity")
    axes.set_xlim(0, np.nanmax([*ranked_kw, *spare_kw, 1]) * 1.04)
    axes.grid(axis="x")
    axes.set_xlabel("kW at one time")
    axes.legend(loc="lower left", bbox_to_anchor=(-0.2, 1.0), ncols=3, handlelength=1.6,
                columnspacing=1.2)
    return figure


def years(year, base_usd, low_usd, high_usd):
    """Cumulative benefit as studied, and the band that 80 of 100 futures stay in."""
    figure, axes = _axes(2.4, left_in=0.6, right_in=1.12)
    axes.fill_between(year, low_usd, high_usd, facecolor=SAND, linewidth=0)
    for edge in (low_usd, high_usd):
        axes.plot(year, edge, color=GREY, linewidth=0.8)
    axes.plot(year, base_usd, color=TEAL, linewidth=2, marker="o", markersize=3)
    axes.axhline(0, color=INK, linewidth=0.9)
    for edge, words in ((high_usd, "10 of 100\nend above"), (base_usd, "as studied"),
                        (low_usd, "10 of 100\nend below")):
        axes.annotate(words, (year[-1], edge[-1]), (6, 0), textcoords="offset points", va="center")
    axes.set_xlim(0, year[-1])
    axes.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=6))
    _dollars(axes.yaxis)
    axes.grid(axis="y")
    axes.set_xlabel("year after building")
    return figure


def tornado(names, low_pct, high_pct, low_usd, high_usd, base_usd):
    """The program's NPV with one driver low or high, the strongest on top."""
    figure, axes = _names_axes(names, bar_in=0.44, top_in=0.4, right_in=0.5)
    place = np.arange(len(names))
    axes.barh(place, low_usd - base_usd, left=base_usd, height=0.6, facecolor=SAND, hatch=HATCH,
              edgecolor=INK, linewidth=0.7, label="driver low")
    axes.barh(place, high_usd - base_usd, left=base_usd, height=0.6, color=TEAL,
              label="driver high")
    axes.axvline(base_usd, color=INK, linewidth=1)
    for k in place:
        for usd, pct in ((low_usd[k], low_pct[k]), (high_usd[k], high_pct[k])):
            is_left = usd < base_usd
            axes.annotate(f"{pct:+.0f}%", (usd, k), (-3 if is_left else 3, 0),
                          textcoords="offset points", va="center",
                          ha="right" if is_left else "left")
    axes.margins(x=0.16)
    _dollars(axes.xaxis)
    axes.grid(axis="x")
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2, handlelength=1.6)
    return figure


def sets(names, goal, unit, is_funded):
    """What each way of giving out the budget reaches of the program's goal."""
    figure, axes = _names_axes(names, bar_in=0.28, right_in=0.75)
    bars = axes.barh(range(len(names)), goal, height=0.62, facecolor=SAND, hatch=HATCH,
                     edgecolor=INK, linewidth=0.7)
    for k, (bar, value) in enumerate(zip(bars, goal)):
        if is_funded[k]:
            bar.set(facecolor=TEAL, hatch="")
        axes.annotate(short(value, unit), (max(value, 0), k), (4, 0), va="center",
                      textcoords="offset points")
    axes.axvline(0, color=INK, linewidth=0.8)
    axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: short(value, unit)))
    return figure


def crossover(lines):
    """Cost of both ways of supply as farms are added to a shared line; `lines` are (name, farms,
    single-phase cost, three-phase cost)."""
    rows, columns = -(-len(lines) // LINES_IN_A_ROW), min(len(lines), LINES_IN_A_ROW)
    figure, axes = _axes(0.6 + 1.75 * rows, left_in=0.6, top_in=0.7, rows=rows, columns=columns)
    axes = np.atleast_1d(axes).ravel()
    for axis in axes[len(lines):]:
        axis.set_axis_off()
    for axis, (name, farms, single, three) in zip(axes, lines):
        axis.plot(farms, single, color=TEAL, marker="o", markersize=4, linewidth=1.6,
                  label="single-phase, a drive on each farm")
        axis.plot(farms, three, color="#94621a", marker="s", markersize=4.5, linewidth=1.6,
                  linestyle="--", label="three-phase line")
        axis.set_title(_clipped(name, 16), loc="left")
        axis.set_ylim(0, max([*single, *three, 1]) * 1.1)
        axis.set_xlim(0.7, max(farms) + 0.3)
        axis.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=4, min_n_ticks=1))
        axis.set_xlabel("farms on the line")
        axis.yaxis.set_major_locator(MaxNLocator(4))
        axis.yaxis.set_major_formatter(FuncFormatter(lambda value, _: short(value, "$")))
        axis.grid(axis="y")
    handles, labels = axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="upper left", bbox_to_anchor=(0.0, 1.0), ncols=2)
    figure.subplots_adjust(wspace=0.42, hspace=0.65)
    return figure
