"""The prices of one yarn of a supplier over time: a table and a chart of the same figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions import price_history as history
from server.actions.compare import sound_basis_change
from server.actions.price_history import Quote, YarnOffers
from server.core.errors import BadValue, NotFound
from server.core.offer import Offer
from server.export import cautions, history_chart
from server.export.csv_file import as_csv
from server.export.history_chart import PricePoint
from server.request import house_of
from server.web import addresses, pictures
from server.web.listing import Listing
from server.web.numbers import Writer
from server.web.pictures import Drawing, Picture, Spec
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Pager, Row, Table

router = APIRouter()
ROWS_A_PAGE = 50
SHOWN_QUOTES = 24  # of a yarn on the page of its supplier
PRICES = {"seller": "seller's own unit", "same-basis": "same basis"}


@dataclass(frozen=True, slots=True)
class YarnView:
    """The prices of one yarn over time. more: (label, href) of the whole history, or None."""

    anchor: str
    name: str
    table: Table
    picture: Picture | None
    note: str
    more: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class YarnPage:
    """The whole price history of one yarn."""

    title: str
    back_href: str
    back_label: str
    views: tuple[tuple[str, str, bool], ...]
    yarn: YarnView
    cautions: tuple[str, ...]


@router.get("/suppliers/{supplier:path}/prices.csv")
def prices_csv(request: Request, supplier: str) -> Response:
    """Every quote of one yarn as CSV."""
    yarn, quotes = _every_quote(request, supplier)
    currency = quotes[0].landed.currency if quotes else ""
    text = as_csv(
        ["offer", "quoted on", "valid until", "price", "price unit",
         f"same basis [{currency}/kg]", "replaces", "replaced by", "state", "yarn"],
        (
            [q.offer.code, q.offer.quoted_on, q.offer.valid_until, q.offer.price, q.unit,
             q.landed.same_basis_price, q.replaces, q.replaced_by, _state(q), yarn.name]
            for q in quotes
        ),
    )  # fmt: skip
    return csv_answer("prices", text)


@router.get("/suppliers/{supplier:path}/prices.json")
def prices_json(request: Request, supplier: str) -> Response:
    """Every quote of one yarn as data."""
    yarn, quotes = _every_quote(request, supplier)
    return JSONResponse(
        {
            "supplier": supplier,
            "yarn": yarn.name,
            "units": {"same_basis_price": f"{quotes[0].landed.currency}/kg" if quotes else ""},
            "quotes": [
                {
                    "offer": q.offer.code,
                    "quoted_on": q.offer.quoted_on.isoformat(),
                    "valid_until": str(q.offer.valid_until) if q.offer.valid_until else None,
                    "price": str(q.offer.price),
                    "price_unit": q.unit,
                    "same_basis_price": q.landed.same_basis_price,
                    "replaces": q.replaces or None,
                    "replaced_by": q.replaced_by or None,
                    "state": _state(q),
                }
                for q in quotes
            ],
        }
    )


@router.get("/suppliers/{supplier:path}/prices")
def prices_page(request: Request, supplier: str) -> HTMLResponse:
    """The whole price history of one yarn of a supplier, a page at a time."""
    query = dict(request.query_params)
    yarn = history.yarn_of(house_of(request).engine, supplier, query.get("yarn", ""))
    own = f"/suppliers/{addresses.part(supplier)}"
    path = f"{own}/prices"
    listing = Listing(path, query, ROWS_A_PAGE)
    quotes = on_basis(request, listing.part(yarn.offers))
    page = YarnPage(
        title=f"Prices of {supplier}: {yarn.name}",
        back_href=f"{own}#prices",
        back_label=supplier,
        views=price_views(request, path, ""),
        yarn=_yarn_view(
            request, supplier, yarn, quotes, page=listing.page_of(len(yarn.offers)),
            pager=listing.pager(len(yarn.offers)),
        ),
        cautions=(cautions.DUTY, cautions.RATES),
    )  # fmt: skip
    return render(request, "suppliers/prices.html", page, section="suppliers")


def drawing_of(request: Request) -> Drawing:
    """The chart of one yarn: the quotes of one page of its history, or the newest."""
    query = request.query_params
    supplier = query.get("supplier", "")
    yarn = history.yarn_of(house_of(request).engine, supplier, query.get("yarn", ""))
    listing = Listing("", dict(query), ROWS_A_PAGE)
    offers = listing.part(yarn.offers) if query.get("page") else yarn.offers[:SHOWN_QUOTES]
    quotes = on_basis(request, offers)
    writer = Writer(units_of(request), quotes[0].landed.currency)
    points, unit = _points(quotes, _prices(query), writer)
    if not points:
        raise NotFound(
            "No quote of this yarn has such a price to draw.",
            field="prices",
            value=_prices(query),
            remedy="Read the table beside the chart.",
        )
    return partial(_spec, points, unit)


def newest_view(request: Request, supplier: str, yarn: YarnOffers) -> YarnView:
    """The newest quotes of a yarn, for the page of its supplier."""
    quotes = on_basis(request, yarn.offers[:SHOWN_QUOTES])
    return _yarn_view(request, supplier, yarn, quotes)


def _yarn_view(
    request: Request,
    supplier: str,
    yarn: YarnOffers,
    quotes: Sequence[Quote],
    *,
    page: int = 0,
    pager: Pager | None = None,
) -> YarnView:
    query = request.query_params
    writer = Writer(units_of(request), quotes[0].landed.currency)
    prices, kept = _prices(query), addresses.basis_query(query)
    asked = {"yarn": yarn.key, "prices": prices, **kept}
    path = f"/suppliers/{addresses.part(supplier)}/prices"
    points, unit = _points(quotes, prices, writer)
    anchor = f"yarn-{yarn.key}"
    left_out = len(quotes) - len(points)
    why = "in other units" if prices == "seller" else "without a price on this basis"
    picture = None
    if len(points) > 1:
        picture = pictures.picture(
            partial(_spec, points, unit),
            "/charts/suppliers/prices.svg",
            {**asked, "supplier": supplier, "units": writer.units,
             "page": str(page) if page else ""},
            caption=f"{yarn.name}: price over time, {PRICES[prices]}",
            unit=unit,
            alt="Price of each quote by its day; the table beside it has the same figures",
            table_href=f"#{anchor}",
        )  # fmt: skip
    more = len(yarn.offers) > len(quotes) and not page
    return YarnView(
        anchor=anchor,
        name=yarn.name,
        table=_quotes_table(
            yarn, quotes, writer, kept, prices, pager=pager,
            exports=tuple(
                (name, addresses.with_query(f"{path}.{name.lower()}", asked))
                for name in ("CSV", "JSON")
            ),
        ),
        picture=picture,
        note=f"{left_out} of these quotes {'is' if left_out == 1 else 'are'} {why}, so the chart "
        "leaves them out."
        if left_out
        else "",
        more=(f"All {len(yarn.offers)} quotes", addresses.with_query(path, asked))
        if more
        else None,
    )  # fmt: skip


def _quotes_table(
    yarn: YarnOffers,
    quotes: Sequence[Quote],
    writer: Writer,
    kept: Mapping[str, str],
    prices: str,
    *,
    pager: Pager | None,
    exports: tuple[tuple[str, str], ...],
) -> Table:
    return Table(
        caption=f"Quotes of {yarn.name}, the newest first",
        columns=(
            Column("quoted_on", "Quoted on"),
            Column("offer", "Offer"),
            Column("price", "Price as quoted"),
            Column("same_basis", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("valid_until", "Valid until"),
        ),
        rows=tuple(_quote_row(quote, writer, kept, prices) for quote in quotes),
        empty="",
        exports=exports,
        pager=pager,
    )


def _quote_row(quote: Quote, writer: Writer, kept: Mapping[str, str], prices: str) -> Row:
    offer, price = quote.offer, quote.landed.same_basis_price
    told = [f"replaces {quote.replaces}"] if quote.replaces else []
    told += [f"replaced by {quote.replaced_by}"] if quote.replaced_by else []
    return Row(
        (
            Cell(offer.quoted_on.isoformat()),
            Cell(
                offer.code,
                href=addresses.with_query(addresses.offer_path(offer.code), kept),
                note=", ".join(told),
            ),
            Cell(offer.price_text, strong=prices == "seller"),
            Cell(
                "" if price is None else writer.text(price, "¤/kg"),
                note="" if price is not None else quote.landed.missing,
                strong=prices == "same-basis",
            ),
            Cell(
                str(offer.valid_until or "not said"),
                badge="expired" if quote.landed.expired else "",
            ),
        ),
        key=offer.code,
        tone="" if _state(quote) == "open" else "muted",
    )


def _points(
    quotes: Sequence[Quote], prices: str, writer: Writer
) -> tuple[tuple[PricePoint, ...], str]:
    """The quotes that can stand on one axis, and its unit."""
    own = history.usual_unit(quotes)
    points = []
    before = history.chain(quotes)
    for quote in quotes:
        same = quote.landed.same_basis_price
        if prices == "seller":
            if quote.unit != own:
                continue
            price, text = float(quote.offer.price), str(quote.offer.price)
        elif same is None:
            continue
        else:
            price, text = writer.number(same, "¤/kg"), writer.text(same, "¤/kg")
        points.append(
            PricePoint(
                quote.offer.code, quote.offer.quoted_on, price, text,
                before.get(quote.offer.code, ""), _state(quote) == "open",
            )
        )  # fmt: skip
    return tuple(points), own if prices == "seller" else f"{writer.unit('¤/kg')}, same basis"


def _spec(points: Sequence[PricePoint], unit: str, theme: str, width_px: int) -> Spec:
    return history_chart.price_history(points=points, unit=unit, theme=theme, width_px=width_px)


def _state(quote: Quote) -> str:
    if quote.replaced_by:
        return "replaced"
    return "expired" if quote.landed.expired else "open"


def on_basis(request: Request, offers: Sequence[Offer]) -> tuple[Quote, ...]:
    """These offers on the basis of the address."""
    query = request.query_params
    return history.quotes_of(
        house_of(request).engine, offers, sound_basis_change(query), query.get("basis", "")
    )


def _every_quote(request: Request, supplier: str) -> tuple[YarnOffers, tuple[Quote, ...]]:
    yarn = history.yarn_of(house_of(request).engine, supplier, request.query_params.get("yarn", ""))
    return yarn, on_basis(request, yarn.offers)


def _prices(query: Mapping[str, str]) -> str:
    prices = query.get("prices") or "seller"
    if prices not in PRICES:
        raise BadValue(
            f"“{prices[:20]}” are no prices that can be drawn.",
            field="prices",
            value=prices,
            remedy=f"Choose {' or '.join(PRICES)}.",
        )
    return prices


def price_views(request: Request, path: str, anchor: str) -> tuple[tuple[str, str, bool], ...]:
    """The prices that can be shown: (label, href, whether it is shown)."""
    query = dict(request.query_params)
    current = _prices(query)
    return tuple(
        (label, addresses.with_query(path, {**query, "prices": name}) + anchor, name == current)
        for name, label in PRICES.items()
    )
