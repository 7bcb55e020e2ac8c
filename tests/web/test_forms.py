"""Entry classes as form fields: kinds, groups, what was typed, faults and doubts beside fields."""

from __future__ import annotations

from decimal import Decimal

import pytest

from server.actions.nouns import NOUNS, Refused, read_entry
from server.store.offers import QUOTED
from server.web.forms import FieldView, form_view, grouped, help_of, limits_of
from tests.store.databases import EVERY_NOUN, GIVEN, entry_of

OFFERS = NOUNS["offers"]


def field_of(path: str, name: str, **typed: object) -> FieldView:
    view = form_view(NOUNS[path], typed)
    return next(f for group in view.groups for f in group.fields if f.name == name)


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_every_field_of_an_entry_stands_once_in_its_form(path: str) -> None:
    names = [name for names in grouped(NOUNS[path]).values() for name in names]
    assert sorted(names) == sorted(NOUNS[path].fields)


def test_the_groups_of_an_offer_and_of_a_construction() -> None:
    assert list(grouped(OFFERS)) == [
        "Who and when", "As quoted", "Price", "Terms", "Yarn", "Test values", "Notes",
    ]  # fmt: skip
    cloth = grouped(NOUNS["constructions"])
    assert list(cloth)[:4] == ["Cloth", "Loom and greige state", "Finished state", "Washed state"]
    assert "filling_crimp_percent" in cloth["Finished state"]
    assert "filling2_ne" in cloth["Second filling"]
    assert all(name.startswith("warp_") for name in cloth["Warp"])


@pytest.mark.parametrize(
    ("path", "name", "kind"),
    [
        ("offers", "as_quoted", "textarea"),
        ("offers", "description", "text"),
        ("offers", "price", "number"),
        ("offers", "lead_days", "number"),
        ("offers", "moq_tonnes", "number"),
        ("offers", "term", "choice"),
        ("offers", "quoted_on", "date"),
        ("offers", "tested_on", "date"),
        ("constructions", "heat_set", "check"),
        ("bases", "metres", "number"),
    ],
)
def test_the_kind_of_a_field_follows_its_type(path: str, name: str, kind: str) -> None:
    assert field_of(path, name).kind == kind


def test_units_help_and_need_come_from_the_entry() -> None:
    price = field_of("offers", "price")
    assert (price.unit, price.required) == ("quoted currency and unit", True)
    assert field_of("offers", "payment").help.startswith("LC sight, LC 60")
    assert not field_of("offers", "moq_tonnes").required
    assert field_of("offers", "quoted_on").unit == ""


def test_a_new_form_holds_the_defaults_and_leaves_needed_choices_open() -> None:
    assert field_of("offers", "fibre_mix").value == "cotton"
    assert field_of("offers", "tax_inside_percent").value == "0"
    term = field_of("offers", "term")
    assert (term.value, term.options[0]) == ("", ("", "not said"))
    assert field_of("offers", "break_kind").options[0] == ("all units", "all units")


def test_choices_of_a_list_are_labelled_in_words() -> None:
    labels = dict(field_of("assumptions", "key").options)
    assert labels["ring.spindle_rpm"] == "ring: Spindle speed, by count"
    assert dict(field_of("gate", "property").options)["tenacity"] == "Tenacity"
    insurance = dict(field_of("rates/charges", "key").options)["insurance_rate"]
    assert insurance.startswith("Insurance premium")


def test_what_was_typed_stays_even_when_it_is_wrong() -> None:
    assert field_of("offers", "price", price="2,310").value == "2,310"
    assert field_of("offers", "term", term="FOX").options[0] == ("FOX", "FOX")
    day = field_of("offers", "quoted_on", quoted_on="2026-02-30")
    assert (day.kind, day.value) == ("text", "2026-02-30")  # a date input would show nothing


def test_an_error_stands_beside_its_field_and_in_the_summary() -> None:
    given = {**GIVEN["offers"], "price": "-3", "term": "FOX"}
    with pytest.raises(Refused) as refused:
        read_entry(OFFERS, given)
    view = form_view(OFFERS, given, errors=refused.value.errors)
    faulty = {f.name: f.error for group in view.groups for f in group.fields if f.error}
    assert set(faulty) == {"price", "term"}
    assert "“-3” must be greater than 0" in faulty["price"]
    assert {(name, label) for name, label, _ in view.errors} == {
        ("price", "Price"),
        ("term", "Delivery term"),
    }


def test_a_value_outside_the_usual_range_shows_a_doubt_and_no_error() -> None:
    tenacity = field_of("offers", "tenacity", tenacity="31")
    assert tenacity.doubt == "unusual: 8 to 25 cN/tex is common"
    assert tenacity.error == ""
    assert field_of("offers", "tenacity", tenacity=Decimal("14.6")).doubt == ""
    assert field_of("offers", "tenacity", tenacity="a lot").doubt == ""


def test_quoted_fields_are_readonly_and_an_empty_one_says_so() -> None:
    view = form_view(OFFERS, entry_of("offers"), readonly=QUOTED)
    fields = {f.name: f for group in view.groups for f in group.fields}
    assert {name for name, f in fields.items() if f.kind == "readonly"} == set(QUOTED)
    assert fields["price"].value == "2310"
    assert (fields["break3_price"].value, fields["break3_price"].unit) == ("–", "")


def test_suppliers_of_the_house_are_the_choices_of_an_offer() -> None:
    view = form_view(OFFERS, {}, choices={"supplier": ["Larchmoor Spinning"]})
    supplier = view.groups[0].fields[1]
    assert supplier.kind == "choice"
    assert supplier.options == (("", "choose"), ("Larchmoor Spinning", "Larchmoor Spinning"))


@pytest.mark.parametrize("value", ["yes", "true", "on", True])
def test_a_ticked_box_is_a_yes(value: object) -> None:
    assert field_of("constructions", "heat_set", heat_set=value).value is True


def test_limits_are_told_in_words() -> None:
    fields = OFFERS.fields
    assert limits_of(fields["price"]) == "above 0"
    assert limits_of(fields["tax_inside_percent"]) == "at least 0, at most 60"
    assert limits_of(fields["code"]) == "up to 40 characters"
    assert limits_of(fields["quoted_on"]) == "written as 2026-03-12"
    assert limits_of(fields["core"]) == "one of: none, elastane, dual core"
    assert help_of(fields["quoted_on"]) == ""
