"""Reading quantities out of an offer line: count tolerance, regain, minimum order, capacity."""

from __future__ import annotations

import re

from server.core.questions import Question
from server.core.quote_draft import Draft
from server.core.quote_numbers import NUMBER, plain, readings
from server.core.units import KG_PER_LB


def read_quantities(draft: Draft) -> None:
    """Tolerance, regain, minimum order, capacity."""
    _tolerance(draft)
    _regain(draft)
    _mass(
        draft,
        "moq_tonnes",
        r"(?:moq|min(?:imum|imo|ima|i)?\b\.?(?:\s*(?:order|qty|quantity|d'ordine|ordine"
        r"|sipari[sş]|de\s+compra|pedido|commande|lot))*|pedido\s+minimo"
        r"|lotto\s+min(?:imo)?|asgari(?:\s+siparis)?|no\s+menos\s+de|en\s+az|(?:wont|won't|not)\s+(?:do\s+)?less\s+than|nothing\s+under|not\s+less\s+than"
        r"|quantite\s+min(?:imum|imale)?|mini\b|cantidad\s+minima|lote\s+minimo)",
        "minimum order",
    )
    _mass(
        draft,
        "capacity_tonnes",
        r"(?:capacity|cap\b\.?|capacidad|capacita|capacidade|kapasite(?:miz)?|capacite"
        r"|can\s+(?:supply|do|offer)|max(?:imum|imo)?\b\.?)(?:\s+(?:this|the|for|esta|de"
        r"|la|per|questa|da|para|bu|cette|saison|stagione|temporada|safra|sezon|season"
        r"|available|estação|estacao))*",
        "capacity this season",
    )


def _tolerance(draft: Draft) -> None:
    for found in draft.find(
        rf"(?P<word>(?:count|titulo|titolo|titre|numara|cuenta)?\s*(?:tol(?:erance|erancia"
        rf"|eranza|eransi?|erância)?\b\.?)\s*(?:of|de|di|du|in|on|count|titulo|titolo|titre"
        rf"|numara|del|da)*\s*:?\s*)?(?P<sign>\+\s*/?\s*-|±|\+-"
        rf"|-/\+)?\s*%?\s*(?P<n>{NUMBER})\s*(?:%|pct|pc\b|percent|por\s*ciento)?"
    ):
        if not (found["word"] or found["sign"]) or not re.search(r"%|pct|percent|ciento", found[0]):
            continue
        before = draft.folded[max(0, found.start() - 14) : found.end() + 14]
        if re.search(
            r"qty|quantity|cantidad|quantita|quantite|miktar|quantidade|weight|peso", before
        ):
            draft.take(found.span(), "", "", "tolerance of the quantity, not of the count")
            continue
        figure = plain(found["n"])
        draft.take(found.span(), "count_tolerance_percent", figure, f"count tolerance ± {figure} %")


def _regain(draft: Draft) -> None:
    word = (
        r"(?:regain|reintegro(?:\s+de\s+humedad)?|ripresa|tasso\s+di\s+ripresa"
        r"|taux\s+de\s+reprise|reprise|tasa\s+(?:legal|de\s+reintegro)"
        r"|conditioned(?:\s+weight)?|cond\.?\s*weight|peso\s+condicionado|peso\s+condizionato"
        r"|poids\s+conditionne|kondisyonlu|kondisyone)"
    )
    found = draft.first(
        rf"(?:{word})\s*(?:of|de|di|at|a|al|basis|:|=)*\s*%?\s*(?P<a>{NUMBER})\s*%?"
        rf"|(?P<b>{NUMBER})\s*(?:%|pct|pc\b|percent)\s*(?:moisture\s+|de\s+|di\s+)?(?:{word})"
        rf"|%\s*(?P<c>{NUMBER})\s*(?:{word})"
    )
    if found:
        figure = plain(next(part for part in found.groups() if part))
        draft.take(found.span(), "quoted_regain_percent", figure, f"regain {figure} %")
        return
    moist = draft.first(
        rf"(?:moisture|humedad|umidita|umidade|rutubet|nem|humidite)\s*(?:content|at|de|di"
        rf"|:|max)*\s*%?\s*(?P<a>{NUMBER})\s*%?|%\s*(?P<b>{NUMBER})\s*(?:rutubet|nem)"
        rf"|(?P<c>{NUMBER})\s*%\s*(?:moisture|humedad|umidita|umidade|humidite)"
    )
    if moist:
        figure = plain(next(part for part in moist.groups() if part))
        draft.ask(
            Question(
                "quoted_regain_percent",
                f"“{draft.said(moist.span())}” can be regain or moisture content. Ask: regain "
                "is on dry mass, content on total mass.",
                ((figure, f"{figure} % regain"),),
                "%",
            ),
            moist.span(),
        )


def _mass(draft: Draft, field: str, words: str, meaning: str) -> None:
    unit = (
        r"(?P<unit>kgs?|kilos?|quilos?|m\.?t\.?|tm\b|mts|tonnes?|metric\s+tons?|short\s+tons?|toneladas?"
        r"|tonnellat[ae]|t\b|q\.?li\b|quintali|tons?\b|lbs?|pounds?|fcl|cont(?:ainer|enedor"
        r"|\.)?s?|teu)"
    )
    found = draft.first(
        rf"\b(?:{words})\s*(?:of|de|di|:|=|is|per)*\s*(?P<n>{NUMBER})\s*{unit}(?!\s*/)"
        rf"|(?P<n2>{NUMBER})\s*(?P<unit2>t|mt|tm|tonnes?|kg|tons?"
        rf"|toneladas?)\s*(?:{words})(?![a-z])"
    )
    if not found:
        return
    figure, of = readings(found["n"] or found["n2"])[0], found["unit"] or found["unit2"]
    if re.match(r"fcl|cont|teu", of):
        draft.take(found.span(), "", "", f"{meaning} in containers; tonnes are not said")
    elif re.match(r"tons?$", of):
        question = Question(
            field,
            f"“{draft.said(found.span())}”: metric or short tons? Ask which.",
            ((figure, "metric tons"), (f"{float(figure) * 0.90718474:.3f}", "short tons")),
            "t",
        )
        draft.ask(question, found.span())
    else:
        factor = 1.0
        if of.startswith("k") or of == "quilos":
            factor = 0.001
        elif of.startswith("q"):
            factor = 0.1
        elif of.startswith(("l", "p")):
            factor = KG_PER_LB / 1000
        elif of.startswith("short"):
            factor = 2 * KG_PER_LB
        tonnes = figure if factor == 1.0 else f"{round(float(figure) * factor, 3):g}"
        draft.take(found.span(), field, tonnes, f"{meaning} {tonnes} t")
