"""Physical constants, once, with their source."""

from __future__ import annotations

GRAVITY_M_S2 = 9.80665
"""Standard gravity (ISO 80000-3)."""

AIR_KG_M3 = 1.225
"""Air at sea level and 15 degrees Celsius (standard atmosphere, ISO 2533)."""

STEEL_KG_M3 = 7850.0
"""Steel (from memory)."""
