"""A folded table runs every case and says which of them failed."""

import pytest

from tests.core.tables import every_case


def test_every_case_runs_and_each_that_fails_is_named():
    seen = []

    @every_case(("number", "wanted"), [(1, 1), (2, 3), (3, 3), (4, None)], ids="abcd")
    @every_case("word", ["x", "y"])
    def folded(number, wanted, word):
        seen.append((number, word))
        if number == 4:
            with pytest.raises(ZeroDivisionError):
                assert word
        assert number == (wanted or number)

    with pytest.raises(BaseExceptionGroup, match="2 of 4 cases") as caught:
        folded()
    assert seen == [(number, word) for number in (1, 2, 3, 4) for word in "xy"]
    assert [error.__notes__ for error in caught.value.exceptions] == [
        ["The case: b"],
        ["The case: d"],
    ]


def test_a_table_without_cases_is_refused():
    with pytest.raises(ValueError, match="shows nothing"):
        every_case("number", [])
