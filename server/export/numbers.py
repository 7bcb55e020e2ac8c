"""The only place where a figure becomes text: unit, decimals, currency, and the units switch."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from server.core.units import G_PER_OZ, GSM_PER_OZ_YD2, KG_PER_LB, M_PER_IN, M_PER_YD

Units = Literal["trade", "metric", "inch-pound"]
UNITS: tuple[Units, ...] = ("trade", "metric", "inch-pound")

_DECIMALS = {
    "¤": 2, "¤/kg": 3, "¤/m": 3, "¤/yd": 3, "¤/m²": 3, "¤/yd²": 3, "¤/lb": 3, "¤/h": 4, "¤/a": 2,
    "¤/kWh": 3, "¤/¤q": 6, "¤q": 2, "¤q/kg": 4, "share": 1, "share/a": 1, "×": 3, "threads": 0,
    "Ne": 2, "Nm": 2, "tex": 2, "den": 1, "dtex": 1, "turns/in": 2, "turns/m": 1, "αe": 2, "rpm": 0,
    "m/min": 1, "m/s": 1, "m/h": 2, "h/a": 0, "a": 1, "d": 0, "d/a": 0, "g/h": 1, "m": 2, "yd": 2,
    "in": 1, "cm": 1, "1/in": 1, "1/cm": 1, "1/m": 2, "kg": 2, "lb": 2, "t": 1, "g/m": 1, "g/m²": 1,
    "oz/yd²": 2, "oz/yd": 2, "1/(in·√Ne)": 2, "stops": 2, "min": 2, "1/h": 2, "looms": 0,
}  # fmt: skip
_MOVED: dict[Units, dict[str, tuple[float, str]]] = {
    "trade": {},
    "metric": {
        "oz/yd²": (GSM_PER_OZ_YD2, "g/m²"),
        "in": (M_PER_IN * 100, "cm"),
        "1/in": (1 / (M_PER_IN * 100), "1/cm"),
        "¤/yd": (1 / M_PER_YD, "¤/m"),
    },
    "inch-pound": {
        "¤/kg": (KG_PER_LB, "¤/lb"),
        "¤/m": (M_PER_YD, "¤/yd"),
        "¤/m²": (M_PER_YD * M_PER_YD, "¤/yd²"),
        "g/m": (M_PER_YD / G_PER_OZ, "oz/yd"),
        "g/m²": (1 / GSM_PER_OZ_YD2, "oz/yd²"),
        "m": (1 / M_PER_YD, "yd"),
        "kg": (1 / KG_PER_LB, "lb"),
        "cm": (1 / (M_PER_IN * 100), "in"),
    },
}


@lru_cache(maxsize=512)
def _way(unit: str, units: Units, currency: str) -> tuple[float, int | None, str]:
    factor, moved = _MOVED[units].get(unit, (1.0, unit))
    money = f"¤{moved[3:]}" if moved[:3].isupper() and moved[:3].isalpha() else moved
    decimals = _DECIMALS.get(moved, _DECIMALS.get(money))  # USD/kg as ¤/kg
    if moved in ("share", "share/a"):
        return factor * 100, 1, "%" if moved == "share" else "% a year"
    return factor, decimals, moved.replace("¤", currency)


class Writer:
    """Writes figures for one page: a units switch and the reporting currency."""

    def __init__(self, units: Units, currency: str) -> None:
        self.units = units
        self.currency = currency or "¤"

    def number(self, value: float, unit: str) -> float:
        """The figure in the shown unit, not rounded."""
        return value * _way(unit, self.units, self.currency)[0]

    def text(self, value: float, unit: str) -> str:
        """The figure alone, in the shown unit."""
        factor, decimals, _ = _way(unit, self.units, self.currency)
        moved = value * factor
        if decimals is None:
            return significant(moved)
        return minus(f"{moved:,.{decimals}f}")

    def signed(self, value: float, unit: str) -> str:
        """The figure with its sign, for differences."""
        text = self.text(value, unit)
        nothing = not any(digit in "123456789" for digit in text)
        return text.lstrip("−") if nothing else text if text.startswith("−") else f"+{text}"

    def unit(self, unit: str) -> str:
        """The unit as shown."""
        return _way(unit, self.units, self.currency)[2]

    def full(self, value: float, unit: str) -> str:
        """Figure and unit."""
        return f"{self.text(value, unit)} {self.unit(unit)}".strip()


def percent(share: float, *, signed: bool = False) -> str:
    """A share as people say it: two decimals at most, none that say nothing."""
    text = f"{share * 100:+.1f}" if signed else f"{round(share * 100, 2):g}"
    return f"{minus(text)} %"


def minus(text: str) -> str:
    """The text with a true minus sign."""
    return f"−{text[1:]}" if text.startswith("-") else text


def significant(value: float) -> str:
    """Six significant digits, without a needless tail."""
    return minus(f"{value:,.6g}")


def price_text(value: float) -> str:
    """A price in a seller's own unit, with as many digits as quotes have."""
    if value < 0.1:
        return significant(value)
    return f"{value:,.3f}" if value < 10 else f"{value:,.2f}"
