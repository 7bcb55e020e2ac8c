"""What a request changes of a construction, as typed: figures, yarns and assumptions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from server.actions.what_if import EVERY_NAME, typed_what_if

CLOTH_FIELDS = (
    "total_ends", "loom_ppi", "reed_width_in", "weave", "twill_hand", "finished_width_in",
    "cuttable_width_in", "length_shrink_percent", "net_finish_percent", "season_metres",
)  # fmt: skip
YARN_FIELDS = ("ne", "spinning", "twist", "crimp_percent", "waste_percent")
SLOTS = ("warp", "warp2", "filling", "filling2")
FIELDS = (
    *(
        f"{slot}_{field}"
        for slot in SLOTS
        for field in YARN_FIELDS
        if (slot[:7], field) != ("filling", "crimp_percent")
    ),
    *CLOTH_FIELDS,
)
"""Fields of a construction's entry that the desk changes, in the order of its form."""
YARNS = tuple(f"{slot}_yarn" for slot in SLOTS)


@dataclass(frozen=True)
class AskedChange:
    """What a request changes, as typed.

    pair: the yarns before, `Q14/Q20`; "" for the cheapest possible pair
    fields: field of the entry -> text; yarns: `filling_yarn` -> offer code or “own OE”
    assumptions: key -> text
    """

    pair: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)
    yarns: Mapping[str, str] = field(default_factory=dict)
    assumptions: Mapping[str, str] = field(default_factory=dict)

    @property
    def query(self) -> dict[str, str]:
        """The change as an address holds it."""
        return {"pair": self.pair, **self.fields, **self.yarns, **self.assumptions}

    @property
    def is_empty(self) -> bool:
        """Whether nothing is changed."""
        return not (self.fields or self.yarns or self.assumptions)


def read_change(query: Mapping[str, str]) -> AskedChange:
    """The change a query asks for; blank parts ask for nothing."""
    texts = {name: text.strip() for name, text in query.items() if text.strip()}
    return AskedChange(
        texts.get("pair", ""),
        {name: texts[name] for name in FIELDS if name in texts},
        {name: texts[name] for name in YARNS if name in texts},
        typed_what_if(texts, EVERY_NAME),
    )


def following_requotes(asked: AskedChange, replaced: Mapping[str, str]) -> AskedChange:
    """The same change with the offers it names in their latest quote.

    replaced: offer -> the later offer that replaced it
    """

    def latest(code: str) -> str:
        while code in replaced:
            code = replaced[code]
        return code

    return replace(
        asked,
        pair="/".join(latest(code) for code in asked.pair.split("/")),
        yarns={slot: latest(code) for slot, code in asked.yarns.items()},
    )
