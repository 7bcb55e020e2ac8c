"""Getting offers in: paste, sheet, questions, duplicates, one transaction, undo; both databases."""

from __future__ import annotations

import signal
import subprocess
import sys
import textwrap
import time
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, func, select

from server.actions import intake_columns, intakes
from server.actions.book import current_book
from server.actions.intakes import Said
from server.actions.jobs import job_of
from server.actions.nouns import NOUNS, Refused
from server.actions.offer_answers import answer_offer
from server.actions.offers import landed_offer
from server.actions.records import change_record, history_of, one_record
from server.core.errors import BadValue, Conflict
from server.store.intakes import Line
from server.store.intakes import lines_of as lines_in_store
from server.store.offer_writer import OfferWriter
from server.store.session import open_engine
from server.store.tables import IntakeLine, OfferRow, QuestionRow, YarnRow
from tests.intake.making import xlsx

pytest_plugins = ["tests.store.databases"]

QUOTES = Path(__file__).resolve().parents[1] / "examples" / "quotes" / "trade_guide.toml"
TEN = [quote["text"] for quote in tomllib.loads(QUOTES.read_text(encoding="utf-8"))["quote"]]
SELLERS = (
    "Marrow Creek Spinning", "Merapatih Spinning", "Filatura Montorvano", "Nilabagh Spinning",
    "Kaveriyam Spinners", "Hilados Piedra Honda", "Qinghetun Effect Yarn", "Nilabagh Spinning",
    "Fiação Jatobal", "Hilos Ixcanel",
)  # fmt: skip
MONDAY = date(2026, 3, 2)
CLEAR = (
    "Ne 9/1 OE carded 1.95 USD/kg FOB Karachi, LC sight, regain 8.5%, delivery 30 days, "
    "valid till 2026-04-10, Z twist"
)
NILABAGH = "Nilabagh Spinning"


def paste(engine: Engine, *lines: str, supplier: str = NILABAGH) -> int:
    number = intakes.receive_text(
        engine, "\n".join(lines), supplier=supplier, received_on=MONDAY, table=False, person_id=1
    )
    intakes.read_lines(engine, number, 1)
    return number


def lines_of(engine: Engine, number: int) -> list[Line]:
    return intakes.lines_page(engine, number, most=500)[0]


def say(engine: Engine, number: int, values: Mapping[int, Mapping[str, str]] | None = None,
        decisions: Mapping[int, str] | None = None, **for_all: str) -> None:  # fmt: skip
    intakes.answer(engine, number, Said(values or {}, decisions or {}, for_all), 1)


def codes(engine: Engine) -> set[str]:
    return {offer.code for offer in current_book(engine).offers}


def rows(engine: Engine) -> dict[str, int]:
    with engine.connect() as connection:
        return {
            table.__tablename__: connection.execute(
                select(func.count()).select_from(table)
            ).scalar_one()
            for table in (OfferRow, YarnRow, QuestionRow)
        }


# --- reading ------------------------------------------------------------------------------------


def test_pasted_lines_are_read_and_nothing_is_an_offer_yet(demo: Engine) -> None:
    before = rows(demo)
    number = paste(demo, *TEN, supplier="")
    assert len(lines_of(demo, number)) == 10
    assert rows(demo) == before
    assert {line.outcome for line in lines_of(demo, number)} == {"faulty"}  # no supplier yet
    name, content = intakes.original(demo, number)
    assert (name, content) == ("pasted text", "\n".join(TEN).encode())


def test_a_line_that_names_its_supplier_belongs_to_it(demo: Engine) -> None:
    number = paste(demo, f"Yelkıran: {CLEAR}", f"hello from Marrow Creek Spinning, {CLEAR}",
                   supplier="")  # fmt: skip
    assert [line.values["supplier"] for line in lines_of(demo, number)] == [
        "Yelkıran İplik",
        "Marrow Creek Spinning",
    ]


def test_the_ten_lines_become_offers_with_their_questions_open(demo: Engine) -> None:
    number = paste(demo, *TEN, supplier="")
    say(demo, number, {place: {"supplier": name} for place, name in enumerate(SELLERS, 1)})
    assert [line.outcome for line in lines_of(demo, number)] == ["asked"] * 10
    intakes.store_intake(demo, number, 1)
    stored = [offer for offer in current_book(demo).offers if offer.intake_id == number]
    assert [offer.as_quoted for offer in stored] == TEN
    asked = {offer.code: {each.field for each in offer.open_questions} for offer in stored}
    assert {"term", "quoted_regain_percent"} <= asked[f"I{number}-1"]
    assert "price_unit" in asked[f"I{number}-2"]
    assert "currency" in asked[f"I{number}-4"]
    assert "tax_inside_percent" in asked[f"I{number}-7"]
    assert "break_kind" in asked[f"I{number}-8"]
    assert all(asked.values())
    landed = landed_offer(demo, f"I{number}-4", _no_change())
    assert landed.same_basis_price is None


def _no_change() -> Any:
    from server.actions.compare import sound_basis_change

    return sound_basis_change({})


def test_a_line_that_says_everything_is_accepted_and_ranked_at_once(demo: Engine) -> None:
    number = paste(demo, CLEAR)
    (line,) = lines_of(demo, number)
    assert (line.outcome, line.decision, list(line.questions)) == ("accepted", "new", [])
    intakes.store_intake(demo, number, 1)
    landed = landed_offer(demo, f"I{number}-1", _no_change())
    assert landed.same_basis_price == pytest.approx(2.46, abs=0.2)


def test_a_seller_may_be_over_the_day_he_arrives_and_that_is_a_doubt(demo: Engine) -> None:
    number = paste(demo, CLEAR.replace("2026-04-10", "20-02-26"))
    (line,) = lines_of(demo, number)
    assert line.outcome == "doubtful"
    assert ["valid_until", "Valid until", "was over on the day it came in"] in list(line.doubts)


@pytest.mark.parametrize(
    ("text", "field"),
    [("OE FOB Karachi, 1.95 USD/kg", "count"), ("Ne 9/1 OE carded FOB Karachi LC sight", "price")],
)
def test_a_line_without_count_or_price_is_faulty_until_it_is_said(
    demo: Engine, text: str, field: str
) -> None:
    number = paste(demo, text)
    (line,) = lines_of(demo, number)
    assert (line.outcome, line.faults[0][0]) == ("faulty", field)
    say(demo, number, {1: {field: "9"}})
    assert lines_of(demo, number)[0].outcome == "asked"


# --- answers ------------------------------------------------------------------------------------


def test_an_answer_for_all_fills_only_what_a_line_does_not_say(demo: Engine) -> None:
    number = paste(demo, CLEAR, "Ne 8/1 OE 1.90 FOB Karachi", "Ne 7/1 OE $1.85/kg FOB Karachi")
    say(demo, number, currency="PKR", price_unit="lb", lead_days="21")
    met = [line.values for line in lines_of(demo, number)]
    assert [each["currency"] for each in met] == ["USD", "PKR", "PKR"]
    assert [each["price_unit"] for each in met] == ["kg", "lb", "kg"]
    assert [each["lead_days"] for each in met] == ["30", "21", "21"]


def test_an_answer_out_of_bounds_is_a_fault_of_its_line(demo: Engine) -> None:
    number = paste(demo, CLEAR)
    say(demo, number, {1: {"quoted_regain_percent": "85"}})
    (line,) = lines_of(demo, number)
    assert line.outcome == "faulty"
    assert "“85” must be less than or equal to 30 [%]" in line.faults[0][2]


def test_a_supplier_that_answered_once_is_offered_his_answer_first(demo: Engine) -> None:
    first = paste(demo, "Ne 8/1 OE Rs 2310/10 lbs FOB Karachi")
    say(demo, first, {1: {"currency": "INR"}})
    intakes.store_intake(demo, first, 1)
    second = paste(demo, "Ne 9/1 OE Rs 2290/10 lbs FOB Karachi")
    (line,) = lines_of(demo, second)
    question = next(each for each in line.questions if each[0] == "currency")
    assert question[2][0][0] == "INR"
    assert question[4] == ""  # offered, not taken


def test_an_open_question_of_a_stored_offer_is_answered_once(demo: Engine) -> None:
    number = paste(demo, CLEAR.replace("1.95 USD/kg", "$1.95/kg"))
    intakes.store_intake(demo, number, 1)
    code = f"I{number}-1"
    version = one_record(demo, NOUNS["offers"], code).version
    answer_offer(demo, code, "currency", "USD", version, 1)
    offer = current_book(demo).offer(code)
    assert (offer.currency, offer.open_questions) == ("USD", ())
    with pytest.raises(Conflict):
        answer_offer(demo, code, "lead_days", "9", version, 1)
    version = one_record(demo, NOUNS["offers"], code).version
    with pytest.raises(Refused, match="kept as quoted"):
        answer_offer(demo, code, "price", "1.00", version, 1)
    changes = history_of(demo, NOUNS["offers"], offer.id)
    assert any(field == "currency" for change in changes for field, _, _ in change.changes)


# --- duplicates and re-quotes -------------------------------------------------------------------


def test_the_same_line_again_is_left_out_and_a_new_price_replaces(demo: Engine) -> None:
    first = paste(demo, CLEAR)
    intakes.store_intake(demo, first, 1)
    second = paste(demo, CLEAR, CLEAR.replace("1.95", "1.89"), CLEAR.replace("1.95", "1.89"))
    same, dearer, repeat = lines_of(demo, second)
    assert (same.likeness, same.earlier, same.decision) == ("duplicate", f"I{first}-1", "skip")
    assert (dearer.likeness, dearer.decision) == ("re-quote", "replace")
    assert (repeat.likeness, repeat.decision) == ("repeat", "skip")
    intakes.store_intake(demo, second, 1)
    book = current_book(demo)
    assert book.replaced[f"I{first}-1"] == f"I{second}-2"
    assert f"I{second}-1" not in codes(demo)


def test_a_requote_with_open_questions_does_not_take_the_place_of_a_ranked_offer(
    demo: Engine,
) -> None:
    first = paste(demo, CLEAR)
    intakes.store_intake(demo, first, 1)
    second = paste(demo, CLEAR.replace("1.95 USD/kg", "$1.89/kg"))
    (line,) = lines_of(demo, second)
    assert (line.likeness, line.decision) == ("re-quote", "keep")
    say(demo, second, decisions={1: "replace"})
    assert lines_of(demo, second)[0].decision == "replace"


def test_a_decision_nobody_touched_follows_what_becomes_known(demo: Engine) -> None:
    first = paste(demo, CLEAR)
    intakes.store_intake(demo, first, 1)
    second = paste(demo, CLEAR.replace("1.95 USD/kg", "$1.89/kg"), supplier="")
    say(demo, second, {1: {"supplier": NILABAGH}}, {1: "new"})  # as a form sends it back
    assert lines_of(demo, second)[0].decision == "keep"
    say(demo, second, {1: {"currency": "USD"}}, {1: "keep"})
    assert lines_of(demo, second)[0].decision == "replace"
    say(demo, second, decisions={1: "keep"})
    say(demo, second, {1: {"notes": "by telephone"}}, {1: "keep"})
    assert lines_of(demo, second)[0].decision == "keep"  # a person said so


def test_an_offer_replaced_meanwhile_stops_the_whole_store(demo: Engine) -> None:
    first = paste(demo, CLEAR)
    intakes.store_intake(demo, first, 1)
    late = paste(demo, CLEAR.replace("1.95", "1.80"), CLEAR.replace("Ne 9/1", "Ne 12/1"))
    early = paste(demo, CLEAR.replace("1.95", "1.85"))
    intakes.store_intake(demo, early, 1)
    before = rows(demo)
    with pytest.raises(BadValue, match=rf"I{first}-1 was replaced by I{early}-1 meanwhile"):
        intakes.store_intake(demo, late, 1)
    assert rows(demo) == before
    assert intakes.one_intake(demo, late).state == "read"


# --- all or nothing, and undo -------------------------------------------------------------------


def test_one_faulty_line_keeps_all_out_unless_it_is_left_out(demo: Engine) -> None:
    number = paste(demo, CLEAR, "thanks and best regards")
    before = codes(demo)
    with pytest.raises(Refused, match="1 line is no offer yet"):
        intakes.store_intake(demo, number, 1)
    assert codes(demo) == before
    intakes.store_intake(demo, number, 1, leave_out_faulty=True)
    assert codes(demo) - before == {f"I{number}-1"}


def test_a_fault_in_the_middle_of_storing_leaves_nothing(
    demo: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = [CLEAR.replace("Ne 9/1", f"Ne {5 + place / 10:.1f}/1") for place in range(1, 120)]
    number = paste(demo, *many)
    before, written = rows(demo), OfferWriter.write
    calls: list[int] = []

    def failing(self: OfferWriter, offers: Sequence[Any]) -> list[int]:
        calls.append(len(offers))
        if len(calls) == 2:
            raise BadValue("the disk said no", field="disk")
        return written(self, offers)

    monkeypatch.setattr(OfferWriter, "write", failing)
    monkeypatch.setattr(lines_in_store, "__kwdefaults__", {"outcome": "", "after": 0, "most": 50})
    with pytest.raises(BadValue, match="the disk said no"):
        intakes.store_intake(demo, number, 1)
    assert len(calls) == 2
    assert rows(demo) == before
    assert intakes.one_intake(demo, number).state == "read"
    monkeypatch.setattr(OfferWriter, "write", written)
    intakes.store_intake(demo, number, 1)
    assert rows(demo)["offer"] == before["offer"] + 119


def test_a_whole_intake_is_taken_back_and_what_it_replaced_stands_again(demo: Engine) -> None:
    first = paste(demo, CLEAR)
    intakes.store_intake(demo, first, 1)
    before = rows(demo)
    second = paste(demo, CLEAR.replace("1.95", "1.89"), "Ne 8/1 OE Rs 2310/10 lbs FOB Karachi")
    intakes.store_intake(demo, second, 1)
    assert intakes.undo_intake(demo, second, 1) == 2
    assert rows(demo) == before
    assert current_book(demo).replaced.get(f"I{first}-1") is None
    assert intakes.one_intake(demo, second).state == "undone"
    assert len(lines_of(demo, second)) == 2  # the lines stay, with the original
    intakes.reopen_intake(demo, second, 1)
    intakes.store_intake(demo, second, 1)
    assert rows(demo)["offer"] == before["offer"] + 2


def test_an_offer_changed_since_is_not_taken_back(demo: Engine) -> None:
    number = paste(demo, CLEAR, CLEAR.replace("Ne 9/1", "Ne 10/1"))
    intakes.store_intake(demo, number, 1)
    kept = one_record(demo, NOUNS["offers"], f"I{number}-2")
    values = {**kept.values, "notes": "asked by telephone"}
    change_record(demo, NOUNS["offers"], kept.key, values, kept.version, 1)
    before = rows(demo)
    with pytest.raises(BadValue, match=rf"I{number}-2 of this intake was changed since"):
        intakes.undo_intake(demo, number, 1)
    assert rows(demo) == before


def test_a_stored_intake_is_not_stored_twice(demo: Engine) -> None:
    number = paste(demo, CLEAR)
    intakes.store_intake(demo, number, 1)
    with pytest.raises(BadValue, match="This intake is stored"):
        intakes.store_intake(demo, number, 1)
    with pytest.raises(BadValue, match="This intake is stored"):
        say(demo, number, {1: {"price": "1"}})


# --- sheets -------------------------------------------------------------------------------------

SHEET: list[list[Any]] = [
    ["Nilabagh Spinning, price list"],
    [],
    ["Quality", "Count (Ne)", "Price PKR/10 lb", "Delivery", "Lead time (weeks)", "MOQ (kg)",
     "Valid until"],
    ["OE carded weaving", "8/1", 2310, "FOB Karachi", 4, "18,000", date(2026, 3, 31)],
    ["ring carded, Z twist", "10/1", 3150.5, "FOB Karachi", 5, "9,000", date(2026, 3, 31)],
    ["OE carded", "n/a", "on request", "FOB Karachi", 4, "18,000", date(2026, 3, 31)],
]  # fmt: skip


def settle(engine: Engine, number: int, **changed: Any) -> None:
    matching = intake_columns.match_columns(engine, number)
    given: dict[str, Any] = {
        "sheet": matching.sheet,
        "encoding": "",
        "separator": "",
        "heading_line": matching.heading_line,
        "columns": {each.number: each.field for each in matching.columns},
        "date_order": matching.date_order,
        "decimal_mark": matching.decimal_mark,
        "headings": matching.headings,
        "answers": {},
    }
    intake_columns.settle_columns(engine, number, given | changed, 1)


def upload(engine: Engine, content: bytes, name: str = "prices.xlsx") -> int:
    return intakes.receive_file(
        engine, name, content, supplier=NILABAGH, received_on=MONDAY, person_id=1
    )


def test_a_sheet_with_a_title_and_units_in_its_headings_is_read(demo: Engine) -> None:
    number = upload(demo, xlsx({"March": SHEET}))
    matching = intake_columns.match_columns(demo, number)
    assert matching.heading_line == 3
    assert [each.field for each in matching.columns] == [
        "quote", "count", "price", "term", "lead_days", "moq_tonnes", "valid_until",
    ]  # fmt: skip
    settle(demo, number, answers={"quoted_regain_percent": "8.5", "payment": "LC sight"})
    first, second, third = lines_of(demo, number)
    assert (first.outcome, second.outcome, third.outcome) == ("accepted", "accepted", "faulty")
    met = first.values
    assert (met["price"], met["currency"], met["price_unit"]) == ("2310", "PKR", "10 lb")
    assert (met["lead_days"], met["moq_tonnes"], met["spinning"]) == ("28", "18", "OE")
    assert (met["term"], met["place"], met["valid_until"]) == ("FOB", "Karachi", "2026-03-31")
    assert {fault[0] for fault in third.faults} == {"count", "price"}
    assert "Price PKR/10 lb: 2310" in first.text
    intakes.store_intake(demo, number, 1, leave_out_faulty=True)
    assert current_book(demo).offer(f"I{number}-4").price_text == "2310 PKR/10 lb"


def test_the_layout_of_a_supplier_is_remembered(demo: Engine) -> None:
    first = upload(demo, xlsx({"March": SHEET}))
    assert not intake_columns.match_columns(demo, first).remembered
    columns = {0: "description", 1: "count", 2: "price", 3: "term", 4: "", 5: "", 6: "valid_until"}
    settle(demo, first, columns=columns, decimal_mark=".")
    later = upload(demo, xlsx({"April": SHEET[:5]}))
    matching = intake_columns.match_columns(demo, later)
    assert matching.remembered
    assert [each.field for each in matching.columns] == list(columns.values())
    assert matching.decimal_mark == "."


def test_one_column_twice_or_none_with_a_price_is_refused(demo: Engine) -> None:
    number = upload(demo, xlsx({"March": SHEET}))
    with pytest.raises(Refused, match="chosen for two columns"):
        settle(demo, number, columns={1: "count", 2: "count", 3: "price"})
    with pytest.raises(Refused, match="no column holds the price"):
        settle(demo, number, columns={1: "count"})
    assert intakes.one_intake(demo, number).state == "new"


def test_a_decimal_comma_and_a_day_order_are_told_by_the_whole_column(demo: Engine) -> None:
    text = "Count;Price EUR/kg;Valid until\nNe 8/1 OE;2,310;03/04/2026\nNe 9/1 OE;2,5;28/03/2026\n"
    number = upload(demo, text.encode(), "prezzi.csv")
    matching = intake_columns.match_columns(demo, number)
    assert (matching.decimal_mark, matching.date_order) == (",", "DMY")
    settle(demo, number)
    first = lines_of(demo, number)[0].values
    assert (first["price"], first["valid_until"]) == ("2.310", "2026-04-03")


# --- killed half-way ----------------------------------------------------------------------------

STORING = """
    import sys, time
    from server.actions import intakes
    from server.actions.jobs import Job
    from server.store.intakes import lines_of
    from server.store.offer_writer import OfferWriter
    from server.store.session import open_engine
    lines_of.__kwdefaults__["most"] = 50
    write = OfferWriter.write
    def slowly(self, offers):
        ids = write(self, offers)
        print("a piece is written", flush=True)
        time.sleep(0.3)
        return ids
    OfferWriter.write = slowly
    intakes._store(open_engine(sys.argv[1]), int(sys.argv[2]), 1, Job("storing", 1))
    print("stored", flush=True)
"""


def test_a_server_killed_while_it_stores_leaves_no_offer_behind(demo: Engine) -> None:
    many = [CLEAR.replace("Ne 9/1", f"Ne {4 + place / 100:.2f}/1") for place in range(1, 300)]
    number = paste(demo, *many)
    before = rows(demo)
    address = demo.url.render_as_string(hide_password=False)
    for pieces in (1, 3, 5):
        process = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(STORING), address, str(number)],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert process.stdout is not None
        for _ in range(pieces):
            assert process.stdout.readline() == "a piece is written\n"
        process.send_signal(signal.SIGKILL)
        assert "stored" not in process.stdout.read()
        process.wait(10)
        other = open_engine(address)
        assert rows(other) == before
        assert intakes.one_intake(other, number).state == "read"
        with other.connect() as connection:
            staged = select(func.count()).where(IntakeLine.intake_id == number)  # type: ignore[arg-type]
            assert connection.execute(staged).scalar_one() == 299
        other.dispose()
    intakes.store_intake(demo, number, 1)
    assert rows(demo)["offer"] == before["offer"] + 299


def test_a_long_paste_is_read_in_the_background_with_its_progress(demo: Engine) -> None:
    many = [CLEAR.replace("Ne 9/1", f"Ne {4 + place / 100:.2f}/1") for place in range(1, 330)]
    number = paste(demo, *many)
    job = job_of(demo, intakes.key_of(number))
    assert job is not None
    while not job.finished:
        time.sleep(0.02)
    assert (job.done, job.total, job.percent, job.error) == (329, 329, 100, "")
    assert len(lines_of(demo, number)) == 329
