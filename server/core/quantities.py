"""Units of the engine, as types: `Tex`, `Share`, `MoneyPerKg` …

Every argument and result of a formula is annotated with one of these. Values are plain floats,
numpy arrays or tracing objects, so the static type is `Any`; the annotation carries the unit, the
hard limits (outside: refused) and the usual range (outside: a visible doubt).

Money is written with the generic currency sign ¤; pages put the reporting currency in its place.
`¤q` is the currency an offer is quoted in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any


@dataclass(frozen=True, slots=True)
class Quantity:
    """A unit with its hard limits.

    unit: as shown to people
    least, most: values outside are physically or commercially impossible; None is no limit
    above: the value must be greater than this (used for "not zero")
    """

    unit: str
    least: float | None = None
    most: float | None = None
    above: float | None = None


Number = Any  # a float, a numpy array, or a tracing object

Share = Annotated[Any, Quantity("share", least=0.0, most=1.0)]
LossShare = Annotated[Any, Quantity("share", least=0.0, most=0.95)]
CrimpShare = Annotated[Any, Quantity("share", least=0.0, most=1.0)]
SignedShare = Annotated[Any, Quantity("share", least=-1.0, most=10.0)]
Factor = Annotated[Any, Quantity("×", least=0.0)]
PositiveFactor = Annotated[Any, Quantity("×", above=0.0)]
Threads = Annotated[Any, Quantity("threads", least=0.0)]
Pieces = Annotated[Any, Quantity("pieces", least=0.0)]

Ne = Annotated[Any, Quantity("Ne", above=0.0)]
Nm = Annotated[Any, Quantity("Nm", above=0.0)]
Tex = Annotated[Any, Quantity("tex", above=0.0)]
TexOrNone = Annotated[Any, Quantity("tex", least=0.0)]
Dtex = Annotated[Any, Quantity("dtex", least=0.0)]
Denier = Annotated[Any, Quantity("den", least=0.0)]
TurnsPerInch = Annotated[Any, Quantity("turns/in", least=0.0)]
TurnsPerMetre = Annotated[Any, Quantity("turns/m", least=0.0)]
TwistMultiplier = Annotated[Any, Quantity("αe", above=0.0)]
TwistMultiplierMetric = Annotated[Any, Quantity("αm", above=0.0)]
TwistMultiplierTex = Annotated[Any, Quantity("αtex", above=0.0)]

Rpm = Annotated[Any, Quantity("rpm", above=0.0)]
MetrePerMinute = Annotated[Any, Quantity("m/min", above=0.0)]
MetrePerSecond = Annotated[Any, Quantity("m/s", least=0.0)]
MetrePerHour = Annotated[Any, Quantity("m/h", least=0.0)]
Hours = Annotated[Any, Quantity("h", least=0.0)]
HoursPerYear = Annotated[Any, Quantity("h", above=0.0)]
Years = Annotated[Any, Quantity("a", above=0.0)]
Days = Annotated[Any, Quantity("d")]
YearDays = Annotated[Any, Quantity("d/a", above=0.0)]
SharePerYear = Annotated[Any, Quantity("share/a", least=-1.0, most=10.0)]
GramPerHour = Annotated[Any, Quantity("g/h", above=0.0)]
KilogramPerHour = Annotated[Any, Quantity("kg/h", least=0.0)]

Metre = Annotated[Any, Quantity("m", least=0.0)]
Millimetre = Annotated[Any, Quantity("mm", least=0.0)]
Centimetre = Annotated[Any, Quantity("cm", least=0.0)]
Inch = Annotated[Any, Quantity("in", least=0.0)]
Yard = Annotated[Any, Quantity("yd", least=0.0)]
PerInch = Annotated[Any, Quantity("1/in", least=0.0)]
PerMetre = Annotated[Any, Quantity("1/m", least=0.0)]
PerCentimetre = Annotated[Any, Quantity("1/cm", least=0.0)]
CoverFactor = Annotated[Any, Quantity("1/(in·√Ne)", least=0.0)]

Kilogram = Annotated[Any, Quantity("kg", least=0.0)]
Pound = Annotated[Any, Quantity("lb", least=0.0)]
Gram = Annotated[Any, Quantity("g", least=0.0)]
Tonne = Annotated[Any, Quantity("t", least=0.0)]
GramPerMetre = Annotated[Any, Quantity("g/m", least=0.0)]
GramPerSquareMetre = Annotated[Any, Quantity("g/m²", least=0.0)]
OuncePerSquareYard = Annotated[Any, Quantity("oz/yd²", least=0.0)]
OuncePerYard = Annotated[Any, Quantity("oz/yd", least=0.0)]

Money = Annotated[Any, Quantity("¤")]
MoneyPerKg = Annotated[Any, Quantity("¤/kg")]
PricePerKg = Annotated[Any, Quantity("¤/kg", least=0.0)]
MoneyPerMetre = Annotated[Any, Quantity("¤/m")]
MoneyPerYard = Annotated[Any, Quantity("¤/yd")]
MoneyPerSquareMetre = Annotated[Any, Quantity("¤/m²")]
MoneyPerHour = Annotated[Any, Quantity("¤/h", least=0.0)]
MoneyPerYear = Annotated[Any, Quantity("¤/a", least=0.0)]
MoneyPerKwh = Annotated[Any, Quantity("¤/kWh", least=0.0)]
Kilowatt = Annotated[Any, Quantity("kW", least=0.0)]
KwhPerKg = Annotated[Any, Quantity("kWh/kg", least=0.0)]
QuotedMoney = Annotated[Any, Quantity("¤q", least=0.0)]
QuotedMoneyPerKg = Annotated[Any, Quantity("¤q/kg", least=0.0)]
ExchangeRate = Annotated[Any, Quantity("¤/¤q", above=0.0)]
