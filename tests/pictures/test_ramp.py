"""The colour ramp: diverging, centred, apart without colour and in colour blindness."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.colors import to_rgb, to_rgba_array

from heatmap.pictures import ramp
from heatmap.pictures.ramp import INK, MARKS, PAPER, band_steps, difference_steps, round_step
from heatmap.words.phrases import MARKS as SIGNS

COLOURS = to_rgba_array(ramp.COLOURS)[:, :3]

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6), 1291-1298, 2009: matrices for severity
# 1.0, on linear red, green and blue. Checked against the table shipped with the package colorspacious 1.1.2.
SEEN_BY = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
    "full colour": np.eye(3),
}


def linear(rgb: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1:1999, section 5.2: sRGB to linear light."""
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def lab(linear_rgb: np.ndarray) -> np.ndarray:
    """CIE 15:2004, 8.2.1: CIELAB of linear sRGB under D65 (matrix of IEC 61966-2-1:1999)."""
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    ratio = np.clip(linear_rgb, 0.0, 1.0) @ matrix.T / np.array([0.9505, 1.0, 1.0890])
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = root.T
    return np.column_stack([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def luminance(rgb: np.ndarray) -> np.ndarray:
    return linear(rgb) @ np.array([0.2126, 0.7152, 0.0722])


def contrast(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """W3C, Web Content Accessibility Guidelines 2.1, definition of contrast ratio."""
    light = np.maximum(luminance(one), luminance(other)) + 0.05
    return light / (np.minimum(luminance(one), luminance(other)) + 0.05)


def test_published_lab_of_white_and_primaries():
    # IEC 61966-2-1 primaries in CIELAB D65; widely tabulated, from memory: red 53.2 80.1 67.2, blue 32.3 79.2 -107.9
    got = lab(np.array([[1.0, 1, 1], [1, 0, 0], [0, 0, 1]]))
    assert got == pytest.approx(np.array([[100, 0, 0], [53.2, 80.1, 67.2], [32.3, 79.2, -107.9]]), abs=0.15)


def test_lightness_falls_from_the_centre_to_both_ends():
    lightness = lab(linear(COLOURS))[:, 0]
    assert np.all(np.diff(lightness[:5]) > 0)
    assert np.all(np.diff(lightness[4:]) < 0)


def test_two_hues_and_a_neutral():
    colours = lab(linear(COLOURS))
    assert np.all(colours[:4, 2] < -3), "blue below"
    assert np.all(colours[5:, 2] > 3), "orange above"
    assert np.hypot(*colours[4, 1:]) < 4, "neutral in the middle"
    hue = np.degrees(np.arctan2(colours[:, 2], colours[:, 1]))
    assert np.ptp(hue[5:]) < 45, "one hue on each side, no rainbow"
    assert np.ptp(hue[:4] % 360) < 45, "one hue on each side, no rainbow"


def test_cold_end_is_darker_than_hot_end_for_grey_print():
    lightness = lab(linear(COLOURS))[:, 0]
    assert lightness[-1] - lightness[0] > 12


@pytest.mark.parametrize("sight", SEEN_BY)
def test_steps_stay_apart_in_colour_blindness(sight: str):
    seen = lab(linear(COLOURS) @ np.array(SEEN_BY[sight]).T)
    apart = np.linalg.norm(seen[:, None] - seen[None], axis=2)
    middle = len(seen) // 2
    assert apart[:middle, middle + 1 :].min() > 20, "too cold never looks like too hot"
    assert np.diag(apart, 1).min() > 7, "neighbouring steps differ"


def test_ink_and_halo_are_readable_on_every_step():
    ink, paper = np.array(to_rgb(INK)), np.array(to_rgb(PAPER))
    best = np.maximum(contrast(COLOURS, ink), contrast(COLOURS, paper))
    assert best.min() >= 4.5
    assert contrast(ink, paper) >= 7


def test_every_word_has_a_shape_of_its_own():
    assert len({marker for marker, _ in MARKS.values()}) == len(MARKS) == 4
    assert SIGNS.keys() == MARKS.keys()
    assert len({sure for sure, _ in SIGNS.values()}) == len(SIGNS)
    assert all(leaning != sure for word, (sure, leaning) in SIGNS.items() if word != "suspect")


def test_steps_are_cut_at_the_band():
    steps = band_steps(550.0, 600.0)
    assert steps == (475, 500, 525, 550, 600, 625, 650, 675)
    assert len(COLOURS) == len(steps) + 1


def test_a_narrow_band_does_not_make_noise_colourful():
    edges = band_steps(575.0, 577.0)
    assert np.diff(edges)[[0, 1, 2, 4, 5, 6]] == pytest.approx(5.0)


def test_difference_steps_hold_the_largest_difference():
    steps = difference_steps(17.0)
    assert steps[0] == -steps[-1]
    assert steps[3] == -steps[4]
    assert steps[-1] <= 17.0 * 1.5


def test_round_steps():
    assert [round_step(size, 1.0) for size in (0.1, 3.0, 14.0, 26.0, 900.0)] == [1.0, 2.0, 10.0, 25.0, 200.0]
