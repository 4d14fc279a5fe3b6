"""What is measured: each case against its baseline; the pages on one crowd."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from typing import Final
from uuid import uuid4

from clinic import clock
from clinic.models.care import Episode, Visit
from clinic.permissions import Actor
from clinic.services import visits
from outcomes.core.values import Limb
from outcomes.forms.visit_page import VisitPage
from outcomes.letters import pdf
from outcomes.letters.content import Edited, Typed
from outcomes.letters.printing import html_of, sheet_of
from outcomes.management.bench import arithmetic, evaluating, replaying, scenarios, tablet
from outcomes.management.bench.asking import Ask, Person, Straight, served
from outcomes.management.bench.baselines import STATUS
from outcomes.management.bench.counting import Counted, counted, plans
from outcomes.management.bench.crowd import Crowd, gather
from outcomes.management.bench.measuring import Act, Figure, compared, exact, paired
from outcomes.management.bench.samples import texts_of
from outcomes.models.letters import Letter
from outcomes.models.status import EpisodeStatus
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, letters

EPISODES: Final = 500
VISITS: Final = (12, 48)
FOLLOWED: Final = 60
"""Episodes of each site of the growth case: more than one page of the list."""
SHARE: Final = 88
GROWS: Final = ("outcomes_reading", "clinic_visit", "outcomes_redflagcheck")
"""Tables that grow with every visit: no plan of the caseload may touch them."""


@dataclass
class Bench:
    """The rounds to take, and the crowd that all cases share."""

    rounds: int

    @cached_property
    def crowd(self) -> Crowd:
        """500 episodes of twelve visits."""
        return gather(code="harbour", episodes=EPISODES, visits=VISITS[0])

    @cached_property
    def unused(self) -> Iterator[Episode]:
        """The episodes in turn: no act meets the same one twice."""
        return iter(self.crowd.episodes)


def caseload_page(bench: Bench) -> list[Figure]:
    """The lead's list of 500 episodes, 50 to a page."""
    lead = Person(bench.crowd.lead)
    return _pages(
        name="caseload_page",
        product=lambda: lead.get("/caseload/"),
        baseline=lambda: lead.get("/bench/caseload/"),
        rounds=bench.rounds,
        aim=1.5,
    )


def patient_page(bench: Bench) -> list[Figure]:
    """Another patient in each round, the same for product and baseline."""
    clinician = Person(bench.crowd.clinicians[0])
    turns, bare = count(), count()
    uids = [episode.patient.uid for episode in bench.crowd.episodes]
    return _pages(
        name="patient_page",
        product=lambda: clinician.get(f"/patients/{uids[next(turns)]}/"),
        baseline=lambda: clinician.get(f"/bench/patients/{uids[next(bare)]}/"),
        rounds=bench.rounds,
        aim=3,
    )


def _pages(
    *, name: str, product: Callable[[], Ask], baseline: Callable[[], Ask], rounds: int, aim: float
) -> list[Figure]:
    straight = Straight()

    def act(ask: Callable[[], Ask]) -> Act:
        ready = ask()
        return lambda: straight.send(ready)

    mine, bare = paired(product=lambda: act(product), baseline=lambda: act(baseline), rounds=rounds)
    return [
        *compared(name=name, product=mine, baseline=bare, aim=aim),
        *_statements(name=name, product=lambda: act(product), baseline=lambda: act(baseline)),
    ]


def _statements(
    *, name: str, product: Callable[[], Act], baseline: Callable[[], Act]
) -> list[Figure]:
    """What one act of each side asks of the database; the product's comes first, as in a round."""
    return [
        exact(name=f"{name}.{side}", value=_count(prepare()).statements, unit="statements")
        for side, prepare in (("product", product), ("baseline", baseline))
    ]


def _count(act: Act) -> Counted:
    with counted() as counts:
        act()
    return counts


def sign_visit(bench: Bench) -> list[Figure]:
    """Signing twelve readings over HTTP, each round on two patients who had twelve visits."""
    straight = Straight()
    with served() as connect:
        http = connect()
        mine, bare = paired(
            product=lambda: _act(http.send, _to_sign(next(bench.unused))),
            baseline=lambda: _act(http.send, _to_insert(next(bench.unused))),
            rounds=bench.rounds,
        )
    return [
        *compared(name="sign_visit", product=mine, baseline=bare, aim=3),
        *_statements(
            name="sign_visit",
            product=lambda: _act(straight.send, _to_sign(next(bench.unused))),
            baseline=lambda: _act(straight.send, _to_insert(next(bench.unused))),
        ),
    ]


def _act(send: Callable[..., bytes], ask: Ask) -> Act:
    return lambda: send(ask, status=302)


def _actor(episode: Episode) -> Actor:
    staff = episode.responsible_id or 0
    return Actor(staff_id=staff, site_id=episode.site_id, request_id=uuid4())


def _opened(episode: Episode) -> Visit:
    """A visit of today, opened and typed in by the responsible clinician, as the ledger does."""
    actor, today = _actor(episode), clock.today(episode.site)
    uid = visits.open_visit(
        actor=actor,
        key=uuid4(),
        patient_id=episode.patient_id,
        site_id=episode.site_id,
        on=today,
    )
    visit = Visit.objects.select_related("patient", "site").get(uid=uid)
    typed = texts_of(knee=Limb(episode.knee), share=SHARE)
    drafts.save(actor=actor, visit_id=visit.pk, typed=typed, shown={}, sheet=str(uuid4()))
    return visit


def _to_sign(episode: Episode) -> Ask:
    """What the browser sends when "Sign visit" is pressed on the page of that draft."""
    visit = _opened(episode)
    shown = VisitPage(sheet=VisitSheet(visit))
    fields = [field for row in shown.form.rows for field in row.fields]
    typed = {field.name: field.value for field in (*fields, *shown.flags.fields) if field.value}
    hidden: Mapping[str, str | Sequence[str]] = {
        "was": [*(row.was for row in shown.form.rows), shown.flags_was, shown.note_was],
        "sheet": shown.id,
        "key": str(uuid4()),
    }
    return _signer(episode).post(f"/visits/{visit.uid}/sign", {**typed, **hidden})


def _to_insert(episode: Episode) -> Ask:
    visit = _opened(episode)
    STATUS[visit.uid] = EpisodeStatus.objects.get(episode=episode)
    typed = {"knee": episode.knee, "share": str(SHARE), "key": str(uuid4())}
    return _signer(episode).post(f"/bench/visits/{visit.uid}/sign", typed)


def _signer(episode: Episode) -> Person:
    if episode.responsible is None:
        raise ValueError("nobody treats this episode")
    return Person(episode.responsible)


def letter(bench: Bench) -> list[Figure]:
    """From one click to the signed bytes, against rendering the same finished page."""
    done: list[Episode] = []

    def product() -> Act:
        done.append(next(bench.unused))
        return lambda: _write(done[-1])

    def baseline() -> Act:
        html = _finished(done[-1])
        return lambda: pdf.render(html=html)

    mine, bare = paired(product=product, baseline=baseline, rounds=bench.rounds)
    return [
        *compared(name="letter", product=mine, baseline=bare, aim=1.2),
        *_statements(name="letter", product=product, baseline=baseline),
    ]


def _write(episode: Episode) -> None:
    """One click, then the signature: drafted, printed and kept by the service."""
    actor = _actor(episode)
    letters.draft(actor=actor, key=uuid4(), episode=episode)
    draft = Letter.objects.select_related("episode__site", "episode__patient").get(episode=episode)
    typed = Typed(bottom_line=draft.bottom_line, question="", plan="As before.", next_test_on=None)
    edited = Edited(recipient_id=draft.recipient_id, copies=(), typed=typed, spellings={})
    letters.sign(
        actor=actor, key=uuid4(), letter=draft, seen=draft.version, edited=edited, as_it_stood=False
    )


def _finished(episode: Episode) -> str:
    """The finished page of the letter that was signed."""
    signed = Letter.objects.select_related("episode__site", "signed_by").get(episode=episode)
    return html_of(sheet=sheet_of(letter=signed, signer=signed.signed_by))


def caseload_growth(bench: Bench) -> list[Figure]:
    """The same episodes with 12 and with 48 visits each: what their two lists ask and fetch."""
    few, many = (_listed(visits) for visits in VISITS)
    growth = max(many.statements / few.statements, many.rows / few.rows)
    touched = sum(table in line for line in plans(many) for table in GROWS)
    return [
        exact(name="caseload_growth", value=growth, unit="ratio", aim=1),
        *(
            figure
            for visits, counts in zip(VISITS, (few, many), strict=True)
            for figure in (
                exact(name=f"caseload_growth.{visits}", value=counts.statements, unit="statements"),
                exact(name=f"caseload_growth.{visits}", value=counts.rows, unit="rows"),
            )
        ),
        exact(name="caseload_growth.plan", value=touched, unit="growing tables in plan", aim=0),
    ]


def _listed(visits: int) -> Counted:
    """The list of a site whose episodes have so many visits."""
    crowd = gather(code=f"site-{visits}", episodes=FOLLOWED, visits=visits)
    lead, straight = Person(crowd.lead), Straight()
    straight.send(lead.get("/caseload/"))
    return _count(lambda: straight.send(lead.get("/caseload/")))


def score_koos(bench: Bench) -> list[Figure]:
    """Ten thousand questionnaires to their scores, without a database."""
    return arithmetic.score_koos(rounds=bench.rounds)


def symmetry(bench: Bench) -> list[Figure]:
    """A hundred thousand pairs to their symmetry, without a database."""
    return arithmetic.compare_limbs(rounds=bench.rounds)


def evaluate(bench: Bench) -> list[Figure]:
    """A thousand episodes judged through the composite protocol, against reading their rows."""
    return evaluating.evaluate(rounds=bench.rounds)


def visit_short_actions(bench: Bench) -> list[Figure]:
    """Taps and keys of a short visit, without a scroll."""
    return tablet.actions(scenarios.SHORT)


def visit_full_actions(bench: Bench) -> list[Figure]:
    """Taps and keys of a full test day."""
    return tablet.actions(scenarios.FULL)


def symmetry_painted(bench: Bench) -> list[Figure]:
    """From the last digit to the beam on the screen."""
    return tablet.symmetry_painted(rounds=bench.rounds)


def replay_200(bench: Bench) -> list[Figure]:
    """Two hundred saves that waited on a tablet."""
    opened = (_opened(episode) for episode in bench.unused)
    return replaying.replay(visits=opened, rounds=bench.rounds)


CASES: Final[Mapping[str, Callable[[Bench], list[Figure]]]] = {
    case.__name__: case
    for case in (
        caseload_page, patient_page, sign_visit, letter, caseload_growth, score_koos, symmetry,
        evaluate, visit_short_actions, visit_full_actions, symmetry_painted,
        replay_200,
    )
}  # fmt: skip
