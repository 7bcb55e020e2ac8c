"""The API described as a page: no script, nothing from the network."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from server.web.render import render

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation. inputs: (name, where, meaning)."""

    method: str
    path: str
    summary: str
    inputs: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class ApiPage:
    """Everything the template shows."""

    title: str
    description: str
    groups: tuple[tuple[str, tuple[Operation, ...]], ...]


@router.get("/api")
def api_guide(request: Request) -> HTMLResponse:
    """Every operation of /api/v1, read from its own OpenAPI description."""
    document: dict[str, Any] = request.app.openapi()
    groups: dict[str, list[Operation]] = {}
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            group = (operation.get("tags") or ["other"])[0]
            groups.setdefault(group, []).append(_operation(document, method, path, operation))
    page = ApiPage(
        "API",
        document["info"]["description"],
        tuple((name, tuple(operations)) for name, operations in groups.items()),
    )
    return render(request, "api/page.html", page, section="api")


def _operation(
    document: dict[str, Any], method: str, path: str, operation: dict[str, Any]
) -> Operation:
    inputs = [
        (each["name"], each["in"], str(each.get("description") or each["schema"].get("title", "")))
        for each in operation.get("parameters", ())
    ]
    body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
    schema = _resolved(document, body.get("schema", {}))
    inputs += [
        (name, "body", str(about.get("description") or about.get("title", "")))
        for name, about in schema.get("properties", {}).items()
    ]
    summary = operation.get("description") or operation.get("summary", "")
    return Operation(method.upper(), path, summary, tuple(inputs))


def _resolved(document: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    reference = schema.get("$ref", "")
    found: dict[str, Any] = schema
    if reference.startswith("#/components/schemas/"):
        found = document["components"]["schemas"][reference.rsplit("/", 1)[1]]
    return found
