"""Water in the air: vapour pressure deficit and dew point from temperature and relative humidity.

Two approximations of the pressure of saturated vapour are in use, each where its source uses it:
that of FAO-56 for the deficit, and the Magnus form for the dew point. They differ by 0.2 % at
25 °C.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats

_MAGNUS_A, _MAGNUS_B_C, _MAGNUS_E0_KPA = 17.625, 243.04, 0.61094  # Alduchov and Eskridge (1996)


def saturation_kpa(temperature_c: ArrayLike) -> Floats:
    """Pressure of saturated water vapour.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature. [°C]

    Returns
    -------
    pressure : same shape
        [kPa]

    Notes
    -----
    ``0.6108 exp(17.27 T / (T + 237.3))``. For the mean of a varying temperature, average the
    pressures: the pressure at the mean temperature is too low.

    References
    ----------
    Allen RG, Pereira LS, Raes D, Smith M (1998) Crop evapotranspiration. FAO Irrigation and
    Drainage Paper 56, equation 11.

    Examples
    --------
    >>> round(float(saturation_kpa(24.5)), 3)
    3.075
    """
    t = np.asarray(temperature_c, dtype=float)
    return 0.6108 * np.exp(17.27 * t / (t + 237.3))


def deficit_kpa(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Vapour pressure deficit: how strongly the air dries what is in it.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature. [°C]
    humidity_pct : float or array
        Relative humidity, 0 to 100. [%]

    Returns
    -------
    deficit : array of the common shape
        [kPa]

    References
    ----------
    Allen RG and others (1998), FAO Irrigation and Drainage Paper 56, equations 11 and 17.

    Examples
    --------
    >>> round(float(deficit_kpa(25.0, 60.0)), 3)
    1.267
    """
    return saturation_kpa(temperature_c) * (1 - np.asarray(humidity_pct, dtype=float) / 100)


def magnus_kpa(temperature_c: ArrayLike) -> Floats:
    """Pressure of saturated water vapour by the Magnus form, which can be turned round.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature, -40 to 60. [°C]

    Returns
    -------
    pressure : same shape
        [kPa]

    Notes
    -----
    ``0.61094 exp(17.625 T / (T + 243.04))``; the factor 0.61094 is from memory, and does not touch
    the dew point.

    References
    ----------
    Alduchov OA, Eskridge RE (1996) Improved Magnus form approximation of saturation vapor pressure.
    Journal of Applied Meteorology 35:601-609,
    doi:10.1175/1520-0450(1996)035<0601:IMFAOS>2.0.CO;2.
    """
    t = np.asarray(temperature_c, dtype=float)
    return _MAGNUS_E0_KPA * np.exp(_MAGNUS_A * t / (t + _MAGNUS_B_C))


def dew_point_c(temperature_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Temperature at which the air's water begins to settle on a wall.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature, -40 to 60. [°C]
    humidity_pct : float or array
        Relative humidity, above 0 and up to 100. [%]

    Returns
    -------
    dew_point : array of the common shape
        Minus infinity for air without any water. [°C]

    Notes
    -----
    The Magnus form solved for the temperature; within 0.35 °C.

    References
    ----------
    Alduchov OA, Eskridge RE (1996), see `magnus_kpa`.

    Examples
    --------
    >>> round(float(dew_point_c(25.0, 60.0)), 1)
    16.7
    """
    vapour = magnus_kpa(temperature_c) * np.asarray(humidity_pct, dtype=float) / 100
    dry = vapour <= 0
    logarithm = np.log(np.where(dry, 1.0, vapour) / _MAGNUS_E0_KPA)
    return np.where(dry, -np.inf, _MAGNUS_B_C * logarithm / (_MAGNUS_A - logarithm))


def moved_humidity_pct(humidity_pct: ArrayLike, from_c: ArrayLike, to_c: ArrayLike) -> Floats:
    """Relative humidity of the same air, as moist, at another temperature; 100 % where it is wet.

    Parameters
    ----------
    humidity_pct : float or array
        Relative humidity where it was measured. [%]
    from_c, to_c : float or array
        Temperature there, and at the other place. [°C]

    Returns
    -------
    humidity_pct : array of the common shape
        [%]

    Examples
    --------
    >>> round(float(moved_humidity_pct(60.0, 22.0, 26.0)), 1)  # the same water in warmer air
    47.2
    """
    ratio = magnus_kpa(from_c) / magnus_kpa(to_c)
    return np.minimum(np.asarray(humidity_pct, dtype=float) * ratio, 100.0)
