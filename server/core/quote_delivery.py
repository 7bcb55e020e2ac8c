"""Reading the delivery term and its place out of an offer line.

Three-letter codes and the words of six languages for them; “FOB mill” and “posto fábrica” are
asked, because they do not say at whose mill the goods change hands.
"""

from __future__ import annotations

import re

from server.core.landed import TERMS
from server.core.questions import Question
from server.core.quote_draft import Draft

_CODES = {
    **{code.lower(): code for code in TERMS},
    **dict.fromkeys(("cnf", "c&f", "c+f"), "CFR"),
    **dict.fromkeys(("caf", "c.i.f"), "CIF"),
    **dict.fromkeys(("lab", "l.a.b", "fab", "f.o.b"), "FOB"),
    "dat": "DPU",
}
_SEA_OR_MILL = ("fob", "f.o.b", "lab", "l.a.b", "fab")
_A_CODE = (
    r"(?<![a-z])(?P<code>exw|fca|fas|fob|f\.o\.b\.?|cfr|cnf|c\s?[&+]\s?f|cpt|cif|c\.i\.f\.?"
    r"|caf|cip|dap|dpu|dat|ddp|lab|l\.a\.b\.?|fab)(?![a-z])"
)
_A_MILL = (
    r"(?:(?:our|nuestra?|nuestro|su|vostro|nostro|bizim|notre|the|the\s+|el|la)\s+)?(?:mill"
    r"|dock|factory|plant|planta|fabrica|fabbrica|fabrika|usine|works|bodega|warehouse"
    r"|stabilimento)(?:\s+dock)?"
)
_EX = (
    r"(?:ex[\s-]*(?:works|mill|factory|warehouse)|ex-?usine|f(?:\."
    r"|ran)?co\.?\s+(?:partenza|ns\.?\s+\w+|nostro\s+\w+|nostra\s+\w+)|depart\s+(?:usine"
    r"|fabrique)?|fabrika(?:dan)?\s+cikis(?:i|li)?|depomuzdan(?:\s+teslim)?"
    r"|retira(?:r|da)?\s+(?:em|na|en)|retirad[oa]\s+(?:na|em|en)(?:\s+noss[ao]\s+fabrica)?(?:\s+em)?|recoger\s+en(?:\s+bodega)?"
    r"|en\s+nuestra\s+(?:planta|bodega|fabrica)|ritiro\s+(?:presso|in|a|vs\.?\s+cura)"
    r"|sahada\s+teslim|enlevement\s+(?:a|usine)?)"
)
_TO_US = (
    r"(?:delivered(?:\s+(?:to|at|your|in)(?:\s+your)?(?:\s+(?:mill|plant|dock|factory"
    r"|warehouse))?)?|puest[oa]s?\s+en\s+(?:su\s+)?(?:planta|bodega)|en\s+su\s+planta"
    r"|entregad[oa]\s+en(?:\s+(?:su\s+)?planta)?|entregue\s+(?:em"
    r"|na(?:\s+sua)?(?:\s+fabrica)?)"
    r"|resa\s+franco\s+(?:vs\.?|vostro)\s+\w+|res[oa](?:\s+franco)?(?!\s+merce)"
    r"|franco\s+(?:vs\.?|vostr[oa])\s+\w+|franco\s+(?:destino|arrivo|domicilio)"
    r"|fabrikaniza\s+teslim|depo(?:nuza|niza)\s+teslim|adresinize\s+teslim|teslim(?=\s+(?:bursa|istanbul|puebla))"
    r"|rendue?s?(?:\s+(?:(?:dans\s+)?(?:votre|vos)\s+usine|usine|chez\s+vous|franco))?"
    r"|livre\s+(?:chez\s+vous|usine)?|franco\s+(?:de\s+port|domicile)"
    r"|posto\s+(?:na\s+)?(?:sua|vossa)\s+\w+(?:\s+em)?|posto(?!\s+(?:em\s+|na\s+)?fabrica))"
)
_WHOSE = (
    r"(?:franco\s+(?:fabrica|fabbrica|usine|mill|planta)|f\.?co\s+fabbrica"
    r"|post[oa]s?\s+(?:em\s+|na\s+)?fabrica|puest[oa]s?\s+en\s+fabrica"
    r"|fabrika(?:da)?\s+teslim(?:i)?|en\s+fabrica|at\s+mill|frete\s+(?:fob|cif)|flete\s+(?:fob"
    r"|cif))"
)
_NOT_A_PLACE = (
    "all already and as at but can carga con cones conos count dahil dan den disponible e "
    "et eu fiyat for freight from gracias grazie haric if ile incl including is kg last lc "
    "like merci min moq net no now obrigado odeme only ou pagamento pago payment per please "
    "pls po precio preco prezzo price prix prompt pronta pronto pymt r r r ready regain "
    "saludos same sans sem senza sin stock subject thanks the today tt usd usual vadeli "
    "valid ve we weight with y"
)
"""Words after a term that are no part of a place."""


def read_delivery(draft: Draft) -> None:
    """Delivery term and place; read last, for a place is what nothing else has taken."""
    whose = draft.first(rf"(?<![a-z]){_WHOSE}")
    if whose:
        _ask_whose(draft, whose)
        return
    coded = draft.first(_A_CODE)
    if coded:
        code = re.sub(r"\s", "", coded["code"]).rstrip(".")
        term = _CODES[code]
        mill = re.match(rf"\s*(?:{_A_MILL})\b", draft.folded[coded.end() :])
        if code in _SEA_OR_MILL and mill:
            _ask_mill(draft, (coded.start(), coded.end() + mill.end()))
            _place(draft, coded.end() + mill.end())
            return
        draft.take(coded.span(), "term", term, f"delivery term {term}")
        _place(draft, coded.end())
        return
    for term, words in (("DAP", _TO_US), ("EXW", _EX)):
        if found := draft.first(rf"(?<![a-z]){words}(?![a-z])"):
            draft.take(found.span(), "term", term, f"delivery term {term}")
            _place(draft, found.end())
            return


def _ask_whose(draft: Draft, found: re.Match[str]) -> None:
    draft.ask(
        Question(
            "term",
            f"“{draft.said(found.span())}”: at the seller's mill or at yours? Ask which.",
            (
                ("EXW", "fetched at the seller's mill"),
                ("FCA", "loaded at the seller's mill"),
                ("DAP", "delivered to your mill"),
            ),
        ),
        found.span(),
    )
    _place(draft, found.end())


def _ask_mill(draft: Draft, span: tuple[int, int]) -> None:
    draft.ask(
        Question(
            "term",
            f"“{draft.said(span)}” is not the sea term: it says handed over at a mill. "
            "Ask: loaded on the truck at the seller's mill?",
            (
                ("FCA", "handed over to the carrier at the seller's mill"),
                ("EXW", "fetched at the seller's mill"),
            ),
        ),
        span,
    )


def _place(draft: Draft, start: int) -> None:
    """The words after a term, as far as they can be the name of a place."""
    match = re.match(
        r"[\s:,-]{0,3}(?:(?:in|at|a|en|em|port\s+of|puerto\s+de|presso"
        r"|-)\s+)?(?P<place>[a-z][a-z'.-]*(?:[ ][a-z][a-z'.-]*){0,3})",
        draft.folded[start:],
    )
    if not match:
        return
    begin = start + match.start("place")
    words: list[str] = []
    for word in match["place"].split(" "):
        bare = word.strip(".-'")
        end = begin + len(" ".join([*words, word]))
        if bare in _NOT_A_PLACE.split() or not draft.free(end - len(word), end):
            break
        words.append(word)
        if word.endswith(".") and len(bare) > 3:
            break
    if not words:
        return
    span = (begin, begin + len(" ".join(words)))
    text = draft.said(span).rstrip(".")
    draft.take(span, "place", text, f"named place {text}")
