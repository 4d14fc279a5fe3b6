"""What was published on how far two people agree by eye: always beside our own figures."""

from __future__ import annotations

from typing import Final

from outcomes.core.values import Mark, Source

PUBLISHED: Final = (
    Source(
        text="Single-leg squat rated by eye, six raters: weighted kappa between raters 0.30 to "
        "0.34, within one rater 0.55 to 0.85 (BMC Musculoskelet Disord 2017, s12891-017-1660-8)",
        mark=Mark.SEEN,
    ),
    Source(
        text="Single-leg squat rated by eye: intraclass correlation between raters 0.60 (students) "
        "and 0.71 (physiotherapists), within one rater 0.71 to 0.81 (BMC Musculoskelet Disord "
        "2012;13:207)",
        mark=Mark.SEEN,
    ),
    Source(
        text="Effusion, sweep test, pairs of therapists, 75 patients: kappa 0.75 as a share of the "
        "most that was possible, 5 of 75 two grades apart, never more (Sturgill 2009)",
        mark=Mark.SEEN,
    ),
    Source(
        text="The same 75 patients: 54 of 75 graded alike are 72.0 %; the 73 % in print does not "
        "come from these counts (Sturgill 2009)",
        mark=Mark.COMPUTED,
    ),
)
"""The pelvis itself was not graded by eye in any of these: the nearest tasks that were found."""
