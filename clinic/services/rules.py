"""The rules of the record, each with a sentence that says what to do. No database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from clinic import words
from clinic.http import Unprocessable
from clinic.models import care
from clinic.services.details import EpisodeDetails, Operation, Person

EARLIEST_BIRTH = date(1900, 1, 1)
WITH_GRAFT = ("reconstruction", "revision")
OPERATION = dict(care.OPERATIONS)
KIND = dict(care.EPISODE_KINDS)
Errors = dict[str, str]


class Refused(Unprocessable):
    """The act breaks rules of the record: a sentence for each field; "" is the whole form."""

    def __init__(self, errors: Mapping[str, str]) -> None:
        super().__init__(" ".join(errors.values()))
        self.errors = dict(errors)


def refuse_if(*found: Mapping[str, str]) -> None:
    """Refuse with every sentence that was found; do nothing when there is none."""
    errors = {field: sentence for each in found for field, sentence in each.items()}
    if errors:
        raise Refused(errors)


def person_errors(*, person: Person, today: date) -> Errors:
    """A name that can be searched, and a birth date between 1900 and today."""
    errors: Errors = {}
    if not words.fold(person.name):
        errors["name"] = "Type the name with at least one letter."
    if not EARLIEST_BIRTH <= person.birth_date <= today:
        errors["birth_date"] = (
            f"The birth date {words.day(person.birth_date)} lies in the future or before 1900. "
            "Check the year."
        )
    return errors


def episode_errors(
    *,
    episode: EpisodeDetails,
    birth_date: date,
    today: date,
    operations: Iterable[tuple[str, date | None]],
) -> Errors:
    """The injury: known or asked for, after birth, not after an operation, not in the future.

    ``operations`` are pairs of state and date; cancelled ones do not count.
    """
    injury, asked = episode.injury_date, episode.injury_asked_on
    if injury is None:
        return asked_errors("injury", "the date of the injury", asked, today=today)
    if asked:
        return {"injury_date": "Enter the date of the injury or when it was asked for, not both."}
    if injury > today:
        return {"injury_date": f"An injury on {words.day(injury)} lies in the future."}
    if injury < birth_date:
        return {"injury_date": f"The injury lies before the birth on {words.day(birth_date)}."}
    earlier = [day for state, day in operations if state != "cancelled" and day and day < injury]
    if earlier:
        return {
            "injury_date": f"The injury lies after the operation on {words.day(min(earlier))}. "
            "Check both dates."
        }
    return {}


def asked_errors(part: str, what: str, asked: date | None, *, today: date) -> Errors:
    """An unknown part needs the day on which it was asked for, today at the latest."""
    field = f"{part}_asked_on"
    if asked is None:
        return {field: f"Enter {what}, or the day on which you asked for it."}
    if asked > today:
        return {field: f"{words.day(asked)} lies in the future. Enter the day you asked."}
    return {}


def operation_errors(
    *, operation: Operation, birth_date: date, injury_date: date | None, today: date
) -> Errors:
    """Everything about one operation: its date, graft, and what else was done."""
    return (
        _date_errors(operation, birth_date, injury_date, today)
        | _graft_errors(operation, today)
        | _procedure_errors(operation, today)
    )


def _date_errors(
    operation: Operation, birth_date: date, injury_date: date | None, today: date
) -> Errors:
    day, asked = operation.date, operation.date_asked_on
    if day is None:
        if operation.state == "planned" and asked is None:
            return {}
        return asked_errors("date", "the date", asked, today=today)
    if asked:
        return {"date": "Enter the date or when it was asked for, not both."}
    if operation.state == "performed" and day > today:
        return {
            "date": f"A performed operation cannot lie in the future. If it is meant for "
            f"{words.day(day)}, record it as planned."
        }
    if operation.state == "planned" and day < today:
        return {
            "date": f"{words.day(day)} lies in the past. Record it as performed, or enter "
            "the new planned date."
        }
    if day < birth_date:
        return {"date": f"The operation lies before the birth on {words.day(birth_date)}."}
    if injury_date and day < injury_date:
        return {"date": f"The operation lies before the injury on {words.day(injury_date)}."}
    return {}


def _graft_errors(operation: Operation, today: date) -> Errors:
    graft, came_from, asked = operation.graft, operation.graft_from, operation.graft_asked_on
    if operation.operation not in WITH_GRAFT:
        has_graft = bool(graft or came_from or asked)
        return {"graft": "This kind of operation has no graft: choose none."} if has_graft else {}
    if not graft or not came_from:
        return {"graft": "Choose the graft and where it came from, or unknown."}
    if (graft == "allograft") != (came_from == "donor") and "unknown" not in (graft, came_from):
        return {"graft_from": "An allograft comes from a donor, and no other graft does."}
    unknown = "unknown" in (graft, came_from)
    if unknown and (asked or operation.state == "performed"):
        return asked_errors("graft", "the graft and where it came from", asked, today=today)
    if asked and not unknown:
        return {"graft_asked_on": "The graft is known: leave the day you asked empty."}
    return {}


def _procedure_errors(operation: Operation, today: date) -> Errors:
    asked = operation.procedures_asked_on
    if operation.procedures is not None:
        both = {"procedures_asked_on": "What else was done is known: leave this day empty."}
        return both if asked else {}
    if asked is None and operation.state != "performed":
        return {}
    return asked_errors("procedures", "what else was done", asked, today=today)


def kind_errors(*, kind: str, operations: Iterable[tuple[str, str]]) -> Errors:
    """The kind follows the recorded ACL operation; ``operations`` are pairs of what and state."""
    live = [
        what for what, state in operations if what in care.INDEX_OPERATIONS and state != "cancelled"
    ]
    if live and kind not in live:
        return {
            "kind": f"{OPERATION[live[0]]} is recorded, so the kind is {KIND[live[0]]}. Correct or "
            "cancel the operation first."
        }
    if not live and kind in care.INDEX_OPERATIONS:
        return {"kind": f"For {KIND[kind]}, record the operation. Planned is enough."}
    return {}
