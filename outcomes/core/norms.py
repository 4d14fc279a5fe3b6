"""Percentiles that a clinic entered, put into the criteria that ask for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from outcomes.core.values import Band, Criterion, Form, Protocol, Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Norm:
    """The scores that are one percentile of people without injury, by sex and age in years.

    ``score`` is its code, like ``ikdc.total``; ``source`` says where the clinic took them from.
    None is shipped: a percentile is never made from a mean and a standard deviation.
    """

    score: str
    percentile: Decimal
    bands: tuple[Band, ...]
    source: Source


def with_norms(*, protocol: Protocol, norms: Sequence[Norm]) -> Protocol:
    """The protocol with the entered scores as the bands of every percentile that names none.

    What nothing was entered for stays as it is, and is not assessable.

    >>> with_norms(protocol=Protocol(code="a@1", label="A", milestones=(), last_by_goal={}),
    ...            norms=()).code
    'a@1'
    """
    milestones = tuple(
        replace(one, criteria=tuple(_filled(rule, norms) for rule in one.criteria))
        for one in protocol.milestones
    )
    return (
        protocol if milestones == protocol.milestones else replace(protocol, milestones=milestones)
    )


def _filled(criterion: Criterion, norms: Sequence[Norm]) -> Criterion:
    if criterion.form is not Form.PERCENTILE or criterion.bands:
        return criterion
    asked = (criterion.measure, criterion.value)
    found = next((one for one in norms if (one.score, one.percentile) == asked), None)
    if found is None:
        return criterion
    return replace(criterion, bands=found.bands, sources=(*criterion.sources, found.source))
