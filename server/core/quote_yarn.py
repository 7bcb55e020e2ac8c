"""Reading the yarn out of an offer line: count, spinning, preparation, effect, core, fibre, twist.

The words are the trade's in English, Spanish, Italian, Portuguese, Turkish and French (from
memory); NIST and ASTM D2260 define the count systems.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

from server.core.questions import NOT_SAID, Question
from server.core.quote_draft import Draft
from server.core.quote_numbers import NUMBER, plain

_LOOKS = (
    r"(?:look|like|effect|style|type|tipo|efecto|effetto|efeito|aspecto|aspetto|aspect|effet"
    r"|gorunumlu|efektli|style)"
)
_RING = (
    r"(?:ring|anillos?|anel|aneis|anell[oi]|anneaux?|continua(?:\s+de\s+anillos)?"
    r"|continu\s+a\s+filer)"
)
_SPINNING = (
    (
        "compact ring",
        r"\b(?:compact[oa]?|compatt[oa]|kompakt|compacte|compact\s+ring)(?:\s*[-/]?\s*(?:spun"
        r"|ring|anillo))?\b",
    ),
    (
        "air-jet",
        r"\b(?:air[\s-]?jet|jet\s+de\s+aire?|chorro\s+de\s+aire|getto\s+d'aria|jato\s+de\s+ar"
        r"|hava\s+jet\w*|jet\s+d'air|vortex[\s-]?type|a\.?j\.?(?=\s+(?:yarn|spun)))\b",
    ),
    (
        "OE",
        r"\b(?:oe|o\.e\.?|open[\s-]?ends?|rotor[ei]?|cabo\s+abierto|turbina)(?:[\s-]*(?:spun"
        r"|rotor|hilado))?\b",
    ),
    ("ring", rf"\b{_RING}(?:[\s-]*spun)?\b"),
)
_SPOKEN = {
    "ring": "ring-spun",
    "compact ring": "compact ring",
    "OE": "open-end (rotor)",
    "air-jet": "air-jet",
}
_PREPARATION = (
    (
        "combed",
        r"\b(?:combed|comb\b|peinad[oa]s?|pentead[oa]s?|pettinat[oa]|penye|peignee?s?|cp"
        r"|cmb|cmbd|cmd)\b",
    ),
    (
        "carded",
        r"\b(?:carded|cd\b|card\b|cardad[oa]s?|cardat[oa]|karde|kard|cardee?s?|kp|crd|kw)\b",
    ),
)
_SLUB = (
    r"\b(?:slubs?|slubby|flam[ae]|fiamma|flamead[oa]|flamad[oa]|fiammat[oa]|flammee?s?"
    r"|santuk(?:lu)?|flamli)\b"
)
_MULTI = (
    r"\b(?:multi[\s-]?counts?|multi[\s-]?titulos?|multi[\s-]?titol[oi]|multi[\s-]?titres?"
    r"|multi[\s-]?numara(?:li)?|multi[\s-]?cuentas?)\b"
)
_FIBRES = {
    "recycled cotton": r"(?:recycled\s+cotton"
    r"|(?:algodon|algodao|cotone|coton)\s+(?:reciclado|riciclato"
    r"|recycle))",
    "cotton": r"(?:cotton|ctn|co|algodon|alg|cotone|algodao|pamuk|coton|c)",
    "polyester": r"(?:polyester|poliestere?|poly|pol|pes|pe|pet|p)",
    "viscose": r"(?:viscose|viscosa|viskon|vis|cv)",
    "lyocell": r"(?:lyocell|lyo)",
    "linen": r"(?:linen|lino|lin|keten|linho)",
}
_DTEX_PER_DENIER = Decimal(10) / Decimal(9)


def read_yarn(draft: Draft, language: str) -> None:
    """Everything about the yarn. language: two letters, decides which count system goes without
    saying."""
    _fibres(draft)
    _slub_mass(draft)
    _count(draft, language)
    _spinning(draft)
    _words(draft, "preparation", _PREPARATION)
    _effect(draft)
    _twist(draft)
    _basis(draft)


def read_core(draft: Draft) -> None:
    """Core words, denier and draft; a dtex of a core is given in denier."""
    dual = draft.first(
        r"\b(?:dual[\s-]?core|double[\s-]?core|doble\s+(?:alma|nucleo)|doppia\s+anima|dual\s+nucleo"
        r"|duplo?\s+nucleo|cift\s+(?:ozlu|core)|double?\s+ame)\b"
    )
    if dual:
        draft.take(dual.span(), "core", "dual core", "dual-core yarn")
    for place, core in enumerate(
        draft.find(
            rf"(?P<denier>{NUMBER})\s*(?P<unit>den(?:ier|ari|iers|ye|yer|iers)?|dtex"
            rf"|d(?=\s*(?:elast|span|core|bico|poly|pes\b|filament)))\b"
            r"(?:\s*(?:of|de|di|elastane?|elastan[oe]?|elasthanne|spandex|core|alma|anima|ame))*"
        ),
        1,
    ):
        is_dtex = core["unit"] == "dtex"
        around = draft.folded[max(0, core.start() - 16) : core.end() + 14]
        if place > 2 or (
            is_dtex and not re.search(r"core|elast|span|alma|anima|ame|bico|poli|poly|pes", around)
        ):
            continue
        figure = plain(core["denier"])
        if is_dtex:
            figure = f"{(Decimal(figure) / _DTEX_PER_DENIER).normalize():f}"
        draft.take(core.span(), f"core{place}_denier", figure, f"core filament of {figure} denier")
    for drawn in draft.find(
        rf"\b(?:draft|dr\b\.?|stir(?:o|ato)|estiraje|estiro|etirage|cekim|estiragem)(?:\s*(?:of|de"
        rf"|di|a|at|ratio))?\s*[:=]?\s*(?P<a>{NUMBER})\s*x?"
        rf"|(?P<b>\d[.,]\d\d?)\s*x?\s*(?:draft|cekim|estirage|etirage|stiro)"
    ):
        name = "core1_draft" if not draft.knows("core1_draft") else "core2_draft"
        figure = plain(drawn["a"] or drawn["b"])
        draft.take(drawn.span(), name, figure, f"draft of the core {figure}")
    word = draft.first(
        r"\b(?:core[\s-]?spun|core\s*yarn|corespun|core|con\s+alma|con\s+nucleo|con\s+anima"
        r"|ame|a\s+ame|ozlu|nucleo|alma)\b"
        r"(?:\s*(?:de|di|con|with|in|w/)?\s*(?:elastane?|elastan[oe]?|elasthanne|spandex))?"
        r"|\b(?:elastane?|elastan[oe]?|elasthanne|spandex|elastanlı|elastanli)\b"
    )
    if word:
        draft.take(word.span(), "core", "elastane", "core-spun yarn")
    elif draft.knows("core1_denier"):
        draft.values.setdefault("core", "elastane")


def _fibres(draft: Draft) -> None:
    """Shares and fibres in the order spoken; pure cotton is cotton."""
    a_fibre = "|".join(_FIBRES.values())
    blend = draft.first(
        rf"\b(?P<x>\d{{2}})\s*%?\s*(?P<f>{a_fibre})?\s*[/-]\s*(?P<y>\d{{2}})\s*%?\s*(?P<g>{a_fibre})\b(?:\s*[/-]\s*(?P<h>{a_fibre})\b)?"
        rf"|\b(?P<pc>pc|cp|pv|cv|co\s*/\s*pes"
        rf"|pes\s*/\s*co)\s*(?P<x2>\d{{2}})\s*[/-]\s*(?P<y2>\d{{2}})\b"
        rf"|\b(?P<x3>\d{{2}})\s*[/-]\s*(?P<y3>\d{{2}})\s*(?P<pc3>pc|cp)\b"
        rf"|\b(?P<f5>{a_fibre})\s*[/-]\s*(?P<g5>{a_fibre})\s*%?\s*(?P<x5>\d{{2}})\s*%?\s*[/-]\s*%?\s*(?P<y5>\d{{2}})\b"
        rf"|\b(?P<f6>t|{a_fibre})\s*(?P<x6>\d{{2}})\s*[/-]\s*(?P<g6>{a_fibre})\s*(?P<y6>\d{{2}})\b"
        rf"|%\s*(?P<x7>\d{{2}})\s*(?P<f7>{a_fibre})\s*[,/+&]?\s*(?:ve\s+)?%\s*(?P<y7>\d{{2}})\s*(?P<g7>{a_fibre})\b"
        rf"|\b(?P<x4>\d{{2}})\s*%?\s*(?P<f4>{a_fibre})\s*(?:[,+&]|and|y|e|et"
        rf"|ve)?\s*(?P<y4>\d{{2}})\s*%?\s*(?P<g4>{a_fibre})\b"
    )
    if blend:
        shares, fibres = _blend(blend)
        if fibres and sum(map(int, shares)) == 100:
            mix = f"{'/'.join(shares)} {'/'.join(fibres)}"
            draft.take(blend.span(), "fibre_mix", mix, f"fibre mix {mix}")
            return
    pure = draft.first(
        rf"\b100\s*%\s*{_FIBRES['cotton']}\b|\b{_FIBRES['cotton']}\s*100\s*%"
    ) or draft.first(
        r"\b(?:100\s*%\s*)?(?:cotton|algodon|cotone|algodao|pamuk|coton)(?:\s*100\s*%)?(?![\w-])"
    )
    if pure:
        draft.take(pure.span(), "fibre_mix", "cotton", "cotton")


def _blend(blend: re.Match[str]) -> tuple[list[str], list[str]]:
    part = blend.groupdict()
    if part["pc"] or part["pc3"]:
        letters = (part["pc"] or part["pc3"]).replace(" ", "")
        first = "cotton" if letters.startswith("c") else "polyester"
        second = (
            "viscose"
            if letters.endswith("v")
            else "cotton"
            if first == "polyester"
            else "polyester"
        )
        return [part["x2"] or part["x3"], part["y2"] or part["y3"]], [first, second]
    for place in ("5", "6", "7"):
        if part[f"x{place}"]:
            fibres = [_fibre(part[f"{letter}{place}"]) for letter in "fg"]
            return [part[f"x{place}"], part[f"y{place}"]], fibres
    if part["x4"]:
        return [part["x4"], part["y4"]], [_fibre(part["f4"]), _fibre(part["g4"])]
    if part["f"]:
        return [part["x"], part["y"]], [_fibre(part["f"]), _fibre(part["g"])]
    if part["h"]:
        return [part["x"], part["y"]], [_fibre(part["g"]), _fibre(part["h"])]
    return [], []


def _fibre(word: str) -> str:
    if word == "t":  # T/C, the trade's short form
        return "polyester"
    return next(name for name, words in _FIBRES.items() if re.fullmatch(words, word))


def _slub_mass(draft: Draft) -> None:
    words = (
        r"(?:slubs?|flam[ae]s?|fiamm[ae]|flammes?|ilave\s+kutle|massa\s+aggiunta"
        r"|(?:massa|masa|masse)\s+(?:\w+\s+){0,2}(?:flam|fiamm)\w*)"
    )
    found = draft.first(
        rf"\b{words}\s*(?:adds?|add|mass|plus|mas|mais|piu|\+|:)*\s*(?:[+]?\s*(?P<a>{NUMBER})\s*(?:%|pct|pc\b|percent|por\s*ciento|per\s*cento)"
        rf"|%\s*(?P<c>{NUMBER}))|\+\s*(?P<b>{NUMBER})\s*%\s*(?:mass|slub|flame)"
    )
    if found:
        figure = plain(next(part for part in found.groups() if part))
        draft.take(found.span(), "slub_added_mass_percent", figure, f"slubs add {figure} % of mass")
        draft.values.setdefault("effect", "slub")


_ENGLISH = ("inglese", "ingles", "anglais", "ingiliz", "english")
_METRIC = ("metrico", "metrique", "metrik", "metric")
_SYSTEM = {
    **dict.fromkeys(_ENGLISH, "Ne"),
    **dict.fromkeys(_METRIC, "Nm"),
    "ne": "Ne",
    "nec": "Ne",
    "nm": "Nm",
    "tex": "tex",
    "dtex": "dtex",
    "decitex": "dtex",
}
_FIGURE = r"\d{1,3}(?:[.,]\d{1,2})?"
_NAMED_COUNT = (
    rf"\b(?P<system>nec?|nm)\.?\s*[:=]?\s*(?P<figure>{_FIGURE})(?:\s*/\s*(?P<ply>\d)(?!\d"
    rf"|[.,]\d))?",
    rf"\b(?P<figure>{_FIGURE})(?:\s*/\s*(?P<ply>\d))?\s*(?P<system>nec?|nm|d?tex"
    rf"|decitex)\b(?:\s*x\s*(?P<ply2>\d)\b)?",
    rf"\b(?P<system>tex|dtex)\s*(?P<figure>{NUMBER})",
    rf"\b(?:(?:titolo|titulo|titre|numero|numara|count)\s*)?(?P<system>inglese|ingles"
    rf"|anglais|ingiliz|english|metrico|metrique|metrik|metric)\s*(?:numara"
    rf"|count)?\s*(?P<figure>{_FIGURE})(?:\s*/\s*(?P<ply>\d)(?!\d|[.,]\d))?",
)
_BARE_COUNT = (
    rf"(?<![\d.,/%$€])(?P<figure>{_FIGURE})\s*'?s\s*/\s*(?P<ply>[1-4])\b",
    rf"(?<![\d.,/%$€])(?P<figure>{_FIGURE})\s*/\s*(?P<ply>[1-4])\s*'?s?\b(?![\d%/]|[.,]\d)",
    rf"(?<![\d.,/%$€])(?P<ply>[12])\s*/\s*(?P<figure>{_FIGURE})\s*'?s?\b(?![\d%/]|[.,]\d)",
    rf"(?<![\d.,/%$€])(?P<figure>{_FIGURE})\s*'?s\b(?!\.)",
    rf"\bn\s*[.°º]{{1,2}}\s*(?P<figure>{_FIGURE})(?![\d%/]|[.,]\d)",
    rf"\b(?:count|titulo|titolo|titre|numara|numero"
    rf"|cuenta)\s*(?P<figure>{_FIGURE})\b(?![\d%/]|[.,]\d)",
    rf"(?<![\d.,/%$€])(?P<figure>{_FIGURE})\s*(?:count|numara|numero|lik|luk|lık|cuentas?)\b",
)
_USUAL_NE = (4, 30)  # counts of denim yarns that go without a system; common practice, no source
_SYSTEM_SAID = ("en", "es", "pt", "tr")  # where a bare cotton count is Ne; common practice


def _count(draft: Draft, language: str) -> None:
    for expression in _NAMED_COUNT:
        for found in draft.find(expression):
            system = _SYSTEM[found["system"]]
            if system == "dtex" and float(plain(found["figure"])) < 150:
                continue  # a filament of the core
            _take_count(draft, found, system)
            return
    for expression in _BARE_COUNT:
        bare = draft.first(expression)
        if bare:
            figure = float(plain(bare["figure"]))
            known = language in _SYSTEM_SAID and _USUAL_NE[0] <= figure <= _USUAL_NE[1]
            _take_count(draft, bare, "Ne" if known else "")
            return


def _take_count(draft: Draft, found: re.Match[str], system: str) -> None:
    parts = found.groupdict()
    figure = plain(parts["figure"])
    ply = parts.get("ply") or parts.get("ply2") or "1"
    folds = f", {ply} plies" if ply != "1" else ""
    draft.take(found.span(), "count", figure, f"count {system} {figure}{folds}".replace("  ", " "))
    draft.values["ply"] = ply
    if system:
        draft.values["count_system"] = system
    else:
        said = draft.said(found.span())
        draft.ask(
            Question(
                "count_system",
                f"“{said}” names no count system. Ask: is it Ne or Nm?",
                NOT_SAID["count_system"].choices,
            )
        )


def _spinning(draft: Draft) -> None:
    """The process; a yarn that only looks like ring is none, its look is a description."""
    for look in draft.find(rf"\b(?:{_RING}[\s-]*{_LOOKS}|{_LOOKS}[\s-]*(?:de\s+)?{_RING})\b"):
        draft.take(look.span(), "description", draft.said(look.span()), "a look, not the process")
    met: dict[str, tuple[int, int]] = {}
    for system, expression in _SPINNING:
        for word in draft.find(expression):
            met.setdefault(system, word.span())
            draft.take(word.span(), "", "", _SPOKEN[system])
    if "compact ring" in met:
        met.pop("ring", None)
    if len(met) == 1:
        system, span = next(iter(met.items()))
        draft.values["spinning"] = system
        draft.pieces = [
            replace(piece, field="spinning", value=system) if piece.start == span[0] else piece
            for piece in draft.pieces
        ]
    elif met:
        choices = tuple((system, _SPOKEN[system]) for system in met)
        draft.ask(
            Question(
                "spinning",
                f"The line names {' and '.join(_SPOKEN[each] for each in met)}. "
                "Ask: which process is this yarn?",
                choices,
            )
        )


def _words(draft: Draft, field: str, choices: tuple[tuple[str, str], ...]) -> None:
    for value, expression in choices:
        for word in draft.find(expression):
            draft.take(word.span(), field, value, value)


def _effect(draft: Draft) -> None:
    none = draft.first(rf"\b(?:senza|sin|sem|sans|without|no|non)\s+(?:{_SLUB})")
    if none:
        draft.take(none.span(), "", "", "no slub")
    multi, slub = draft.first(_MULTI), draft.first(_SLUB)
    effect = "multi-count slub" if multi and slub else "multi-count" if multi else "slub"
    for word in (multi, slub):
        if word:
            draft.take(word.span(), "effect", effect, f"{effect} yarn")


def _twist(draft: Draft) -> None:
    for found in draft.find(
        r"\b(?P<a>[zs])[\s-]*(?:twist|tw\b|tors\b\.?|torsion|torcao|torsione|torsion"
        r"|bukum(?:lu)?|torcido)\b"
        r"|\b(?:twist|torsion|torcao|torsione|tors|bukum|torcido)\.?\s*[:=]?\s*(?P<b>[zs])\b"
        r"|\((?P<c>[zs])\)|(?<=[\s,/])(?P<d>z)(?=[\s,/.;]|$)"
    ):
        direction = next(part for part in found.groups() if part).upper()
        draft.take(found.span(), "twist", direction, f"{direction} twist")
    alone = re.search(r"[|;]\s*([zs])\s*(?=[|;])", draft.text, re.IGNORECASE)
    if alone and not draft.knows("twist") and draft.free(*alone.span(1)):
        direction = alone[1].upper()
        draft.take(alone.span(1), "twist", direction, f"{direction} twist")


_BASES = (
    (
        "base",
        r"\(?\b(?:base|basis|baz|titolo\s+base|titulo\s+base|cuenta\s+base"
        r"|base\s+count)\b(?:\s+(?:count|yarn|titulo|titolo))?\)?",
    ),
    (
        "average",
        r"\(?\b(?:avg|average|promedio|prom|medi[oa]|moyen(?:ne)?|ortalama|ort"
        r"|mean)\b\.?(?:\s+(?:count|titulo|titolo|numara))?\)?",
    ),
    (
        "total",
        r"\(?\b(?:total|totale|toplam|final|finito|resultant|overall|finished"
        r"|incl(?:uding)?\.?\s+core)\b(?:\s+(?:count|titulo|titolo|numara|yarn))?\)?",
    ),
    (
        "sheath",
        r"\(?\b(?:sheath|cover\s+only|w(?:ith)?o(?:ut)?\s+core|sin\s+alma|senza\s+anima"
        r"|sem\s+nucleo|sans\s+ame|ozsuz|mantle|gaine|manto)\b\)?",
    ),
)


def _basis(draft: Draft) -> None:
    """Average or base, total or sheath: said, or asked when it matters."""
    fancy, cored = draft.knows("effect"), draft.knows("core")
    if not fancy and not cored:
        return
    met = {
        value: word
        for value, expression in _BASES
        if ((value in ("base", "average")) == fancy or (fancy and cored))
        and (word := draft.first(expression))
    }
    if len(met) == 1:
        value, word = next(iter(met.items()))
        draft.take(word.span(), "count_basis", value, f"{value} count")
        return
    choices = (
        (("total", "of the whole yarn with its core"), ("sheath", "of the fibres around the core"))
        if cored
        else (("average", "over slubs and base"), ("base", "between the slubs"))
    )
    draft.values["count_basis"] = "unknown"
    draft.ask(
        Question(
            "count_basis",
            "The count of this yarn can be of two things. Ask: is it the "
            f"{' or the '.join(value for value, _ in choices)} count?",
            choices,
        )
    )
