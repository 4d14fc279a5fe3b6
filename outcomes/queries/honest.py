"""What lists of criteria can and cannot tell, each with its source: shown beside every list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from outcomes.core.values import Mark, Source
from outcomes.queries.opened import source_lines


@dataclass(frozen=True, kw_only=True, slots=True)
class Honest:
    """One thing that a list of criteria does not tell, and where that was found."""

    text: str
    source: Source

    @property
    def line(self) -> str:
        """The sentence with its source and how well that is supported."""
        return f"{self.text} {source_lines(sources=(self.source,))[0]}."


HONEST: Final = (
    Honest(
        text="No study shows which criteria are the right ones to progress or to end care by: the "
        "authors of a guideline searched and found none.",
        source=Source(text="Kotsifaki 2023", mark=Mark.SEEN, doi="10.1136/bjsports-2022-106158"),
    ),
    Honest(
        text="Fewer new injuries among those who met every criterion: that rests on 106 people, "
        "and chance is not ruled out (p = 0.075).",
        source=Source(text="Grindem 2016", mark=Mark.SEEN, doi="10.1136/bjsports-2016-096031"),
    ),
    Honest(
        text="Eighteen studies together: fewer graft ruptures among those who met the criteria, no "
        "clear difference in ACL injuries of both knees together, and more on the other knee, "
        "perhaps because they play more.",
        source=Source(
            text="Webster and Hewett 2019", mark=Mark.SEEN, doi="10.1007/s40279-019-01093-x"
        ),
    ),
    Honest(
        text="Symmetry flatters, as the other leg weakens too: of 70 people 57.1 % had 90 % in all "
        "tests, but 28.6 % had 90 % of what the other leg did before surgery. Of later injuries "
        "a symmetry under 90 % had pointed out 27 %, the value from before surgery 82 %.",
        source=Source(text="Wellsandt 2017", mark=Mark.SEEN, doi="10.2519/jospt.2017.7285"),
    ),
    Honest(
        text="Hop distance hides what the knee leaves to hip and ankle: less bend, moment and "
        "power at an even distance.",
        source=Source(text="Kotsifaki 2020, Br J Sports Med 54:139", mark=Mark.SEEN),
    ),
    Honest(
        text="Uninjured athletes miss criteria as well: 24 % of them were even in all tests, and "
        "17 % thirteen months after surgery. A criterion not met proves no risk.",
        source=Source(text="Markström 2023, PMC9808831", mark=Mark.SEEN),
    ),
    Honest(
        text="Young age and pivoting sport weigh most, and no list takes that risk away.",
        source=Source(text="Common teaching of the trade", mark=Mark.MEMORY),
    ),
)
"""In our own words, the strongest caution first."""
