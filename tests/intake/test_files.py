"""What a file is, by its content; what its name may be; how its letters are written."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from server.intake.files import PREVIEWED, EncodingUnclear, Unreadable, encoding_of, kind_of
from server.request import status_of
from tests.intake.making import OFFERS, ods, text, with_parts, xls, xlsx

TURKISH = "Tedarikçi;İplik;Fiyat\nÇağlar İplik;Ne 7 şantuklu;2,46\n"


@pytest.mark.parametrize(
    ("name", "make", "kind"),
    [
        ("offers.xlsx", lambda: xlsx({"Offers": OFFERS}), "xlsx"),
        ("OFFERS.XLSX", lambda: xlsx({"Offers": OFFERS}), "xlsx"),
        ("offers.xls", lambda: xls({"Offers": OFFERS}), "xls"),
        ("offers.ods", lambda: ods({"Offers": OFFERS}), "ods"),
        ("offers.csv", lambda: text(OFFERS).encode(), "text"),
        ("offers.tsv", lambda: text(OFFERS, "\t").encode(), "text"),
        ("", lambda: text(OFFERS, "\t").encode(), "text"),
        ("offers.csv", lambda: text(OFFERS).encode("utf-8-sig"), "text"),
        ("offers.csv", lambda: text(OFFERS).encode("utf-16"), "text"),
        ("offers of 12.03.2026", lambda: xlsx({"Offers": OFFERS}), "xlsx"),
        ("offers", lambda: text(OFFERS).encode(), "text"),
    ],
)
def test_the_content_says_what_a_file_is(name: str, make: Callable[[], bytes], kind: str) -> None:
    assert kind_of(name, make()) == kind


@pytest.mark.parametrize(
    "part",
    [
        "xl/embeddings/oleObject1.bin",
        "xl/embeddings/Certificate.xlsx",
        "xl/media/image1.svg",
        "docProps/note.xml",
    ],
)
def test_objects_that_the_reader_never_opens_do_not_refuse_an_honest_offer(part: str) -> None:
    packed = {
        "xl/embeddings/oleObject1.bin": xls({"A": [[1]]}),
        "xl/embeddings/Certificate.xlsx": xlsx({"A": [[1]]}),
        "xl/media/image1.svg": b'<!DOCTYPE svg PUBLIC "x" "y"><svg/>',
        "docProps/note.xml": b"<a/>",
    }
    content = with_parts(xlsx({"Offers": OFFERS}), {part: packed[part]})
    assert kind_of("offers.xlsx", content) == "xlsx"


@pytest.mark.parametrize(
    ("name", "make", "really"),
    [
        ("a.xls", lambda: xlsx({"A": OFFERS}), "an .xlsx workbook"),
        ("a.xlsx", lambda: xls({"A": OFFERS}), "an .xls workbook"),
        ("a.csv", lambda: xlsx({"A": OFFERS}), "an .xlsx workbook"),
        ("a.xls", lambda: ods({"A": OFFERS}), "an .ods workbook"),
        ("a.xlsx", lambda: text(OFFERS).encode(), "a text file"),
        ("a.pdf", lambda: text(OFFERS).encode(), "a text file"),
        ("a.xlsm", lambda: xlsx({"A": OFFERS}), "an .xlsx workbook"),
    ],
)
def test_a_name_that_contradicts_the_content_is_refused_with_what_it_really_is(
    name: str, make: Callable[[], bytes], really: str
) -> None:
    with pytest.raises(Unreadable, match=f"is really {really}") as refusal:
        kind_of(name, make())
    assert "rename it" in refusal.value.remedy


def test_a_refusal_is_an_error_of_the_house() -> None:
    with pytest.raises(Unreadable) as refusal:
        kind_of("offer\u202e\x00" + "x" * 300 + ".csv", b"%PDF-1.7 ...")
    error = refusal.value
    assert (error.code, error.field, error.unit) == ("unreadable_file", "file", "")
    assert error.value.startswith("offer��xxx")
    assert len(error.value) <= 60
    assert error.message.startswith(error.value)
    assert error.remedy.endswith(".")
    assert status_of(error) == 422


def test_what_was_pasted_has_no_name_but_a_refusal() -> None:
    with pytest.raises(Unreadable, match=r"^The pasted text is empty\.") as refusal:
        kind_of("", b" \n")
    assert refusal.value.value == ""


# Encodings


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        ("Preis;2,46 €\n".encode(), "utf-8"),
        ("Preis;2,46 €\n".encode("utf-8-sig"), "utf-8"),
        ("Preis;2,46 €\n".encode("utf-16"), "utf-16"),
        (b"\xfe\xff" + "Preis;2,46 €\n".encode("utf-16-be"), "utf-16"),
        (b"Price,2.46\n", "utf-8"),
        (b"x" * 65_535 + "€".encode() + b"\n", "utf-8"),
    ],
)
def test_utf_8_and_marked_utf_16_need_no_asking(content: bytes, encoding: str) -> None:
    assert encoding_of("a.csv", content) == encoding


def test_other_letters_are_asked_for_with_a_look_at_each_way_to_read_them() -> None:
    with pytest.raises(EncodingUnclear, match="its letters are unclear") as asked:
        encoding_of("a.csv", TURKISH.encode("cp1254"))
    previews = dict(asked.value.previews)
    assert set(previews) <= set(PREVIEWED)
    assert previews["cp1254"] == TURKISH
    assert previews["iso-8859-9"] == TURKISH
    assert previews["cp1252"] != TURKISH
    assert "Choose the encoding" in asked.value.remedy
    assert encoding_of("a.csv", TURKISH.encode("cp1254"), "cp1254") == "cp1254"


def test_only_encodings_that_fit_to_the_end_are_offered() -> None:
    with pytest.raises(EncodingUnclear) as asked:
        encoding_of("a.csv", b"\xe7," * 50_000 + b"\x81\n")
    assert "cp1252" not in dict(asked.value.previews)
    assert "mac_roman" in dict(asked.value.previews)


def test_a_look_begins_where_letters_are_in_doubt() -> None:
    content = b"plain line\n" * 500 + "fiyatı belli\n".encode("cp1254") + b"plain line\n" * 100
    with pytest.raises(EncodingUnclear) as asked:
        encoding_of("a.csv", content)
    assert dict(asked.value.previews)["cp1254"].startswith("fiyatı belli\n")
    assert max(len(preview) for _, preview in asked.value.previews) == 300


@pytest.mark.parametrize("encoding", ["klingon", "rot13", "idna", "zip", "\0", "utf-8 ", "u" * 500])
def test_an_encoding_nobody_knows_is_refused(encoding: str) -> None:
    if encoding == "utf-8 ":  # Python itself forgives the space
        assert encoding_of("a.csv", b"x", encoding) == "utf-8"
        return
    with pytest.raises(Unreadable, match="an encoding nobody here knows") as refusal:
        encoding_of("a.csv", b"a,b\n", encoding)
    assert "cp1254" in refusal.value.remedy


def test_an_encoding_that_does_not_fit_is_refused_with_the_place() -> None:
    with pytest.raises(Unreadable, match="not text in utf-8: the bytes from number 4 on"):
        encoding_of("a.csv", b"abc\xe7\n", "utf-8")


def test_damaged_utf_16_is_refused() -> None:
    with pytest.raises(Unreadable, match="begins as UTF-16 text but is damaged"):
        encoding_of("a.csv", b"\xff\xfea\0b\0c")


def test_unmarked_utf_16_is_read_when_somebody_says_so() -> None:
    content = "Garn;Preis\nNe 7;2,46\n".encode("utf-16-le")
    assert kind_of("a.csv", content, encoding="utf-16-le") == "text"
    assert encoding_of("a.csv", content, "utf-16-le") == "utf-16-le"
