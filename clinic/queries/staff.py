"""Who works where: people and their roles by site, open links, registered tablets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clinic import clock
from clinic.models.places import Invitation, Membership, Site, StaffMember, Tablet


@dataclass(frozen=True, kw_only=True, slots=True)
class SiteStaff:
    """A site with the roles held there, the links not used yet, and its tablets."""

    site: Site
    held: list[Membership]
    links: list[Invitation]
    tablets: list[Tablet]


def of_sites(sites: Sequence[Site]) -> list[SiteStaff]:
    """Each site with its people, in three statements however many sites and people there are."""
    ids = [site.pk for site in sites]
    held = Membership.objects.filter(site_id__in=ids, ended_on__isnull=True)
    links = Invitation.objects.filter(
        site_id__in=ids, accepted_at__isnull=True, expires_at__gt=clock.now()
    )
    tablets = Tablet.objects.filter(site_id__in=ids, retired_at__isnull=True)
    held_rows = list(held.select_related("staff").order_by("staff__full_name", "role", "id"))
    link_rows = list(links.order_by("expires_at", "id"))
    tablet_rows = list(tablets.order_by("label", "id"))
    return [
        SiteStaff(
            site=site,
            held=[row for row in held_rows if row.site_id == site.pk],
            links=[row for row in link_rows if row.site_id == site.pk],
            tablets=[row for row in tablet_rows if row.site_id == site.pk],
        )
        for site in sites
    ]


def people() -> list[StaffMember]:
    """Everybody of the organisation who can sign in, by name."""
    return list(StaffMember.objects.filter(is_active=True).order_by("full_name", "id"))


def id_of(*, username: str) -> int | None:
    """The person with that sign-in name, if there is one."""
    found = StaffMember.objects.filter(username__iexact=username).values_list("pk", flat=True)
    return found.first()


def all_site_ids() -> list[int]:
    """Every site of the organisation."""
    return list(Site.objects.order_by("pk").values_list("pk", flat=True))
