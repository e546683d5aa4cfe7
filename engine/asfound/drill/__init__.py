"""Teaching: any record as an exercise, with defects planted by a seed, marked by a trainee, scored and explained.

    from_file(path, as_of, collected) -> Exercise          # a record as it stands
    planted_in(house(7), as_of, collected, 7, 3) -> Exercise   # three defects in an invented house
    score(exercise.key, marks, chosen)                      # what was found, missed, marked without reason

Nothing here says that anything is safe: a mark that no rule answers to is no all-clear.
"""

from __future__ import annotations

from asfound.drill.exercise import Danger, Exercise, from_file, planted_in
from asfound.drill.houses import house
from asfound.drill.plant import Planted, plant
from asfound.drill.score import score

__all__ = ["Danger", "Exercise", "Planted", "from_file", "house", "plant", "planted_in", "score"]
