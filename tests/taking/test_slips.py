"""What a slip of the hand makes of a number, undone."""

from __future__ import annotations

import pytest

from heatmap.taking.slips import meant_numbers


@pytest.mark.parametrize(
    ("number", "meant", "slip"),
    [
        (58, 585, "a dropped digit"),
        (5885, 585, "a doubled digit"),
        (5585, 585, "a doubled digit"),
        (855, 585, "two digits swapped"),
        (385, 585, "a wrong digit"),
    ],
)
def test_slips_of_the_hand_are_undone(number, meant, slip):
    assert meant_numbers(number)[meant] > 0.0, slip


def test_slips_keep_the_decimal_point():
    assert 301.5 in meant_numbers(310.5, 1)


def test_chances_are_those_of_making_every_slip_at_every_place():
    """Make every slip of 585 at every place by hand, and count which end at each number."""
    digits, ends = "585", {}
    for at in range(3):
        ends.setdefault(("a dropped digit", digits[:at] + digits[at + 1 :]), []).append(1 / 3)
        for digit in set("0123456789") - {digits[at]}:
            ends.setdefault(("a wrong digit", digits[:at] + digit + digits[at + 1 :]), []).append(1 / 27)
    for (slip, end), chances in ends.items():
        if not end.startswith("0"):
            assert meant_numbers(int(end))[585] == pytest.approx(sum(chances)), (slip, end)
