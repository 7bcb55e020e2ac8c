"""Reading days and payment out of an offer line: validity, lead time, how and when it is paid."""

from __future__ import annotations

import re
from datetime import timedelta

from server.core.questions import NOT_SAID, Question
from server.core.quote_draft import Draft
from server.core.quote_numbers import (
    DAY,
    days,
    end_of_month,
    next_day_of_month,
)

_DAYS = (
    r"(?:days?|dys|dias?|gg\b|giorni|gun(?:luk|de|dur)?|jours?|ddl\b|jrs?\b|j\b|dd\b|d\b|tage)\.?"
)
_WEEKS = r"(?:weeks?|wks?|semanas?|sem\b|settimane?|sett\b|hafta(?:da|lik)?|semaines?)\.?"
_NUMBER_WORDS = {
    1: "one una un uma une bir", 2: "two dos due duas dois deux iki", 3: "three tres tre trois uc",
    4: "four cuatro quattro quatro quatre dort", 5: "five cinco cinque cinq bes",
    6: "six seis sei alti", 7: "seven siete sette sete sept yedi", 8: "eight ocho otto oito huit",
    10: "ten diez dieci dez dix on", 14: "fourteen", 15: "fifteen quince quindici quinze",
    20: "twenty veinte venti vinte vingt yirmi", 30: "thirty treinta trenta trinta trente otuz",
    45: "forty-five", 60: "sixty sesenta sessanta sessenta soixante altmis",
    90: "ninety noventa novanta doksan",
}  # fmt: skip
_OF_WORD = {word: n for n, words in _NUMBER_WORDS.items() for word in words.split()}
_NUMBER_WORD = rf"\b(?:{'|'.join(_OF_WORD)})(?=\s)"
_DURATION = (
    rf"(?P<n>\d{{1,3}})\s*(?:(?:-|a|to|o|or|-|ila"
    rf"|/)\s*(?P<m>\d{{1,3}})\s*)?(?:(?P<days>{_DAYS})|(?P<weeks>{_WEEKS}))(?![a-z])"
)
_VALID = (
    r"(?:valid(?:ity|a|o|ade|ata|ite|ez)?|val\b\.?|vald\b|validita|valable|firm|good|open|holds?\s+(?:till|until|thru|through)|vale"
    r"|expir(?:y|es|ing|ation)|vigen(?:cia|te)|vence|vencimiento"
    r"|scaden?za|scade|gecerli(?:lik)?|opsiyon(?:lu)?|offer\s+open|offre\s+valable"
    r"|offerta\s+valida|proposta|held?\s+until|until|hasta\s+el)"
)
_TILL = (
    r"(?:till|until|til|untill|thru|through|thro|upto|up\s+to|to|hasta(?:\s+el)?"
    r"|ate(?:\s+o\s+dia)?|fino\s+a(?:l|ll')?|al|jusqu'au|jusqu'a|au|by|on|is|for|of|del?|da|la"
    r"|el|le|para|por|:|=|-|suresi|tarihi|quote|offer|oferta|offerta|offre|proposta|teklif)"
)
_LEAD = (
    r"(?:lead\s*time|lt\b|deliver(?:y|ies)|dely|dlvy|shipment|shpmt|shpt|ship(?:ped|ping)?"
    r"|etd|dispatch|ready|aro\b|after\s+(?:order|receipt|l/?c)"
    r"|despacho|entrega|embarque|plazo|prazo|consegna|spedizione|pronta|pronto"
    r"|resa\s+merce|teslim(?:at)?|sevk(?:iyat)?|yukleme|termin"
    r"|delai|livraison|expedition|dispo(?:nible|nibilite)?|ships|sai\s+em|imbarco|salida|yukl\w*|yukleriz|sevk\w*|hazir|production|produccion|within"
    r"|dalla\s+conferma|dopo\s+ordine|carga|saida)"
)
_LC = (
    r"(?:l\s*/\s*c|lc\b|letter\s+of\s+credit|d/?l/?c\b|cartas?\s+de\s+credito|c/\s*credito"
    r"|credito\s+documentario|lettera\s+di\s+credito|l\.c\.|credit\s+documentaire|credoc"
    r"|akreditif|akr\b\.?|carta\s+credito)"
)
_SIGHT = (
    r"(?:at\s+sight|sight|a\s+la\s+vista|a\s+vista|alla\s+vista|a\s+vue|gorul(?:unce"
    r"|dugunde)(?:\s+odemeli)?|vista)"
)
_CAD = (
    r"(?:c\.?a\.?d\b\.?|d/?p\b(?:\s+(?:at\s+)?sight)?|(?:cash|payment|paid|pay"
    r"|payable)?\s*against\s+(?:shipping\s+)?doc(?:ument)?s?"
    r"|(?:pago|a\s+vista|pagamento)?\s*contra\s+(?:entrega\s+de\s+)?doc(?:umento)?s?"
    r"|(?:pagamento\s+)?contro\s+documenti|(?:paiement\s+)?contre\s+doc(?:ument)?s?"
    r"|vesaik\s+(?:mukabili|karsiligi)|remise\s+documentaire|rimessa\s+documentaria)"
)
_ADVANCE = (
    r"(?:(?:100\s*%\s*)?t\.?/?\.?t\b\.?\s*(?:in\s+)?(?:advance|before\s+\w+|adv\b)|(?:pymt"
    r"|payment)?\s*(?:in\s+)?adv(?:ance)?\s+(?:payment\s+)?by\s+t\.?/?t|"
    r"pre-?pa(?:id|yment)|cash\s+in\s+advance|cia\b|advance\s+(?:payment|tt|t/t)"
    r"|payment\s+(?:before|in\s+advance|prior\s+to)\s*(?:delivery|shipment|loading"
    r"|dispatch)?"
    r"|full(?:y)?\s+(?:payment\s+)?(?:in\s+)?advance|pago\s+(?:por\s+)?(?:anticipado"
    r"|adelantado)|anticipado|por\s+adelantado|pagamento\s+ant(?:ecipado|icipato)"
    r"|antecipado|anticipato|bonifico\s+anticipato"
    r"|pesin(?:\s+odeme)?|on\s+odeme|paiement\s+(?:d'avance|a\s+la\s+commande|anticipe)"
    r"|d'avance|(?:all'|con\s+(?:la\s+)?|with\s+(?:the\s+)?)ord(?:ine|en|er)\b|cwo\b|siparisle|a\s+la\s+commande|virement\s+avant\s+\w+)"
)
_SPLIT = (
    r"(?:t/?t\s*)?(?P<a>\d{1,2})\s*%?\s*(?:/)\s*(?P<b>\d{1,2})\s*%?\s*(?:t/?t|advance)"
    r"|t\.?/?\s*t\.?\s*(?P<a2>\d{1,2})\s*%?\s*[/+-]\s*(?P<b2>\d{1,2})\s*%?"
    r"|(?:t/?t\s*)?(?:%\s*)?(?P<c>\d{1,2})\s*%?\s*(?:t/?t\s*)?(?:as\s+|de\s+|di\s+"
    r"|d')?(?:deposit|advance|adv|down(?:\s*payment)?|anticipo|adelanto|enganche|acconto"
    r"|adiantad[oa]|adiantamento|entrada|sinal|antecipad[oa]|pesin(?:at)?|on\s+odeme|all'ordine"
    r"|con\s+la\s+orden|with\s+(?:the\s+)?order|a\s+la\s+commande|na\s+encomenda"
    r"|acompte)"
    r"(?P<rest>.{0,40}?(?:balance|bal\b|rest|remaining|saldo|resto|restante|kalan[ıi]?"
    r"|bakiye|solde|reste|\d{1,2}\s*%)(?:.{0,14}?(?:against\s+(?:shipping\s+)?doc\w*"
    r"|contra\s+(?:los\s+)?doc\w*|contro\s+doc\w*|contre\s+doc\w*|c/\s*doc\w*"
    r"|vesaik\s*(?:karsiligi|mukabili)?|b/?l(?:\s+copy)?|before\s+\w+"
    r"|antes\s+\w+(?:\s+\w+)?))?)?"
    r"|(?:deposit|anticipo|acconto|adiantamento|acompte|pesin)\s*(?:of|de|del"
    r"|di)?\s*%?\s*(?P<d>\d{1,2})\s*%?(?P<rest2>.{0,40}?(?:balance|bal\b|rest|remaining"
    r"|saldo|resto|restante|kalan[ıi]?|bakiye|solde|reste"
    r"|\d{1,2}\s*%)(?:.{0,14}?(?:against\s+(?:shipping\s+)?doc\w*"
    r"|contra\s+(?:los\s+)?doc\w*|contro\s+doc\w*|contre\s+doc\w*|c/\s*doc\w*"
    r"|vesaik\s*(?:karsiligi|mukabili)?|b/?l(?:\s+copy)?))?)?"
)
_OPEN = (
    r"(?:net(?:t|to|os|s)?|open(?:\s+account)?|o/?a\b|credit(?:o)?|terms|vade(?:li|si)?"
    r"|d\.?\s?f\.?\b|data\s+fatt(?:ura|\.)?|fecha\s+(?:de\s+)?factura|ri\.?ba\.?|pagare|traite"
    r"|virement|boleto|bonifico|rimessa\s+diretta|r\.?d\.?\b|cheque|duplicata|faturado"
    r"|a\s+faturar|mal\s+mukabili|acik\s+hesap|cek|senet|neto|a\s+fattura|invoice)"
)
_END_OF_MONTH = (
    r"(?:f\.?\s*m\.?\b|fine\s+mese|fin\s+de\s+mois|fin\s+de\s+mes|end\s+of\s+month|eom\b|fdm\b)"
)


def read_days_and_payment(draft: Draft) -> None:
    """Validity, lead time and payment: whatever is counted in days is told apart by its words."""
    _discount(draft)
    _validity(draft)
    _splits(draft)
    _durations(draft)
    _payment_words(draft)
    _several_payments(draft)
    _dates(draft)


def _discount(draft: Draft) -> None:
    found = draft.first(r"\b\d\s*[/%]\s*\d{1,2}\s*,?\s*(?=net\b)")
    if found:
        draft.take(found.span(), "", "", "discount for early payment, not counted")


_WEEKDAY = (
    r"(?:mon|tue|wed|thu|fri|sat|sun|lun|mar|mie|jue|vie|sab|dom|mer|gio|ven|seg|ter|qua|qui|sex"
    r"|jeu|sam|dim|pazar|sali|cars|pers|cuma)[a-z-]*\.?"
)


def _validity(draft: Draft) -> None:
    end = draft.first(
        rf"{_VALID}[^,;\d]{{0,20}}?(?:end|fine|fin|final|fim|son(?:u)?)\s+(?:of\s+|di\s+"
        rf"|de\s+)?(?P<month>[a-z]{{3,10}})\b"
    )
    if end and (last := end_of_month(end["month"], draft.received_on)):
        draft.take(end.span(), "valid_until", last.isoformat(), f"valid until {last}")
        return
    found = draft.first(
        rf"{_VALID}\s*(?:(?:{_TILL})\s*)*(?:{_WEEKDAY}\s*,?\s*)?[:\s]*(?P<day>{DAY})"
        rf"|(?P<day2>{DAY})\s*(?:'?(?:e|a|ye|ya)\s+)?(?:tarihine\s+)?(?:kadar|'e\s+kadar"
        rf"|gecerli)(?:\s*gecerli(?:dir)?)?"
        rf"|(?:until|till|thru|jusqu'au|hasta\s+el|fino\s+al|ate)\s*(?P<day3>{DAY})"
    )
    of_month = draft.first(
        rf"(?:{_VALID}|through|until|till)\s*(?:(?:{_TILL})\s*)*the\s+(?P<day>\d{{1,2}})(?:st|nd|rd|th)\b"
    )
    if of_month and not found:
        day = next_day_of_month(int(of_month["day"]), draft.received_on)
        if day:
            draft.take(of_month.span(), "valid_until", day.isoformat(), f"valid until {day}")
    if found:
        text = next(part for part in (found["day"], found["day2"], found["day3"]) if part)
        _valid_until(draft, text, found.span())


def _valid_until(draft: Draft, text: str, span: tuple[int, int]) -> None:
    met = days(text, draft.received_on, draft.habits.date_order)
    if len(met) == 1:
        draft.take(span, "valid_until", met[0].isoformat(), f"valid until {met[0]}")
    elif met:
        choices = tuple((day.isoformat(), f"{day:%-d %B %Y}") for day in met)
        draft.ask(
            Question(
                "valid_until",
                f"“{draft.said(span)}” can be two days. Ask: until which day is the price good?",
                choices,
            ),
            span,
        )


def _splits(draft: Draft) -> None:
    found = draft.first(_SPLIT)
    if not found:
        return
    part = found.groupdict()
    pair = (part["a"] or part["a2"], part["b"] or part["b2"])
    first = pair[0] or part["c"] or part["d"]
    second = pair[1] or str(100 - int(first))
    rest = part["rest"] or part["rest2"] or ""
    if int(first) + int(second) != 100:
        return
    if not pair[0] and not re.search(r"doc|vesaik|b/?l", rest):
        choice = f"TT {int(first)}/{int(second)}"
        question = Question(
            "payment",
            f"“{draft.said(found.span())}”: when the rest is paid is not said. Ask for it.",
            ((choice, "the rest against documents"),),
        )
        draft.ask(question, found.span())
        return
    terms = f"TT {int(first)}/{int(second)}"
    draft.take(found.span(), "payment", terms, f"payment {terms}")


_CLAUSE = r"[,;()|]|\s-\s|(?<=[a-z]{4})\.\s|\s\+\s"


def _clause(draft: Draft, start: int, end: int) -> tuple[str, str]:
    """What stands before and after a stretch, up to the next comma, semicolon or slash."""
    cells = draft.text[:start].rfind("|") + 1, draft.text.find("|", end)
    last = len(draft.text) if cells[1] < 0 else cells[1]
    before = re.split(_CLAUSE, draft.folded[cells[0] : start])[-1]
    after = re.split(_CLAUSE, draft.folded[end:last])[0]
    if draft.folded[start:end].endswith("."):  # the end of a sentence, or of a short word
        after = ""
    return before, after


def _whole(text: str) -> int:
    """A whole number in figures or in a word."""
    return _OF_WORD[text] if text in _OF_WORD else int(text)


_AFTER_DELIVERY = (
    r"\s*(?:dalla|dal|from|after|despues\s+de|apres|apos|tras)\s+(?:la\s+|a\s+|the\s+)?"
    r"(?:consegna|delivery|entrega|livraison|invoice|fattura|factura|facture|fatura)"
)


def _durations(draft: Draft) -> None:
    """Every number of days or weeks, by the words of its clause; what is left is payment."""
    instalments = draft.first(rf"\b\d{{2}}\s*[/-]\s*\d{{2}}\s*[/-]\s*\d{{2,3}}\s*{_DAYS}")
    if instalments:
        said = draft.said(instalments.span())
        draft.ask(
            Question(
                "payment",
                f"“{said}” is paid in parts. Ask: on which average day?",
                tuple((f"OA {day}", f"open account, {day} days") for day in (30, 60, 90)),
            ),
            instalments.span(),
        )
    for found in list(draft.find(_DURATION)):
        if not draft.free(*found.span()):
            continue
        before, after = _clause(draft, *found.span())
        words = f"{before} {after}"
        amount = _whole(found["n"]) * (7 if found["weeks"] else 1)
        if (
            re.search(rf"\b{_VALID}", words)
            and not re.search(r"open\s+acc", words)
            and not (re.search(r"\bopen\b", after) and not re.search(r"offer", words))
        ):
            last = draft.received_on + timedelta(days=amount)
            draft.take(
                _with(draft, found, _VALID), "valid_until", last.isoformat(), f"valid until {last}"
            )
        elif re.match(_AFTER_DELIVERY, after):
            _days_of_payment(draft, found, amount, words)
        elif found["weeks"] or re.search(rf"\b{_LEAD}", words):
            _lead(draft, found, amount)
        elif re.search(_LC, words):
            terms = f"LC {amount}"
            draft.take(_with(draft, found, _LC), "payment", terms, f"payment {terms}")
        else:
            _days_of_payment(draft, found, amount, words)


def _with(draft: Draft, found: re.Match[str], word: str) -> tuple[int, int]:
    """The stretch of a duration with the word that explains it, when that is near and free."""
    start, end = found.span()
    before, after = _clause(draft, start, end)
    if (met := list(re.finditer(word, before))) and draft.free(
        start - len(before) + met[0].start(), start
    ):
        start -= len(before) - met[0].start()
    elif (met2 := re.search(word, after)) and draft.free(end, end + met2.end()):
        end += met2.end()
    return start, end


def _lead(draft: Draft, found: re.Match[str], amount: int) -> None:
    span = _with(draft, found, _LEAD)
    if found["m"]:
        longest = int(found["m"]) * (7 if found["weeks"] else 1)
        draft.ask(
            Question(
                "lead_days",
                f"“{draft.said(span)}” is a range. Ask: which lead time will be confirmed?",
                ((str(longest), f"{longest} days"), (str(amount), f"{amount} days")),
                "d",
            ),
            span,
        )
        return
    draft.take(span, "lead_days", str(amount), f"lead time {amount} days")


def _days_of_payment(draft: Draft, found: re.Match[str], amount: int, words: str) -> None:
    span = _with(draft, found, _OPEN)
    choices = (
        (f"OA {amount}", f"open account, {amount} days"),
        (f"LC {amount}", f"letter of credit, {amount} days"),
    )
    at_sea = re.search(r"(?<!frete )(?<!flete )\b(?:fob|cif|cfr|c&f|cnf|fas|caf)\b", draft.folded)
    named = re.search(rf"\b{_OPEN}|\bb/?l\b|\bddl\b", f"{words} {found[0]}")
    if re.search(_END_OF_MONTH, words):
        draft.ask(
            Question(
                "payment",
                f"“{draft.said(span)}” runs from the end of a month. Ask: how many days in all?",
                (*choices[:1], (f"OA {amount + 15}", f"open account, {amount + 15} days")),
                "",
            ),
            span,
        )
    elif at_sea and not named:
        draft.ask(
            Question(
                "payment",
                f"“{draft.said(span)}”: open account or letter of credit is not said. Ask which.",
                choices,
            ),
            span,
        )
    else:
        draft.take(span, "payment", choices[0][0], f"payment {choices[0][0]}")


def _payment_words(draft: Draft) -> None:
    net = draft.first(
        rf"\b(?:net|netto|o/?a|open\s+account)\s*(?P<n>\d{{1,3}}\b|{_NUMBER_WORD})(?!\s*%)"
    )
    if net:
        terms = f"OA {_whole(net['n'])}"
        draft.take(net.span(), "payment", terms, f"payment {terms}")
    numbered = draft.first(
        rf"\b{_LC}\s*(?:usance\s*|a\s+)?(?P<n>\d{{2,3}})\b(?!\s*%)"
        rf"|\busance\s*(?P<m>\d{{2,3}})\b|\b(?P<k>\d{{2,3}})\s*{_DAYS}?\s*(?:usance|{_LC})"
    )
    if numbered:
        terms = f"LC {numbered['n'] or numbered['m'] or numbered['k']}"
        draft.take(numbered.span(), "payment", terms, f"payment {terms}")
    sight = draft.first(
        rf"{_LC}\s*(?:irrevocable\s+|irrev\.?\s*|100\s*%\s*)?(?:(?:by|payable|pagadera"
        rf"|paga[bv]el|,)\s*)?{_SIGHT}|{_SIGHT}\s*{_LC}"
    )
    if sight:
        draft.take(sight.span(), "payment", "LC sight", "payment LC sight")
    for value, words in (("CAD", _CAD), ("TT advance", _ADVANCE)):
        if found := draft.first(rf"(?<![a-z]){words}"):
            draft.take(found.span(), "payment", value, f"payment {value}")
    if draft.knows("payment"):
        return
    vague = draft.first(
        rf"(?<![a-z])(?:{_LC}|t\.?/?t\b|a\s+vista|al\s+contado|contado|comptant|contanti"
        rf"|nakit|cash|d/?a\b)(?![a-z])"
    )
    if vague:
        draft.ask(
            Question(
                "payment",
                f"“{draft.said(vague.span())}” does not say when it is paid. Ask: how and when?",
                NOT_SAID["payment"].choices,
            ),
            vague.span(),
        )


def _several_payments(draft: Draft) -> None:
    """Two ways to pay are a choice the buyer has to make with the seller."""
    named = dict.fromkeys(p.value for p in draft.pieces if p.field == "payment" and p.value)
    if len(named) > 1:
        choices = tuple((terms, terms) for terms in named)
        draft.ask(Question("payment", "Several payments are named. Ask: which one is it?", choices))


def _dates(draft: Draft) -> None:
    """A day nobody took: of the quote when a word says so, else only shown."""
    month = draft.first(
        r"\b(?P<month>[a-z]{3,9})\s*\.?\s*(?:shpt|shpmt|shipment)\b|\b(?:shipment|embarque"
        r"|spedizione|sevkiyat)\s+(?:in\s+|en\s+)?(?P<m2>jan|feb|mar|apr|may|jun|jul|aug"
        r"|sep|oct|nov|dec)[a-z]*\b"
    )
    if month:
        draft.take(month.span(), "", "", "month of shipment; the lead time is asked")
