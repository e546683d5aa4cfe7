"""What to test next: the observations that would settle most of what is open in a survey, gravest first.

    plan(survey, steps=10) -> Plan

Nothing here says that anything is safe; it says what to look at, and in which order.
"""

from __future__ import annotations

from dataclasses import dataclass

from asfound.plan.look import Looker, Observation
from asfound.plan.questions import Open, Question, questions
from asfound.plan.rank import Gain, Ranking, Step, rank
from asfound.survey import Survey

__all__ = ["Gain", "Looker", "Observation", "Open", "Plan", "Question", "Ranking", "Step", "plan"]


@dataclass(slots=True)
class Plan:
    """The ranking with all that it rests on."""

    survey: Survey
    looker: Looker
    asked: Open
    ranking: Ranking

    @property
    def steps(self) -> list[Step]:
        return self.ranking.steps


def plan(survey: Survey, steps: int | None = 10) -> Plan:
    """Rank the observations for a survey; at most `steps` of them, all with None."""
    looker = Looker(survey.installation)
    asked = questions(survey, looker)
    return Plan(survey, looker, asked, rank(asked, steps))
