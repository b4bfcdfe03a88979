"""Exact conversions between customary and SI units, for the edge: the core computes in SI only.

Every factor is exact by definition (international yard and pound of 1959, the US gallon of 231
cubic inches, standard gravity); only the last bit of the floating-point product is rounded.
*Reference:* NIST Special Publication 811, appendix B (exact factors printed bold; from memory, each
rebuilt here from its definition). *Valid:* every finite number.
"""

from __future__ import annotations

MM_PER_IN = 25.4
UM_PER_MIL = 25.4
M2_PER_FT2 = 0.3048**2
M3_PER_FT3 = 0.3048**3
L_PER_GAL = 231 * 0.254**3  # 231 in3; a litre is a cubic decimetre and an inch 0.254 dm
L_PER_FL_OZ = L_PER_GAL / 128
G_PER_LB = 453.59237
N_PER_LBF = 0.45359237 * 9.80665
KPA_PER_PSI = N_PER_LBF / 0.0254**2 / 1000
M_S_PER_FPM = 0.3048 / 60
FT2_MIL_PER_GAL = 231 / 144 * 1000  # the "1604" of the trade: one gallon, one mil thick


def c_from_f(temperature_f: float) -> float:
    """Degrees Celsius from degrees Fahrenheit."""
    return (temperature_f - 32) * 5 / 9


def f_from_c(temperature_c: float) -> float:
    """Degrees Fahrenheit from degrees Celsius."""
    return temperature_c * 9 / 5 + 32


def um_from_mil(film_mil: float) -> float:
    """Micrometres from thousandths of an inch."""
    return film_mil * UM_PER_MIL


def mil_from_um(film_um: float) -> float:
    """Thousandths of an inch from micrometres."""
    return film_um / UM_PER_MIL


def mm_from_in(length_in: float) -> float:
    """Millimetres from inches."""
    return length_in * MM_PER_IN


def in_from_mm(length_mm: float) -> float:
    """Inches from millimetres."""
    return length_mm / MM_PER_IN


def m2_from_ft2(area_ft2: float) -> float:
    """Square metres from square feet."""
    return area_ft2 * M2_PER_FT2


def ft2_from_m2(area_m2: float) -> float:
    """Square feet from square metres."""
    return area_m2 / M2_PER_FT2


def m3_from_ft3(volume_ft3: float) -> float:
    """Cubic metres from cubic feet."""
    return volume_ft3 * M3_PER_FT3


def ft3_from_m3(volume_m3: float) -> float:
    """Cubic feet from cubic metres."""
    return volume_m3 / M3_PER_FT3


def l_from_gal(volume_gal: float) -> float:
    """Litres from US gallons."""
    return volume_gal * L_PER_GAL


def gal_from_l(volume_l: float) -> float:
    """US gallons from litres."""
    return volume_l / L_PER_GAL


def l_from_fl_oz(volume_fl_oz: float) -> float:
    """Litres from US fluid ounces."""
    return volume_fl_oz * L_PER_FL_OZ


def fl_oz_from_l(volume_l: float) -> float:
    """US fluid ounces from litres."""
    return volume_l / L_PER_FL_OZ


def kpa_from_psi(pressure_psi: float) -> float:
    """Kilopascals from pounds-force a square inch."""
    return pressure_psi * KPA_PER_PSI


def psi_from_kpa(pressure_kpa: float) -> float:
    """Pounds-force a square inch from kilopascals."""
    return pressure_kpa / KPA_PER_PSI


def m_s_from_fpm(velocity_fpm: float) -> float:
    """Metres a second from feet a minute."""
    return velocity_fpm * M_S_PER_FPM


def fpm_from_m_s(velocity_m_s: float) -> float:
    """Feet a minute from metres a second."""
    return velocity_m_s / M_S_PER_FPM


def g_per_l_from_lb_per_gal(content_lb_per_gal: float) -> float:
    """Grams a litre from pounds a US gallon."""
    return content_lb_per_gal * (G_PER_LB / L_PER_GAL)


def lb_per_gal_from_g_per_l(content_g_per_l: float) -> float:
    """Pounds a US gallon from grams a litre."""
    return content_g_per_l / (G_PER_LB / L_PER_GAL)


def m2_per_l_from_ft2_per_gal(rate_ft2_per_gal: float) -> float:
    """Square metres a litre from square feet a US gallon."""
    return rate_ft2_per_gal * (M2_PER_FT2 / L_PER_GAL)


def ft2_per_gal_from_m2_per_l(rate_m2_per_l: float) -> float:
    """Square feet a US gallon from square metres a litre."""
    return rate_m2_per_l / (M2_PER_FT2 / L_PER_GAL)
