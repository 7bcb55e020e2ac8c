"""What a seller left open about an offer: the questions, their answers, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.nouns import NOUNS, Refused
from server.actions.offer_answers import answer_offer
from server.core.offer import Offer
from server.request import house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.record_forms import sent_version
from server.web.render import render

router = APIRouter()


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """One question. choices: (value, meaning)."""

    field: str
    label: str
    sentence: str
    choices: tuple[tuple[str, str], ...]
    unit: str


@dataclass(frozen=True, slots=True)
class QuestionsView:
    """Open questions of an offer. intake: (words, href) of the paste or file it came in with."""

    action: str
    version: str
    questions: tuple[OpenQuestion, ...]
    intake: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class AnswerPage:
    """An answer that was refused. errors: (field, label, message)."""

    title: str
    back_href: str
    errors: tuple[tuple[str, str, str], ...]


def questions_view(offer: Offer, version: int) -> QuestionsView:
    """The open questions of an offer as a form."""
    fields = NOUNS["offers"].fields
    path = addresses.offer_path(offer.code)
    intake = None
    if offer.intake_id is not None:
        words = f"Intake {offer.intake_id}, line {offer.intake_line}"
        after = (offer.intake_line or 1) - 1
        href = addresses.with_query(
            f"/intake/{offer.intake_id}", {"after": str(after) if after else ""}
        )
        intake = (words, f"{href}#line-{offer.intake_line}")
    return QuestionsView(
        action=f"{path}/answer",
        version=str(version),
        questions=tuple(
            OpenQuestion(
                each.field,
                fields[each.field].title or each.field,
                each.sentence,
                each.choices,
                each.unit,
            )
            for each in offer.open_questions
        ),
        intake=intake,
    )


@router.post("/offers/{code}/answer")
def answer(request: Request, code: str, sent: SentForm) -> Response:
    """Enter one answer."""
    house, fields = house_of(request), sent.fields
    said = fields.get("own", "").strip() or fields.get("answer", "")
    try:
        answer_offer(
            house.engine, code, fields.get("field", ""), said, sent_version(sent), house.person_id
        )
    except Refused as refused:
        page = AnswerPage(
            title=f"Offer {code}: the answer was not stored",
            back_href=f"{addresses.offer_path(code)}#questions",
            errors=tuple((each.field, each.label, each.message) for each in refused.errors),
        )
        return _refusal(request, page)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=changed#questions", 303)


def _refusal(request: Request, page: AnswerPage) -> HTMLResponse:
    return render(request, "offers/answer.html", page, section="offers", status=422)
