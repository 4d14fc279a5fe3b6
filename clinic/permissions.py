"""Who may do what: one table role x action, pure, and no by default."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID


class Role(StrEnum):
    """A person's part at one site. One person may hold several."""

    FRONT_DESK = "front_desk"
    CLINICIAN = "clinician"
    LEAD = "lead"


class Action(StrEnum):
    """Everything that can be asked for. What is not in the table is refused."""

    SEE_OWN_PAGES = "see_own_pages"
    FIND_PATIENTS = "find_patients"
    REGISTER = "register"
    SEE_PERSON = "see_person"
    EDIT_PERSON = "edit_person"
    EDIT_EPISODE = "edit_episode"
    SEE_DAY = "see_day"
    BOOK_VISIT = "book_visit"
    MARK_ARRIVED = "mark_arrived"
    SEE_RECORD = "see_record"
    OPEN_VISIT = "open_visit"
    LOG_VISIT = "log_visit"
    ERASE_PICTURE = "erase_picture"
    SIGN_VISIT = "sign_visit"
    CORRECT_READING = "correct_reading"
    KEY_QUESTIONNAIRE = "key_questionnaire"
    RECORD_EVENT = "record_event"
    SET_LIMIT = "set_limit"
    RECORD_DECISION = "record_decision"
    SET_PLAN = "set_plan"
    SET_CARE = "set_care"
    HAND_OVER = "hand_over"
    ANSWER_LOOK = "answer_look"
    READ_LINES = "read_lines"
    GRADE_AGAIN = "grade_again"
    SEE_AGREEMENT = "see_agreement"
    SEE_ALL_AGREEMENT = "see_all_agreement"
    SEE_CASELOAD = "see_caseload"
    EXPORT_CASELOAD = "export_caseload"
    READ_LETTER = "read_letter"
    WRITE_LETTER = "write_letter"
    MANAGE_STAFF = "manage_staff"
    MANAGE_TABLETS = "manage_tablets"
    MANAGE_REFERRERS = "manage_referrers"
    MANAGE_CATALOGUE = "manage_catalogue"


_EVERYONE = frozenset({Action.SEE_OWN_PAGES, Action.FIND_PATIENTS, Action.SEE_PERSON})
_CLINICAL = frozenset(
    {
        Action.SEE_RECORD,
        Action.ERASE_PICTURE,
        Action.ANSWER_LOOK,
        Action.READ_LETTER,
        Action.SET_CARE,
        Action.HAND_OVER,
    }
)

TABLE: Mapping[Role, frozenset[Action]] = {
    Role.FRONT_DESK: _EVERYONE
    | {
        Action.REGISTER,
        Action.EDIT_PERSON,
        Action.EDIT_EPISODE,
        Action.SEE_DAY,
        Action.BOOK_VISIT,
        Action.MARK_ARRIVED,
        Action.KEY_QUESTIONNAIRE,
        Action.MANAGE_REFERRERS,
    },
    Role.CLINICIAN: _EVERYONE
    | _CLINICAL
    | {
        Action.REGISTER,
        Action.EDIT_PERSON,
        Action.EDIT_EPISODE,
        Action.SEE_DAY,
        Action.BOOK_VISIT,
        Action.MARK_ARRIVED,
        Action.OPEN_VISIT,
        Action.LOG_VISIT,
        Action.SIGN_VISIT,
        Action.CORRECT_READING,
        Action.KEY_QUESTIONNAIRE,
        Action.RECORD_EVENT,
        Action.SET_LIMIT,
        Action.RECORD_DECISION,
        Action.SET_PLAN,
        Action.WRITE_LETTER,
        Action.READ_LINES,
        Action.GRADE_AGAIN,
        Action.SEE_AGREEMENT,
        Action.SEE_CASELOAD,
        Action.MANAGE_REFERRERS,
    },
    Role.LEAD: _EVERYONE
    | _CLINICAL
    | {
        Action.SEE_DAY,
        Action.SEE_CASELOAD,
        Action.EXPORT_CASELOAD,
        Action.SEE_AGREEMENT,
        Action.SEE_ALL_AGREEMENT,
        Action.MANAGE_STAFF,
        Action.MANAGE_TABLETS,
        Action.MANAGE_REFERRERS,
        Action.MANAGE_CATALOGUE,
    },
}


def may(*, roles: Collection[Role], action: Action) -> bool:
    """Whether any of the roles may do the action."""
    return any(action in TABLE[role] for role in roles)


@dataclass(frozen=True, kw_only=True, slots=True)
class Actor:
    """Who acts, where, and in which request: what every service is told, instead of a request."""

    staff_id: int
    site_id: int
    request_id: UUID
