"""Reading one offer line in the seller's own words: what is sure, what is asked, what is left.

Nothing is guessed: a word that can mean two things becomes a question, and its field stays empty.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from server.core.questions import Question
from server.core.quote_delivery import read_delivery
from server.core.quote_draft import Draft, Habits, Piece, folded
from server.core.quote_price import read_price
from server.core.quote_quantities import read_quantities
from server.core.quote_terms import read_days_and_payment
from server.core.quote_yarn import read_core, read_yarn

LONGEST_QUOTE = 2000  # characters of one line

_OF_LANGUAGE = {
    "es": (
        "hilo hilos anillo anillos cardado peinado dias semana semanas kilo planta precio "
        "vigencia validez entrega despacho credito pago puesto titulo cuenta el la los algodon "
        "libra trama urdimbre flameado torsion peso pesos oferta hasta elastano embarque y "
        "bodega anticipado tonelada no"
    ),
    "it": (
        "filato filati cardato pettinato fiammato giorni gg settimane sett consegna prezzo al "
        "reso franco partenza cotone titolo ordito trama validita lotto buongiorno di il per "
        "euro stiro torsione conferma multititolo ripresa"
    ),
    "pt": (
        "fio fios anel cardado penteado quilo fabrica posto prazo semanas dias entrega algodao "
        "titulo validade pagamento antecipado icms a o os reais torcao ate com em poliester "
        "elastano estiragem jato boleto"
    ),
    "tr": (
        "iplik karde penye pamuk gun hafta vade vadeli pesin teslim fabrika gecerli gecerlilik "
        "kdv dahil numara bukum santuklu akreditif sevkiyat fiyat tl uzeri ustu toplam cozgu "
        "atki merhaba kompakt ve ile cekim opsiyon tarihine kadar elastan"
    ),
    "fr": (
        "fil fils anneau anneaux carde peigne flamme jour jours semaine semaines coton titre "
        "chaine trame rendu depart usine valable jusqu'au comptant prix delai le la les "
        "livraison torsion bonjour acompte solde etirage ame retors numero reprise j sem dispo"
    ),
    "en": (
        "yarn carded combed day days week weeks net valid delivered per price mill ring spun "
        "open end for the good thru until basis sight advance weaving lb we offer pls from and "
        "with"
    ),
}
"""Words that tell a language, without accents."""


@dataclass(frozen=True)
class Reading:
    """What was read in one line.

    text: the line as received
    pieces: recognised stretches, in the order of the text
    values: offer entry field -> value, as text
    questions: what has to be asked, because the words can mean two things
    left_over: stretches nobody understood [characters]
    """

    text: str
    pieces: tuple[Piece, ...]
    values: Mapping[str, str]
    questions: tuple[Question, ...]
    left_over: tuple[tuple[int, int], ...]


def language_of(text: str) -> str:
    """The language most words of a line belong to, two letters; English when none does."""
    met = set(re.findall(r"[a-z']+", folded(text)))
    hits = {code: len(met.intersection(words.split())) for code, words in _OF_LANGUAGE.items()}
    return max(hits, key=lambda code: (hits[code], code == "en"))


def read_quote(text: str, *, received_on: date, habits: Habits | None = None) -> Reading:
    """Read one offer line.

    text: the seller's words, one offer
    received_on: the day it came in; years and days of validity are counted from it
    habits: how this supplier is known to write
    """
    draft = Draft(text[:LONGEST_QUOTE], received_on, habits or Habits())
    language = language_of(draft.text)
    read_quantities(draft)
    read_core(draft)
    read_days_and_payment(draft)
    read_yarn(draft, language)
    read_price(draft, language)
    read_delivery(draft)
    values = {name: value for name, value in draft.values.items() if name not in draft.questions
              or name in ("count_basis", "break_kind")}  # fmt: skip
    pieces = sorted(draft.pieces, key=lambda piece: (piece.start, piece.end))
    return Reading(
        text, tuple(pieces), values, tuple(draft.questions.values()), _left_over(draft, pieces)
    )


def _left_over(draft: Draft, pieces: list[Piece]) -> tuple[tuple[int, int], ...]:
    """Words between the pieces that hold a letter or a digit."""
    found, at = [], 0
    for start, end in (*((piece.start, piece.end) for piece in pieces), (len(draft.text),) * 2):
        if start > at:
            for word in re.finditer(r"[^\s,;:.()]+(?:[\s.]+[^\s,;:.()]+)*", draft.text[at:start]):
                if any(sign.isalnum() for sign in word[0]):
                    found.append((at + word.start(), at + word.end()))
        at = max(at, end)
    return tuple(found)
