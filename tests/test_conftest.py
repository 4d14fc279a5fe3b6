"""What conftest promises: guarded tables are emptied after a test and guarded in the next one."""

from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.http import HttpRequest, HttpResponse
from django.urls import path
from zeal import NPlusOneError

from clinic import audit, clock
from clinic.models.audit import AuditEntry
from clinic.models.places import Membership
from tests.factories.clinic import MembershipFactory


def _one_row() -> None:
    audit.sign_in(staff_id=None, request_id=uuid4(), act="signed_in")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("round_", [1, 2])
def test_a_guarded_row_is_gone_after_the_test_and_guarded_within_it(round_):
    assert AuditEntry.objects.count() == 0
    _one_row()
    with pytest.raises(DatabaseError), transaction.atomic():
        AuditEntry.objects.update(at=clock.now())
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM clinic_auditentry")
    assert AuditEntry.objects.count() == 1


def _repeat(request: HttpRequest) -> HttpResponse:
    return HttpResponse(", ".join(held.site.name for held in Membership.objects.all()))


urlpatterns = [path("repeat", _repeat)]


@pytest.mark.urls(__name__)
@pytest.mark.django_db
def test_a_request_that_repeats_a_query_raises(client, settings):
    settings.MIDDLEWARE = settings.MIDDLEWARE[:1]
    MembershipFactory()
    assert client.get("/repeat").status_code == 200
    MembershipFactory()
    with pytest.raises(NPlusOneError, match=r"Membership\.site"):
        client.get("/repeat")
