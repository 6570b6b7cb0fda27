"""From units picked to what can be sold, month by month, compiled; see `crop/harvest`."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def grade(full_kg, off_share, group, place, learning, grading, out):
    """Pick, keep and grade; what is filled comes in as nil."""
    crops = full_kg.shape[1]
    for s in range(learning.shape[0]):
        g, bunching = group[s], grading.bunching_share[s]
        kept = grading.kept_share[s] * (1.0 - bunching)
        for c in range(crops):
            efficiency, second = grading.efficiency_share[s, c], grading.second_share[s, c]
            first_grade, second_grade = out.saleable[s, c], out.saleable[s, crops + c]
            for m in range(place.size):
                if place[m] < 0:
                    continue
                picked = full_kg[g, c, place[m]] * efficiency * learning[s, m]
                share = second + (1.0 - second) * off_share[g, c, place[m]]
                out.picked[s, c, m] = picked
                out.thrown_before_sale[s, m] += picked * bunching
                first_grade[m] = picked * kept * (1.0 - share)
                second_grade[m] = picked * kept * share
