"""The page of our checks: the list that ``verify`` runs, for everybody who is signed in."""

from outcomes.queries.check_page import TOPICS, check_page
from outcomes.queries.verify import verified
from tests.web import signed_in, words_of


def test_every_check_is_on_the_page_with_its_source_and_result(cast, django_assert_num_queries):
    client = signed_in(cast.desk)
    client.get("/checks/")
    with django_assert_num_queries(4):
        found = client.get("/checks/")
    said = words_of(found)
    assert f"{len(verified())} checks, 0 not as expected" in said
    shown = [row.check for topic in check_page().topics for row in topic.rows]
    assert sorted(check.id for check in shown) == sorted(check.id for check in verified())
    assert [check.id for check in shown if check.id not in said] == []
    assert list(TOPICS.values()) == [topic.label for topic in check_page().topics if topic.rows]
    assert "The square root of 2 is missing" in said
