"""How numbers are written on a page: one rounding and one unit for each kind of quantity."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.figure.parts import Vector

NO_BREAK = "\u00a0"

DAY_MIN = 1440.0
"""Waits longer than a day follow from rules that are no surer than a tenth: their minutes would be no news."""


def _with_unit(number: str, unit: str) -> str:
    return f"{number}{NO_BREAK}{unit}"


def mass(mass_kg: float) -> str:
    """Mass with one decimal, two below 1 kg ('12.4 kg', '0.35 kg')."""
    return _with_unit(f"{mass_kg:.2f}" if mass_kg < 1 else f"{mass_kg:.1f}", "kg")


def length(length_mm: float) -> str:
    """Length in whole millimetres ('180 mm')."""
    return _with_unit(f"{length_mm:.0f}", "mm")


def size(size_mm: Vector) -> str:
    """Edges of a box, rounded up to whole millimetres so that it fits ('400 × 260 × 390 mm')."""
    return _with_unit(" × ".join(f"{math.ceil(round(edge, 3)):d}" for edge in size_mm), "mm").replace(" ", NO_BREAK)


def torque(torque_nm: float) -> str:
    """Torque with one decimal below 20 N·m ('6.2 N·m')."""
    return _with_unit(f"{torque_nm:.1f}" if torque_nm < 20 else f"{torque_nm:.0f}", "N·m")


def volume(volume_ml: float) -> str:
    """Dose, rounded up: to 1 ml, above 200 ml to 5 ml."""
    step = 1 if volume_ml <= 200 else 5
    return _with_unit(f"{math.ceil(round(volume_ml / step, 6)) * step:d}", "ml")


def force(force_n: float) -> str:
    """Force to two digits, rounded up: what is asked of an anchor ('270 N', '1.4 kN')."""
    return _two_digits(force_n, "N")


def pull(force_n: float) -> str:
    """Force that must not be exceeded, rounded down, with the mass that weighs as much ('32 N (3.2 kg)')."""
    kg = math.floor(round(force_n / GRAVITY_M_S2 * 10.0, 6)) / 10.0
    return f"{_with_unit(f'{math.floor(round(force_n, 6)):d}', 'N')} ({_with_unit(f'{kg:.1f}', 'kg')})"


def moment(moment_nm: float) -> str:
    """Moment to two digits, rounded up ('270 N·m')."""
    return _two_digits(moment_nm, "N·m")


def _two_digits(value: float, unit: str) -> str:
    if value <= 0:
        return _with_unit("0", unit)
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    rounded = math.ceil(round(value / step, 6)) * step
    return _with_unit(f"{rounded / 1000:.3g}", f"k{unit}") if rounded >= 1000 else _with_unit(f"{rounded:.3g}", unit)


def safety(ratio: float) -> str:
    """Safety to one decimal, rounded down; above 10 only that it is above."""
    if ratio > 10:
        return "> 10"
    return f"{math.floor(round(max(0.0, ratio) * 10, 6)) / 10:.1f}"


def speed(speed_m_s: float) -> str:
    """Speed in metres a second."""
    return _with_unit(f"{speed_m_s:.0f}", "m/s")


def litres(volume_l: float) -> str:
    """Volume of a coat, rounded up to 0.1 l."""
    return _with_unit(f"{math.ceil(round(volume_l * 10, 6)) / 10:.1f}", "l")


def temperature(temperature_c: float) -> str:
    """Temperature in whole degrees."""
    return _with_unit(f"{temperature_c:.0f}", "°C")


def area(area_mm2: float) -> str:
    """Area in square centimetres ('412 cm²')."""
    return _with_unit(f"{area_mm2 / 100:.0f}", "cm²")


def angle(angle_deg: float) -> str:
    """Angle in whole degrees, rounded down: it is a margin."""
    return f"{math.floor(angle_deg):d}°"


def duration(minutes: float) -> str:
    """Duration rounded up: to 5 min above half an hour, to full hours above a day ('1 h 20 min')."""
    whole = math.ceil(round(minutes, 6))
    if whole > 30:
        step = 60 if whole > DAY_MIN else 5
        whole = math.ceil(whole / step) * step
    hours, rest = divmod(whole, 60)
    if not hours:
        return _with_unit(str(rest), "min")
    if not rest:
        return _with_unit(str(hours), "h")
    return f"{hours}{NO_BREAK}h{NO_BREAK}{rest:02d}{NO_BREAK}min"


def span(minutes: float) -> str:
    """A time that must not be exceeded, rounded down to whole minutes."""
    whole = math.floor(round(minutes, 6))
    hours, rest = divmod(whole, 60)
    if not hours:
        return _with_unit(str(rest), "min")
    if not rest:
        return _with_unit(str(hours), "h")
    return f"{hours}{NO_BREAK}h{NO_BREAK}{rest:02d}{NO_BREAK}min"


MM_PER_IN, KG_PER_LB, NM_PER_LBF_FT = 25.4, 0.45359237, 1.3558179483314
"""Inch and pound are exact by definition (NIST SP 811, appendix B.8); the pound-force foot follows from them."""
LEAST_LBF_FT = 20.0
"""From this torque in N m pound-force feet, below it pound-force inches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """How lengths, masses, torques and temperatures are written on the pages of one book.

    Parameters
    ----------
    has_inches
        Whether inch, pound and degree Fahrenheit stand beside the metric value, in brackets.
    """

    has_inches: bool = False

    def length(self, length_mm: float) -> str:
        """Length ('180 mm (7.1 in)')."""
        return self._beside(length(length_mm), f"{length_mm / MM_PER_IN:.1f}", "in")

    def size(self, size_mm: Vector) -> str:
        """Edges of a box, rounded up."""
        inches = " × ".join(f"{math.ceil(round(edge / MM_PER_IN * 10, 3)) / 10:.1f}" for edge in size_mm)
        return self._beside(size(size_mm), inches, "in")

    def mass(self, mass_kg: float) -> str:
        """Mass ('12.4 kg (27.3 lb)')."""
        return self._beside(mass(mass_kg), f"{mass_kg / KG_PER_LB:.1f}", "lb")

    def torque(self, torque_nm: float) -> str:
        """Torque ('6.2 N·m (55 lbf·in)')."""
        feet = torque_nm / NM_PER_LBF_FT
        if torque_nm < LEAST_LBF_FT:
            return self._beside(torque(torque_nm), f"{feet * 12:.0f}", "lbf·in")
        return self._beside(torque(torque_nm), f"{feet:.0f}", "lbf·ft")

    def temperature(self, temperature_c: float) -> str:
        """Temperature ('23 °C (73 °F)')."""
        return self._beside(temperature(temperature_c), f"{temperature_c * 1.8 + 32:.0f}", "°F")

    def _beside(self, metric: str, number: str, unit: str) -> str:
        if not self.has_inches:
            return metric
        return f"{metric} ({_with_unit(number, unit).replace(' ', NO_BREAK)})"
