"""Every text in every language: there, complete, of a length that fits, and compiled as it stands."""

import pytest

from tests.catalogue import LANGUAGES, catalogue_of, compiled, placeholders, po_file, texts
from tui import catalogue
from tui.numbers import number, seconds


@pytest.fixture(autouse=True)
def english():
    yield
    catalogue.use("en")


def test_the_texts_were_found():
    found = {text.text for text in texts()}
    assert {"Use the gauge and your watch.", "heat soak", "{seconds} s", "bead seen"} <= found


def test_the_languages_are_those_there_are():
    assert catalogue.languages() == ("en", *LANGUAGES)


def test_english_fits_too():
    assert [text.text for text in texts() if len(text.text) > text.room] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_is_untranslated_overlong_or_lacks_a_value(language):
    known = catalogue_of(language)
    wrong = []
    for text in texts():
        message = known.get(text.text, text.context)
        said = message.string if message else ""
        if not said or len(said) > text.room or placeholders(said) != placeholders(text.text):
            wrong.append((text.text, said))
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_is_translated_that_is_no_longer_said(language):
    said = {(text.context, text.text) for text in texts()}
    assert {(m.context, m.id) for m in catalogue_of(language) if m.id} <= said


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_of_the_written_one(language):
    assert po_file(language).with_suffix(".mo").read_bytes() == compiled(catalogue_of(language))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_draft_says_that_it_is_one(language):
    catalogue.use(language)
    assert catalogue.is_draft()
    assert "DRAFT, not reviewed" in po_file(language).read_text(encoding="utf-8")
    catalogue.use("en")
    assert not catalogue.is_draft()


def test_numbers_follow_the_language():
    assert number(10.46, 1) == "10.5"
    catalogue.use("de")
    assert number(10.46, 1) == "10,5"
    assert seconds(374.0) == "6 min 14 s"
    catalogue.use("tr")
    assert seconds(5.44, 1) == "5,4 sn"


def test_an_unknown_language_is_refused():
    with pytest.raises(KeyError):
        catalogue.use("xx")
