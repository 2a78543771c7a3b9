"""Water, head and shaft power of an irrigation pump, and the machine that spreads the water."""

import numpy as np

FEET_PER_PSI = 2.31  # 144 in2/ft2 / 62.4 lb/ft3; irrigation handbooks print 2.31
GPM_FT_PER_HP = 3960  # 33,000 ft lbf/min per hp / 8.34 lb/gal, rounded as handbooks print it
GPM_H_PER_ACRE_INCH = 43_560 / 12 * 7.48052 / 60  # = 452.57, from 231 in3 per gallon
SQFT_PER_ACRE = 43_560


def pipe_friction_ft(*, flow_gpm, pipe_length_ft, pipe_diameter_in, pipe_c):
    """Friction head of a full pipe [ft].

    Valid for water near 60 F in turbulent flow, pipes of 2 in and more. Fittings are left out.

    Parameters
    ----------
    flow_gpm : array (n,) [gal/min]
    pipe_length_ft : array (n,) [ft], 0 where there is no pipe
    pipe_diameter_in : array (n,) [in], inside
    pipe_c : array (n,) [-], Hazen-Williams coefficient

    Returns
    -------
    array (n,) [ft]; 0 where the length is 0, NaN where anything else is unknown

    Equation: h = 0.2083 (100/C)^1.852 Q^1.852 / d^4.8655 per 100 ft.
    Sources: Hazen-Williams in the form of USDA NRCS National Engineering Handbook part 652;
    published cases: Illinois Administrative Code 77-906 Appendix A Exhibit I.
    """
    per_100_ft = (0.2083 * (100 / np.asarray(pipe_c, float)) ** 1.852
                  * np.asarray(flow_gpm, float) ** 1.852
                  / np.asarray(pipe_diameter_in, float) ** 4.8655)
    return np.where(np.asarray(pipe_length_ft) == 0, 0.0, per_100_ft * pipe_length_ft / 100)


def pipe_velocity_ft_s(*, flow_gpm, pipe_diameter_in):
    """Mean velocity in a full pipe [ft/s].

    Parameters
    ----------
    flow_gpm : array (n,) [gal/min]
    pipe_diameter_in : array (n,) [in], inside

    Returns
    -------
    array (n,) [ft/s]

    Equation: v = Q / A, with 448.83 gal/min per ft3/s and A = pi d^2 / 4 / 144.
    Sources: geometry.
    """
    return flow_gpm / 448.831 / (np.pi * np.asarray(pipe_diameter_in, float) ** 2 / 4 / 144)


def total_head_ft(*, pumping_lift_ft, elevation_gain_ft, pivot_pressure_psi, pipe_friction_ft,
                  fittings_allowance_pct):
    """Total dynamic head of the pump [ft].

    Valid for steady pumping; velocity head is left out (below 1 ft at usual velocities).

    Parameters
    ----------
    pumping_lift_ft, elevation_gain_ft, pipe_friction_ft : array (n,) [ft]
    pivot_pressure_psi : array (n,) [psi]
    fittings_allowance_pct : array (n,) or scalar [%] of pipe friction

    Returns
    -------
    array (n,) [ft]

    Equation: H = lift + elevation + 2.31 p + friction (1 + allowance / 100).
    Sources: USDA NRCS National Engineering Handbook part 652.
    """
    return (pumping_lift_ft + elevation_gain_ft + FEET_PER_PSI * pivot_pressure_psi
            + pipe_friction_ft * (1 + fittings_allowance_pct / 100))


def water_power_hp(*, flow_gpm, total_head_ft):
    """Power that the water takes up [hp].

    Parameters
    ----------
    flow_gpm : array (n,) [gal/min]
    total_head_ft : array (n,) [ft]

    Returns
    -------
    array (n,) [hp]

    Equation: water hp = Q H / 3960.
    Sources: irrigation handbooks; published cases: tables of pumping power.
    """
    return flow_gpm * total_head_ft / GPM_FT_PER_HP


def shaft_power_hp(*, water_power_hp, pump_efficiency_pct):
    """Power at the pump's shaft [hp].

    Parameters
    ----------
    water_power_hp : array (n,) [hp]
    pump_efficiency_pct : array (n,) [%], above 0

    Returns
    -------
    array (n,) [hp]

    Equation: shaft hp = water hp / efficiency.
    Sources: USDA NRCS National Engineering Handbook part 652.
    """
    return water_power_hp / (np.asarray(pump_efficiency_pct, float) / 100)


def season_hours(*, irrigated_area_acre, gross_depth_in, flow_gpm):
    """Pumping hours that a season's depth asks for [h].

    Parameters
    ----------
    irrigated_area_acre : array (n,) [acre]
    gross_depth_in : array (n,) [in] per season, losses included
    flow_gpm : array (n,) [gal/min], above 0

    Returns
    -------
    array (n,) [h]

    Equation: t = 452.57 A d / Q (gpm-hours per acre-inch).
    Sources: definition of the acre-inch and the US gallon (231 in3).
    """
    return (irrigated_area_acre * gross_depth_in * GPM_H_PER_ACRE_INCH
            / np.asarray(flow_gpm, float))


def circle_area_acre(*, radius_ft):
    """Area of the circle that a pivot of that reach waters [acre].

    Parameters
    ----------
    radius_ft : array (n,) [ft], wetted radius

    Returns
    -------
    array (n,) [acre]

    Equation: A = pi R^2 / 43,560. Sources: geometry; published cases: USDA NRCS pivot tables.
    """
    return np.pi * np.asarray(radius_ft, float) ** 2 / SQFT_PER_ACRE


def towers_by_length(*, pivot_length_ft, tower_span_ft):
    """Number of towers of a pivot of that length.

    Parameters
    ----------
    pivot_length_ft : array (n,) [ft]
    tower_span_ft : array (n,) or scalar [ft], above 0

    Returns
    -------
    array (n,) [-]

    Equation: ceil(length / span). Sources: common practice, no source.
    """
    return np.ceil(np.asarray(pivot_length_ft, float) / tower_span_ft)


def tower_mean_duty(*, tower_count, tower_duty_pct):
    """Mean share of time that the towers' motors run [-].

    Inner towers travel shorter circles and run less: with equal spans the mean radius is
    (N + 1) / 2 spans, of an outer radius of N spans.

    Parameters
    ----------
    tower_count : array (n,) [-]
    tower_duty_pct : array (n,) [%], of the end tower

    Returns
    -------
    array (n,) [-]; 0 where there are no towers

    Equation: duty = p (N + 1) / (2 N). Sources: derived from the geometry.
    """
    towers = np.asarray(tower_count, float)
    mean_radius_share = (towers + 1) / np.where(towers == 0, np.nan, 2 * towers)
    return np.where(towers == 0, 0.0, np.asarray(tower_duty_pct) / 100 * mean_radius_share)
