"""What thin air takes from apparatus that air cools: drives, transformers, motors."""

import numpy as np

FOOT_M = 0.3048
FULL_RATING_M = 1000.0  # ratings hold up to here
# Percent of the rating for each 100 m above it.
DRIVE_LOSS_PCT = 1.0
TRANSFORMER_LOSS_PCT = 0.4
# Motors: the service factor is for up to 3,300 ft; up to 9,000 ft it is given up instead.
FULL_SERVICE_FACTOR_FT, NO_SERVICE_FACTOR_FT = 3300.0, 9000.0
NAMEPLATE_PCT = 100.0


def rating_at_height_pct(*, elevation_ft, loss_pct):
    """Share of a rating that is left at a height above the sea [%].

    share = 100 - loss x max(0, height - 1000 m) / 100 m

    For ambient air of 40 C; up to 4,000 m. Cooler air, which gives some of it back, is left out.

    Parameters
    ----------
    elevation_ft : array (n,) [ft]
    loss_pct : scalar [% for each 100 m above 1,000 m], 1 for drives, 0.4 for oil-immersed
        transformers that air cools by itself

    Returns
    -------
    array (n,) [%]

    Sources: drives: makers' data, output current from 1,000 to 4,000 m, the maker decides;
    transformers: IEEE C57.91, loading above 1,000 m (memory).
    Tested by: a maker's curve at 2,000, 3,000 and 4,000 m; hand calculation.
    """
    above_m = np.maximum(np.asarray(elevation_ft, dtype=float) * FOOT_M - FULL_RATING_M, 0.0)
    return 100.0 - loss_pct * above_m / 100.0


def motor_loading_limit_pct(*, elevation_ft, limit_pct):
    """Largest load of a motor in percent of its nameplate, at a height above the sea [%].

    Up to 3,300 ft the limit as it is; up to 9,000 ft at most the nameplate, since the service
    factor's reserve of temperature is used up; above that unknown (NaN): the maker decides.

    Parameters
    ----------
    elevation_ft : array (n,) [ft]
    limit_pct : array (n,) [%] up to 3,300 ft

    Returns
    -------
    array (n,) [%]

    Sources: NEMA MG 1, 14.4: motors of service factor 1.15 run at 1.0 up to 9,000 ft (memory).
    Tested by: both sides of 3,300 and 9,000 ft.
    """
    height_ft = np.asarray(elevation_ft, dtype=float)
    return np.select([height_ft <= FULL_SERVICE_FACTOR_FT, height_ft <= NO_SERVICE_FACTOR_FT],
                     [limit_pct, np.minimum(limit_pct, NAMEPLATE_PCT)], np.nan)
