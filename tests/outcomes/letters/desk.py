"""How a letter is written in tests: by the service, or by the pages as a clinician would."""

from typing import Any
from uuid import uuid4

from django.test import Client

from clinic.models.care import Episode
from clinic.models.places import StaffMember
from clinic.permissions import Actor
from outcomes.models.letters import Letter
from outcomes.services import letters as service
from tests.cast import Cast


def acting(person: StaffMember, site: Any) -> Actor:
    """Somebody at a site, in one request."""
    return Actor(staff_id=person.pk, site_id=site.pk, request_id=uuid4())


def drafted(cast: Cast, episode: Episode | None = None) -> Letter:
    """A fresh draft about a knee, by the cast's clinician."""
    mine = episode or cast.episode
    actor = acting(cast.clinician, mine.site)
    service.draft(actor=actor, key=uuid4(), episode=mine)
    return Letter.objects.filter(episode=mine).latest("pk")


def form_of(letter: Letter, **changes: Any) -> dict[str, Any]:
    """What the page of a draft would post, with a fresh key."""
    letter.refresh_from_db()
    day = letter.next_test_on
    return {
        "key": str(uuid4()),
        "seen": letter.version,
        "recipient_id": letter.recipient_id,
        "copies": letter.copies,
        "bottom_line": letter.bottom_line,
        "question": letter.question,
        "plan": letter.plan or "Go on with step-downs.",
        "next_test_on": day.isoformat() if day else "",
    } | changes


def sign(client: Client, letter: Letter, **changes: Any) -> Any:
    """Sign a draft over its page."""
    return client.post(f"/letters/{letter.uid}/sign", form_of(letter, **changes))
