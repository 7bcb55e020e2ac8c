"""The appendix of a handout: the inputs with their sources, and the formulas as they were."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from server.core.pack import Cloth, FrozenFormula, FrozenInput, FrozenPair, FrozenYarn
from server.core.pair import assumption_of
from server.core.rates import CHARGES
from server.export import cautions
from server.export.handout_parts import (
    Appendix,
    Cell,
    Column,
    Fact,
    InputGroup,
    Row,
    Table,
    Teller,
    figures,
    table_of,
)

RATES = "Rates, freight, duty and charges"
PROCESS = "Assumptions"
_RATE_NAMES = ("exchange_rate", "lane", "duty_rate", "in_the_price")  # in the order they stand
FOREIGN = "¤q is the currency of the quote."
_OF_THE_CLOTH = ("crimp", "waste", "share_of_threads")
OfACloth = dict[str, dict[FrozenInput, list[FrozenPair]]]  # name -> input -> pairs that have it


@dataclass
class _Found:
    """The inputs of a pack by what they belong to, each once, in order of first use.

    shared: those of every cloth, with their names; yarns: those of each offer
    """

    shared: dict[str, dict[tuple[str, FrozenInput], None]]
    yarns: dict[str, tuple[FrozenYarn, dict[FrozenInput, None]]]

    def take(self, cloth: Cloth, teller: Teller) -> OfACloth:
        """Take in the inputs of a cloth; what belongs to it alone is given back."""
        own: OfACloth = defaultdict(dict)
        for pair in cloth.pairs:
            slots = {yarn.slot: yarn for yarn in pair.yarns}
            for name, entry in teller.about(pair).inputs.items():
                slot, _, last = name.partition(".")
                yarn = slots.get(slot) if last not in _OF_THE_CLOTH else None
                group = "" if slot in slots else _group(name)
                if yarn:
                    self.yarns.setdefault(yarn.code, (yarn, {}))[1][entry] = None
                elif group:
                    self.shared[group][name, entry] = None
                else:
                    own[name].setdefault(entry, []).append(pair)
        return own


def appendix_of(teller: Teller) -> Appendix:
    """Everything the figures of a pack rest on, each entry once."""
    found = _Found({RATES: {}, PROCESS: {}}, {})
    cloths = [(cloth, found.take(cloth, teller)) for cloth in teller.pack.cloths]
    return Appendix(
        tables=tuple(
            _inputs(teller, title, [entry for _, entry in sorted(entries, key=_place)])
            for title, entries in found.shared.items()
            if entries
        ),
        cloths=tuple(
            group
            for cloth, own in cloths
            for group in _groups(teller, cloth.title, _of_cloth(cloth, own))
        ),
        yarns=tuple(
            group
            for yarn, entries in found.yarns.values()
            for group in _groups(teller, _yarn_title(yarn), [(each, "") for each in entries])
        ),
        formulas=_formulas(teller),
        cautions=_cautions(bool(found.shared[RATES])),
    )


def _group(name: str) -> str:
    """The group of an input that all cloths share; "" for one of a cloth.

    name: with a dot it is a rate's, or an assumption's of a spinning route
    """
    kind, dot, _ = name.partition(".")
    if kind in _RATE_NAMES or kind in CHARGES:
        return RATES
    return PROCESS if dot or assumption_of(name) != name else ""


def _place(named: tuple[str, FrozenInput]) -> tuple[int, str]:
    """Rates by kind and, of lanes and duties, by country; the rest in the order of first use."""
    kind, _, of = named[0].partition(".")
    if kind not in _RATE_NAMES:
        return len(_RATE_NAMES), ""
    return _RATE_NAMES.index(kind), of.partition(".")[0]


def _of_cloth(cloth: Cloth, own: OfACloth) -> list[tuple[FrozenInput, str]]:
    """Inputs of a cloth, each with the columns of a variant it holds for.

    What differs from pair to pair of a construction is a figure that stands in its table of pairs.
    """
    told = []
    for entries in own.values():
        if len(entries) == 1:
            told.append((next(iter(entries)), ""))
        elif cloth.variant:
            told += [
                (entry, ", ".join(pair.label for pair in pairs)) for entry, pairs in entries.items()
            ]
    return told


def _groups(
    teller: Teller, title: str, entries: Iterable[tuple[FrozenInput, str]]
) -> list[InputGroup]:
    """The inputs of a cloth or a yarn under the source that most of them have."""
    found = list(entries)
    if not found:
        return []
    sources = [_source(entry) for entry, _ in found]
    main = max(dict.fromkeys(sources), key=sources.count)
    facts = []
    for (entry, of), source in zip(found, sources, strict=True):
        text = teller.writer.full(entry.value, entry.unit)
        notes = (entry.as_entered if entry.as_entered != text else "", of)
        told = "; ".join(each for each in (*notes, source if source != main else "") if each)
        facts.append(Fact(entry.label, text, told))
    return [InputGroup(title, main, tuple(facts))]


def _source(entry: FrozenInput) -> str:
    return ", ".join(each for each in (entry.source, str(entry.on) if entry.on else "") if each)


def _yarn_title(yarn: FrozenYarn) -> str:
    seller = yarn.supplier if not yarn.code.startswith(yarn.supplier) else ""
    plain = " ".join(each for each in (yarn.code, yarn.count, yarn.process) if each)
    return ", ".join(each for each in (plain, seller, yarn.country) if each)


def _inputs(teller: Teller, title: str, entries: Iterable[FrozenInput]) -> Table:
    columns = (
        Column("Input", wide=2), figures("Value"), Column("Unit"), Column("As entered", wide=1),
        Column("Source", wide=1.5), Column("Date"),
    )  # fmt: skip
    rows = []
    for entry in entries:
        texts = (
            entry.label,
            teller.writer.text(entry.value, entry.unit),
            _unit(teller, entry.unit),
            entry.as_entered,
            entry.source,
            str(entry.on) if entry.on else "",
        )
        rows.append(Row(tuple(Cell((text,)) if text else Cell() for text in texts)))
    return table_of(title, columns, rows)


def _unit(teller: Teller, unit: str) -> str:
    """A unit as shown; the currency of a quote stays ¤q, since each quote has its own."""
    return "¤q".join(teller.unit(part) for part in unit.split("¤q"))


def _formulas(teller: Teller) -> Table:
    formulas = teller.pack.formulas.values()
    columns = (
        Column("Figure", wide=2), Column("Unit"), Column("Formula", wide=3),
        Column("Published in", wide=2),
    )  # fmt: skip
    rows = [
        Row(
            (Cell((each.title,)), Cell((each.unit,)), Cell((in_words(each),)), Cell((each.source,)))
        )
        for each in formulas
    ]
    return table_of("Formulas", columns, rows)


class _Names(dict[str, str]):
    """Arguments of a formula as words."""

    def __missing__(self, key: str) -> str:
        return key.replace("_", " ")


def in_words(formula: FrozenFormula) -> str:
    """The formula with the names of its arguments as words."""
    return formula.words.format_map(_Names())


def _cautions(rates: bool) -> tuple[str, ...]:
    """Those that belong to rates, when there are any."""
    if not rates:
        return ()
    return (cautions.RATES, cautions.DUTY, cautions.TERMS, cautions.ORIGIN, cautions.TESTS)
