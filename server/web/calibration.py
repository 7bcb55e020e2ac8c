"""Measured pieces of a construction: what they say of crimp, shrink and net finish."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.calibration import (
    Calibrated,
    calibration_of,
    remove_piece,
    take_calibration,
)
from server.actions.constructions import computed
from server.actions.stated_weight import stated_weights
from server.actions.variants import refuse_stale
from server.core.calibration import ESTIMATES, Beside, Calibration, Estimate, ounces_of
from server.core.errors import BadValue, NotFound
from server.core.how_close import HEAVY, LIGHT
from server.export import cautions
from server.export.calibration import CALIBRATION_COLUMNS, calibration_document, calibration_rows
from server.export.csv_file import as_csv
from server.request import house_of
from server.store.audit import Change
from server.web import addresses
from server.web.forms import SentForm
from server.web.history import history_lines
from server.web.numbers import Writer
from server.web.render import csv_answer, render, units_of
from server.web.stated_weight import StatedView, stated_views
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Take:
    """An estimate that may be taken into the construction."""

    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Removal:
    """A piece that can be removed."""

    label: str
    action: str


@dataclass(frozen=True, slots=True)
class CalibrationPage:
    """Everything the page of measured pieces shows.

    sentence: what taking all would do; stated: pieces whose weight their yarn cannot have
    error: why nothing was taken
    """

    title: str
    code: str
    back_href: str
    new_href: str
    sentence: str
    pieces: Table
    estimates: Table
    takes: tuple[Take, ...]
    action: str
    version: int
    sisters: Table
    stated: tuple[StatedView, ...]
    removals: tuple[Removal, ...]
    history: tuple[str, ...]
    error: str
    cautions: tuple[str, ...]


def calibration_path(code: str) -> str:
    """The measured pieces of a construction."""
    return f"{addresses.construction_path(code)}/calibration"


@router.get("/constructions/{code}/calibration.json")
def calibration_json(request: Request, code: str) -> Response:
    """The pieces and what they say, as data."""
    found = calibration_of(house_of(request).engine, code)
    return JSONResponse(calibration_document(found.calibration, found.sisters))


@router.get("/constructions/{code}/calibration.csv")
def calibration_csv(request: Request, code: str) -> Response:
    """Every piece with its figures, and the mean and spread of each estimate, as CSV."""
    found = calibration_of(house_of(request).engine, code)
    rows = calibration_rows(found.calibration)
    return csv_answer(f"calibration-{code}", as_csv(list(CALIBRATION_COLUMNS), rows))


@router.get("/constructions/{code}/calibration")
def calibration_page(request: Request, code: str) -> HTMLResponse:
    """Measured pieces, estimates, sister cloths."""
    return _page(request, code)


def _page(request: Request, code: str, error: str = "", status: int = 200) -> HTMLResponse:
    found = calibration_of(house_of(request).engine, code)
    writer = Writer(units_of(request), "")
    calibration = found.calibration
    pieces = tuple(each.piece for each in calibration.beside)
    page = CalibrationPage(
        title=f"Measured pieces of {code}",
        code=code,
        back_href=addresses.construction_path(code),
        new_href=addresses.with_query("/pieces/new", {"construction": code}),
        sentence=_sentence(calibration, writer),
        pieces=_piece_table(calibration, writer, calibration_path(code)),
        estimates=_estimate_table(calibration, writer),
        takes=tuple(
            Take(each.key, f"{each.label}: {writer.full(each.mean, 'share')}")
            for each in calibration.estimates
            if not each.why_not
        ),
        action=calibration_path(code),
        version=found.version,
        sisters=_sister_table(found, writer),
        stated=stated_views(stated_weights(computed(calibration.construction), pieces), writer),
        removals=tuple(
            Removal(piece.label, f"{calibration_path(code)}/{piece.id}/remove") for piece in pieces
        ),
        history=tuple(_told(label, change) for label, change in found.history),
        error=error,
        cautions=(cautions.TESTS, cautions.WEIGHT),
    )
    template = "constructions/calibration.html"
    return render(request, template, page, section="constructions", status=status)


@router.post("/constructions/{code}/calibration")
def take(request: Request, code: str, sent: SentForm) -> Response:
    """Take the ticked estimates into the construction."""
    house = house_of(request)
    names = [name for name in ESTIMATES if sent.fields.get(name)]
    version = refuse_stale(sent.fields.get("version", ""))
    today = datetime.now(UTC).date()
    try:
        take_calibration(house.engine, code, names, house.person_id, version=version, on=today)
    except BadValue as wrong:
        return _page(request, code, str(wrong), 422)
    return RedirectResponse(f"{addresses.construction_path(code)}?notice=changed", 303)


@router.post("/constructions/{code}/calibration/{number}/remove")
def remove(request: Request, code: str, number: str) -> Response:
    """Remove a measured piece; the history keeps it."""
    house = house_of(request)
    if not (number.isdecimal() and number.isascii() and len(number) < 10):
        raise NotFound(
            f"There is no measured piece “{number[:40]}”.",
            field="piece",
            value=number,
            remedy="Open the pieces of the construction again.",
        )
    remove_piece(house.engine, code, int(number), house.person_id)
    return RedirectResponse(f"{calibration_path(code)}?notice=removed", 303)


def _told(label: str, change: Change) -> str:
    """What was done to a piece, with its name."""
    if change.action == "remove":
        return f"{change.at:%Y-%m-%d %H:%M} UTC, {change.person}: {label} removed"
    (line,) = history_lines([change])
    return line.replace(": ", f": {label}, ", 1)


def _sentence(calibration: Calibration, writer: Writer) -> str:
    computed = writer.full(ounces_of(calibration.computed), "oz/yd²")
    if calibration.measured is None:
        return f"Computed {computed}; no finished piece was weighed yet."
    measured = writer.full(ounces_of(calibration.measured), "oz/yd²")
    off = calibration.computed / calibration.measured - 1
    becomes = writer.full(ounces_of(calibration.becomes), "oz/yd²")
    return (
        f"Computed {computed}, measured {measured} on average: computed "
        f"{writer.signed(off, 'share')} %. With every estimate taken it becomes {becomes}."
    )


def _piece_table(calibration: Calibration, writer: Writer, path: str) -> Table:
    return Table(
        caption=f"{len(calibration.beside)} measured pieces; computed beside each weight",
        columns=(
            Column("piece", "Piece"),
            Column("state", "State"),
            Column("ounces", "Weight", writer.unit("oz/yd²"), numeric=True),
            Column("computed", "Computed", writer.unit("oz/yd²"), numeric=True),
            Column("apart", "Computed off by", "%", numeric=True),
            Column("width", "Width", writer.unit("in"), numeric=True),
            Column("epi", "Ends", writer.unit("1/in"), numeric=True),
            Column("ppi", "Picks", writer.unit("1/in"), numeric=True),
            Column("crimp", "Warp crimp", "%", numeric=True),
            Column("filling", "Filling crimp", "%", numeric=True),
            Column("shrink", "Length shrink", "%", numeric=True),
        ),
        rows=tuple(_piece_row(each, writer) for each in calibration.beside),
        empty="No piece is measured yet. Add one: a weight, a width, threads, crimp or lengths.",
        exports=(("CSV", f"{path}.csv"), ("JSON", f"{path}.json")),
    )


def _piece_row(beside: Beside, writer: Writer) -> Row:
    piece = beside.piece

    def text(value: float | None, unit: str) -> Cell:
        return Cell("–" if value is None else writer.text(value, unit))

    note = f"{piece.on}, {piece.source}"
    weight = text(piece.ounces, "oz/yd²")
    apart = ""
    if beside.apart is not None:
        apart = f"stands apart: {writer.signed(beside.apart, 'share')} % from the other pieces"
    return Row(
        (
            Cell(
                piece.label,
                href=f"/pieces/{piece.id}",
                note=f"left out: {piece.notes}" if piece.left_out else note,
            ),
            Cell(piece.state),
            Cell(weight.text, note=apart, badge="doubt" if apart else ""),
            text(None if beside.computed is None else ounces_of(beside.computed), "oz/yd²"),
            Cell("–" if beside.deviation is None else writer.signed(beside.deviation, "share")),
            text(piece.width_in, "in"),
            text(piece.epi, "1/in"),
            text(piece.ppi, "1/in"),
            text(piece.warp_crimp, "share"),
            text(piece.filling_crimp, "share"),
            text(piece.length_shrink, "share"),
        ),
        key=piece.label,
        tone="muted" if piece.left_out else "",
    )


def _estimate_table(calibration: Calibration, writer: Writer) -> Table:
    return Table(
        caption="What the pieces say, beside what the construction holds",
        columns=(
            Column("figure", "Figure"),
            Column("in_use", "In use", "%", numeric=True),
            Column("mean", "Mean of the pieces", "%", numeric=True),
            Column("apart", "Difference", "points", numeric=True),
            Column("pieces", "Pieces", numeric=True),
            Column("spread", "Standard deviation", "points", numeric=True),
            Column("range", "Lowest to highest", "%", numeric=True),
            Column("becomes", "Weight then", writer.unit("oz/yd²"), numeric=True),
        ),
        rows=tuple(_estimate_row(each, writer) for each in calibration.estimates),
        empty="Nothing to calibrate on: enter a crimp, the two lengths, or a finished weight.",
    )


def _estimate_row(each: Estimate, writer: Writer) -> Row:
    several = len(each.values) > 1
    ends = f"{writer.text(each.low, 'share')} to {writer.text(each.high, 'share')}"
    return Row(
        (
            Cell(each.label, note=f"not taken: {each.why_not}" if each.why_not else ""),
            Cell(writer.text(each.in_use, "share"), note=each.rests_on),
            Cell(writer.text(each.mean, "share"), strong=True),
            Cell(writer.signed(each.mean - each.in_use, "share")),
            Cell(str(len(each.values))),
            Cell(
                writer.text(each.spread, "share")
                if each.spread is not None
                else "one piece, no spread"
            ),
            Cell(ends if several else "–"),
            Cell("–" if each.becomes is None else writer.text(ounces_of(each.becomes), "oz/yd²")),
        ),
        key=each.key,
    )


def _ratio_cell(ratio: float, writer: Writer) -> Cell:
    """A ratio of weight to straight yarn, doubted where no honest cloth has it."""
    usual = LIGHT <= ratio <= HEAVY
    note = "" if usual else f"{LIGHT:.2f} to {HEAVY:.2f} is usual"
    return Cell(writer.text(ratio, "×"), note=note, badge="" if usual else "doubt")


def _sister_table(found: Calibrated, writer: Writer) -> Table:
    own = found.calibration
    return Table(
        caption="Sister cloths of the house with a measured weight; nearest in kind first",
        columns=(
            Column("sister", "Sister cloth"),
            Column("pieces", "Pieces", numeric=True),
            Column("measured", "Its weight", writer.unit("oz/yd²"), numeric=True),
            Column("ratio", "Over straight yarn", "×", numeric=True),
            Column("predicted", "Says of this cloth", writer.unit("oz/yd²"), numeric=True),
            Column("apart", "Computed off by", "%", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(sister.code, href=addresses.construction_path(sister.code)),
                    Cell(str(sister.pieces)),
                    Cell(writer.text(ounces_of(sister.measured), "oz/yd²")),
                    _ratio_cell(sister.ratio, writer),
                    Cell(writer.text(ounces_of(sister.predicted), "oz/yd²"), strong=True),
                    Cell(writer.signed(own.computed / sister.predicted - 1, "share")),
                ),
                key=sister.code,
            )
            for sister in found.sisters
        ),
        empty="No other construction has a measured weight yet.",
    )
