"""Rows of the caseload for tests: somebody followed, the table read back, the audit rows."""

import re
from html import unescape

from clinic.models.audit import AuditEntry
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.factories.outcomes import EpisodeStatusFactory


def follow(cast, name, *, site=None, episode=None, **columns):
    """Somebody on the caseload, as a status that is not due."""
    patient = PatientFactory(name=name)
    made = EpisodeFactory(
        patient=patient,
        site=site or cast.harbour,
        **{"responsible": cast.clinician, **(episode or {})},
    )
    EpisodeStatusFactory(episode=made, **columns)
    return made


def cells(response):
    """The first table as rows of words, without the rows that open."""
    body = re.sub(" role=.row(group)?.", "", response.content.decode())
    body = body.partition("<tbody>")[2].partition("</tbody>")[0]
    rows = re.findall(r"<tr>(.*?)</tr>", body, flags=re.S)
    return [
        [
            " ".join(unescape(re.sub(r"<[^>]+>", " ", cell)).split())
            for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, flags=re.S)
        ]
        for row in rows
    ]


def names(response):
    return [row[0] for row in cells(response)]


def seen(act="see_caseload"):
    return [row.subject_ids for row in AuditEntry.objects.filter(act=act).order_by("id")]
