"""Distribution transformers: standard size, loading, losses."""

import numpy as np


def next_standard_size(*, required, sizes):
    """Smallest standard size that is not below the need, in the need's own unit.

    NaN when the need is unknown or beyond the table: never the largest size instead.

    Parameters
    ----------
    required : array (n,) [any]
    sizes : array (m,) [same unit] ascending

    Returns
    -------
    array (n,) [same unit]

    Sources: selection rule of NFPA 70 240.4(B) and of catalogues; the table is an argument.
    Tested by: both sides of a size.
    """
    table = np.append(np.asarray(sizes, dtype=float), np.nan)  # past the end stands NaN
    return table[np.searchsorted(table[:-1], np.asarray(required, dtype=float))]


def transformer_loading_pct(*, service_kva, transformer_kva, harmonic_capacity_pu=1.0,
                            altitude_pct=100.0):
    """Loading of a transformer [% of what it may carry].

    loading = 100 kVA / (rating x I_max x share left at its height), I_max from
    `transformer_harmonic_capacity_pu`

    Parameters
    ----------
    service_kva : array (n,) [kVA] rms
    transformer_kva : array (n,) [kVA] rating
    harmonic_capacity_pu : array (n,) [per unit] permitted current with these harmonics
    altitude_pct : array (n,) [%] of the rating that is left at its height

    Returns
    -------
    array (n,) [%]

    Sources: definition; derating IEEE C57.110-2018, C57.91.
    Tested by: hand calculation.
    """
    permitted_kva = np.multiply(transformer_kva, harmonic_capacity_pu) * altitude_pct / 100.0
    return 100.0 * np.divide(service_kva, permitted_kva)


def transformer_loss_w(*, no_load_loss_w, load_loss_w, load_pct):
    """Loss of a transformer at a load [W]: no-load loss + load loss x (load/100)^2.

    Load loss is given at full load and its reference temperature; change of resistance with
    temperature is left out.

    Parameters
    ----------
    no_load_loss_w : array (n,) [W] at rated voltage
    load_loss_w : array (n,) [W] at rated current
    load_pct : array (n,) [% of rating]

    Returns
    -------
    array (n,) [W]

    Sources: IEEE C57.12.90 (loss tests); 10 CFR 431 subpart K appendix A uses the same square.
    Tested by: the efficiency rule at half load.
    """
    return no_load_loss_w + np.multiply(load_loss_w, np.square(np.divide(load_pct, 100.0)))


def annual_loss_kwh(*, no_load_loss_w, load_loss_w, load_pct, energized_hours, season_hours):
    """Energy lost in a transformer in a year [kWh].

    loss = (no-load W x hours energized + load-loss W (load/100)^2 x hours of pumping) / 1000

    Valid for a steady load during pumping, none outside it.

    Parameters
    ----------
    no_load_loss_w, load_loss_w : array (n,) [W]
    load_pct : array (n,) [% of rating] while pumping
    energized_hours : array (n,) [h/yr] 8760 unless switched off for the winter
    season_hours : array (n,) [h/yr] of pumping

    Returns
    -------
    array (n,) [kWh/yr]

    Sources: energy = power x time.
    Tested by: hand calculation.
    """
    load_w = transformer_loss_w(no_load_loss_w=0.0, load_loss_w=load_loss_w, load_pct=load_pct)
    return (np.multiply(no_load_loss_w, energized_hours) + load_w * season_hours) / 1000.0
