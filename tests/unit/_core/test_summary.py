"""Reports: text and HTML say the same, and digits mean something; and the words they share."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from pages import Page

from antgrowth._core.summary import Report, Sentence, ants, rounded, share_words
from antgrowth._core.text import count_words, day_words, span_words

REPORT = Report(
    title="Title",
    facts=(("data", "a fact"),),
    head=("name", "number"),
    align="lr",
    rows=(("first", "1"), ("second", "1,000")),
    closing=(("conclusion", "the end"),),
)


class TestReport:
    def test_text_is_aligned(self):
        assert REPORT.as_text().splitlines() == [
            "Title",
            "data        a fact",
            "name    number",
            "first        1",
            "second   1,000",
            "conclusion  the end",
        ]

    def test_warning_comes_first(self):
        warned = dataclasses.replace(REPORT, warning="STOP")
        assert warned.as_text().splitlines()[:2] == ["STOP", "Title"]
        assert warned.as_html().index("STOP") < warned.as_html().index("Title")

    def test_html_holds_the_same_cells(self):
        page = Page(REPORT.as_html())
        assert page.open == []
        assert page.cells == [
            "data", "a fact", "name", "number", "first", "1", "second", "1,000",
            "conclusion", "the end",
        ]  # fmt: skip
        assert REPORT.as_html().count("text-align:right") == 3

    def test_tables_say_what_they_are_and_heads_what_they_head(self):
        page = REPORT.as_html()
        assert page.count("<caption") == 2
        assert page.count('scope="row"') == 2 and page.count('scope="col"') == 2
        folded = dataclasses.replace(REPORT, folded="2 names").as_html()
        assert "<details><summary>2 names</summary>" in folded

    def test_a_sentence_breaks_between_words_only(self):
        said = Sentence("30 workers: 2026-06-12 to 2026-07-05, 90 % <sure>")
        assert said == str(said) and said.startswith("30 workers")
        page = said._repr_html_()
        assert '<span style="white-space:nowrap">2026-06-12</span> to' in page
        assert "&lt;sure&gt;" in page

    def test_without_rows_there_is_no_table(self):
        bare = dataclasses.replace(REPORT, rows=(), closing=())
        assert bare.as_text() == "Title\ndata  a fact"
        assert bare.as_html().count("<table>") == 1

    def test_a_row_of_wrong_length_is_an_error(self):
        with pytest.raises(ValueError, match="zip"):
            dataclasses.replace(REPORT, rows=(("one",),)).as_text()


@pytest.mark.parametrize(
    ("values", "shown"),
    [
        ((6.891, 4.620, 10.278), ("6.9", "4.6", "10.3")),
        ((0.9912, 0.97, 0.9989), ("0.991", "0.970", "0.999")),
        ((299.98, 143.1, 628.9), ("300", "140", "630")),
        ((80.0, 35.1, 182.1), ("80", "35", "182")),
        ((0.25, 0.02, 3.0), ("0.25", "0.02", "3.00")),
        ((-0.001, -2.374, 2.374), ("0.0", "-2.4", "2.4")),
        ((1.0, 1.0, 1.0), ("1.00", "1.00", "1.00")),
        ((41234.0, 30111.0, 60222.0), ("41,000", "30,000", "60,000")),
    ],
)
def test_digits_follow_the_interval(values, shown):
    assert rounded(*values) == shown


def test_numbers_of_ants_and_chances():
    assert [ants(n) for n in (0.0, 4.5, 99.4, 104.0, 634.1, 1249.0)] == [
        "0", "4", "99", "100", "630", "1,200",
    ]  # fmt: skip
    assert [share_words(s) for s in (0.0, 0.004, 0.006, 0.5, 0.994, 0.996, 1.0)] == [
        "under 1 %", "under 1 %", "1 %", "50 %", "99 %", "over 99 %", "over 99 %",
    ]  # fmt: skip


class TestPhrases:
    @pytest.mark.parametrize(
        ("first", "last", "year", "words"),
        [
            ("2027-04-03", "2027-04-19", 2027, "3 to 19 April"),
            ("2027-04-03", "2027-04-19", 2026, "3 to 19 April 2027"),
            ("2027-03-28", "2027-04-19", 2027, "28 March to 19 April"),
            ("2027-03-28", "2027-04-19", 2026, "28 March to 19 April 2027"),
            ("2026-12-20", "2027-01-14", 2026, "20 December 2026 to 14 January 2027"),
            ("2027-04-10", "2027-04-10", 2027, "10 April"),
            ("2026-04-10", "2027-04-10", 2026, "10 April 2026 to 10 April 2027"),
        ],
    )
    def test_spans(self, first, last, year, words):
        assert span_words(pd.Timestamp(first), pd.Timestamp(last), year) == words

    def test_days(self):
        assert day_words(pd.Timestamp("2026-09-03"), 2026) == "3 September"
        assert day_words(pd.Timestamp("2026-09-03"), 2027) == "3 September 2026"

    @pytest.mark.parametrize(
        ("cell", "words"),
        [
            ((4, 4, "exact", "workers"), "4 workers"),
            ((1, 1, "exact", "larvae"), "1 larva"),
            ((12, 12, "rough", "eggs"), "about 12 eggs"),
            ((5, 8, "between", "pupae"), "5 to 8 pupae"),
            ((30, np.inf, "at least", "workers"), "at least 30 workers"),
            ((0, 4, "below", "eggs"), "at most 4 eggs"),
            ((1, np.inf, "first", "workers"), "first workers seen"),
            ((1, 1, "exact", "brood"), "1 brood"),
        ],
    )
    def test_cells(self, cell, words):
        assert count_words(*cell) == words
