"""Numbers and days as sellers write them, with every reading they allow."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable
from datetime import date, timedelta

NUMBER = r"(?:\d{1,3}(?:[.,' ]\d{3})+(?:[.,]\d{1,2})?(?!\d)|\d+(?:[.,]\d+)?)"
"""A number with any thousands separator and decimal mark."""

_MONTHS = (
    ("jan", "ene", "gen", "janv", "oca"),
    ("feb", "fev", "sub"),
    ("mar", "mrt"),
    ("apr", "abr", "avr", "nis"),
    ("may", "mag", "mai"),
    ("jun", "giu", "juin", "haz"),
    ("jul", "lug", "juil", "tem"),
    ("aug", "ago", "aou", "agu"),
    ("sep", "set", "eyl"),
    ("oct", "ott", "out", "eki"),
    ("nov", "kas"),
    ("dec", "dic", "dez", "ara"),
)
_NAMES = {name: number for number, names in enumerate(_MONTHS, 1) for name in names}
_NAMES |= {"mart": 3, "mayis": 5, "maggio": 5, "maio": 5, "mayo": 5, "marzo": 3, "mars": 3,
           "marco": 3, "march": 3}  # fmt: skip
MONTH = (
    r"(?:jan(?:uary|vier|eiro)?|ene(?:ro)?|gen(?:naio)?|janv|oca(?:k)?|feb(?:ruary|rero|braio)?"
    r"|fev(?:rier|ereiro)?|sub(?:at)?|mar(?:ch|zo|s|co|t)?|apr(?:il|ile)?|abr(?:il)?|avr(?:il)?"
    r"|nis(?:an)?|may(?:o|is)?|mag(?:gio)?|mai(?:o)?|jun(?:e|io|ho)?|giu(?:gno)?|juin|haz(?:iran)?"
    r"|jul(?:y|io|ho)?|lug(?:lio)?|juil(?:let)?|tem(?:muz)?|aug(?:ust)?|ago(?:sto)?|aou(?:t)?"
    r"|agu(?:stos)?|sep(?:t|tember|tiembre|tembre)?|set(?:embre|embro|tembre)?|eyl(?:ul)?"
    r"|oct(?:ober|ubre|obre)?|ott(?:obre)?|out(?:ubro)?|eki(?:m)?"
    r"|nov(?:ember|iembre|embre|embro)?|kas(?:im)?|dec(?:ember|embre)?|dic(?:iembre|embre)?"
    r"|dez(?:embro)?|ara(?:lik)?)"
)
_ORDERS = ("DMY", "MDY", "YMD")
DAY = (
    r"(?:\d{4}-\d{1,2}-\d{1,2}"
    r"|\d{1,2}[./-]\d{1,2}[./-]\d{4}|\d{1,2}[./-]\d{1,2}[./-]\d{2}(?!\d)"
    rf"|\d{{1,2}}(?:st|nd|rd|th|er|º|°)?[\s.-]*(?:de\s+|of\s+|di\s+)?{MONTH}\b\.?"
    r"(?:[\s,.-]*(?:de\s+|del\s+)?(?:\d{4}|\d{2}(?![\d%.,]|\s*(?:days|dias|gg|gun|jours))))?"
    rf"|{MONTH}\.?\s*\d{{1,2}}(?:st|nd|rd|th)?\b(?:\s*,?\s*\d{{4}})?"
    r"|\d{1,2}[./]\d{1,2}(?![\d./]))"
)
"""A day with or without its year, in figures or with the name of the month."""


def readings(text: str, decimal_mark: str = "") -> tuple[str, ...]:
    """Every number a text can mean, as plain decimals with a point.

    text: digits with points, commas, blanks or apostrophes between them
    decimal_mark: the mark this writer is known to use, or ""
    A single mark before exactly three digits reads two ways: 2,310 is 2310 and 2.310.
    """
    figure = text.strip().replace(" ", "").replace("'", "")
    marks = [sign for sign in figure if sign in ".,"]
    if not marks:
        return (figure,)
    last = max(figure.rfind("."), figure.rfind(","))
    digits_after = len(figure) - last - 1
    whole, fraction = re.sub(r"[.,]", "", figure[:last]), figure[last + 1 :]
    if len(set(marks)) == 2:  # 1.234,56
        return (f"{whole}.{fraction}",)
    if len(marks) > 1:  # 1.234.567
        return (re.sub(r"[.,]", "", figure),)
    decimal = f"{whole}.{fraction}"
    thousands = whole + fraction
    if digits_after != 3 or len(whole) > 3 or whole in ("", "0"):
        return (decimal,)
    if decimal_mark:
        return (decimal,) if marks[0] == decimal_mark else (thousands,)
    return (thousands, decimal)


def plain(text: str) -> str:
    """A number that cannot be thousands, such as a count or a percentage: 6,5 is 6.5."""
    return readings(text, "," if "," in text else ".")[0]


def days(text: str, received_on: date, order: str = "") -> tuple[date, ...]:
    """Every day a text can mean, near enough to the day it was received.

    text: a match of DAY, folded
    order: DMY, MDY or YMD when the writer's habit is known
    A reading more than a year before or two years after the day received is none. Without a year
    it is the next such day.
    """
    near = (received_on - timedelta(days=366), received_on + timedelta(days=731))
    found = dict.fromkeys(
        day for day in _days(text, received_on, order) if near[0] <= day <= near[1]
    )
    return tuple(found)


def _days(text: str, received_on: date, order: str) -> Iterable[date]:
    named = re.search(MONTH, text) if re.search(r"[a-z]{3}", text) else None
    figures = [int(each) for each in re.findall(r"\d+", text)]
    if named:
        month = _NAMES.get(named[0]) or _NAMES[named[0][:3]]
        if len(figures) == 1:
            yield from _next(figures[0], month, received_on)
        else:
            yield from _day(_year(figures[1]), month, figures[0])
        return
    if len(figures) == 2:
        if order != "MDY":
            yield from _next(figures[0], figures[1], received_on)
        if order not in ("DMY", "YMD"):
            yield from _next(figures[1], figures[0], received_on)
        return
    if re.match(r"\d{4}", text):
        yield from _day(*figures)
        return
    first, second, third = figures
    for each in (order,) if order else _ORDERS:
        if each == "DMY":
            yield from _day(_year(third), second, first)
        elif each == "MDY":
            yield from _day(_year(third), first, second)
        elif third <= 31 and len(re.findall(r"\d+", text)[2]) <= 2:
            yield from _day(_year(first), second, third)


def _year(figure: int) -> int:
    return figure + 2000 if figure < 100 else figure


def _day(year: int, month: int, day: int) -> Iterable[date]:
    if 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]:
        yield date(year, month, day)


def _next(day: int, month: int, received_on: date) -> Iterable[date]:
    for year in (received_on.year, received_on.year + 1):
        for found in _day(year, month, day):
            if found >= received_on:
                yield found
                return


def end_of_month(text: str, received_on: date) -> date | None:
    """The last day of a named month, the next one from the day received."""
    named = re.search(MONTH, text)
    if not named:
        return None
    month = _NAMES.get(named[0]) or _NAMES[named[0][:3]]
    year = received_on.year + (month < received_on.month)
    return date(year, month, calendar.monthrange(year, month)[1])


def next_day_of_month(day: int, received_on: date) -> date | None:
    """The next day of a month with this number, from the day received; None for no such day."""
    for later in range(3):
        month = received_on.month + later
        year, month = received_on.year + (month - 1) // 12, (month - 1) % 12 + 1
        for found in _day(year, month, day):
            if found >= received_on:
                return found
    return None
