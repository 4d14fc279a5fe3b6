"""The table role x action as a truth table, and no by default."""

import pytest

from clinic.permissions import TABLE, Action, Role, may

D, C, L = Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD
# Who may do what: front desk, clinician, lead. An action that is not listed here fails the test.
TRUTH: dict[Action, set[Role]] = {
    Action.SEE_OWN_PAGES: {D, C, L},
    Action.FIND_PATIENTS: {D, C, L},
    Action.SEE_PERSON: {D, C, L},
    Action.REGISTER: {D, C},
    Action.EDIT_PERSON: {D, C},
    Action.EDIT_EPISODE: {D, C},
    Action.SEE_DAY: {D, C, L},
    Action.BOOK_VISIT: {D, C},
    Action.MARK_ARRIVED: {D, C},
    Action.SEE_RECORD: {C, L},
    Action.OPEN_VISIT: {C},
    Action.LOG_VISIT: {C},
    Action.SIGN_VISIT: {C},
    Action.CORRECT_READING: {C},
    Action.SET_LIMIT: {C},
    Action.RECORD_DECISION: {C},
    Action.SET_PLAN: {C},
    Action.ERASE_PICTURE: {C, L},
    Action.SET_CARE: {C, L},
    Action.HAND_OVER: {C, L},
    Action.ANSWER_LOOK: {C, L},
    Action.READ_LINES: {C},
    Action.GRADE_AGAIN: {C},
    Action.SEE_AGREEMENT: {C, L},
    Action.SEE_ALL_AGREEMENT: {L},
    Action.SEE_CASELOAD: {C, L},
    Action.EXPORT_CASELOAD: {L},
    Action.READ_LETTER: {C, L},
    Action.WRITE_LETTER: {C},
    Action.MANAGE_STAFF: {L},
    Action.MANAGE_TABLETS: {L},
    Action.MANAGE_REFERRERS: {D, C, L},
    Action.KEY_QUESTIONNAIRE: {D, C},
    Action.RECORD_EVENT: {C},
    Action.MANAGE_CATALOGUE: {L},
}


@pytest.mark.parametrize("action", list(Action))
def test_each_action_belongs_to_exactly_these_roles(action: Action) -> None:
    assert {role for role in Role if may(roles=[role], action=action)} == TRUTH[action]


def test_nobody_and_nothing_means_no() -> None:
    assert [action for action in Action if may(roles=[], action=action)] == []
    assert set(TABLE) == set(Role)


def test_roles_add_up() -> None:
    both = {action for action in Action if may(roles=[D, L], action=action)}
    assert both == TABLE[D] | TABLE[L]
    assert Action.SIGN_VISIT not in both
