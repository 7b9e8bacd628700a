"""Files: PNG and SVG, the same bytes for the same picture, one clear line when it cannot be."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable

import pytest

from heatmap.assessment import Assessment
from heatmap.errors import InputError
from heatmap.pictures import heat_map, picture_bytes

Make = Callable[..., Assessment]


def test_png_and_svg_by_the_ending(make_assessment: Make):
    figure = heat_map(make_assessment())
    content, svg = picture_bytes(figure, ".PNG"), picture_bytes(figure, ".svg")
    # W3C, Portable Network Graphics (PNG) Specification (Third Edition), 5.2: the signature, then the size in IHDR
    assert content[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])
    assert int.from_bytes(content[16:20], "big") == 1300
    root = ElementTree.fromstring(svg.decode())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"


def test_svg_carries_its_letters_and_no_date(make_assessment: Make):
    text = picture_bytes(heat_map(make_assessment()), ".svg").decode()
    assert "<text" not in text, "letters are shapes, no font is needed"
    assert not re.search(r"<dc:date>|20\d\d-\d\d-\d\d", text)
    assert not re.search(r'(href|src)="(?!#|data:)', text), "nothing is fetched"


def test_same_picture_same_bytes(make_assessment: Make):
    made = make_assessment()
    one, other = heat_map(made), heat_map(made)
    assert picture_bytes(one, ".svg") == picture_bytes(other, ".svg")
    assert picture_bytes(one, ".png") == picture_bytes(other, ".png")
    assert b"tEXtCreation" not in picture_bytes(one, ".png")


@pytest.mark.parametrize("ending", [".jpg", "", ".svgz", "png"])
def test_other_endings_are_refused(make_assessment: Make, ending: str):
    with pytest.raises(InputError, match=r"must end in \.png or \.svg"):
        picture_bytes(heat_map(make_assessment()), ending)


def test_a_name_in_another_script_draws_without_a_warning(make_assessment: Make, recwarn: pytest.WarningsRecorder):
    picture_bytes(heat_map(make_assessment(), title="グリル \U0001f525"), ".png")
    assert not [warning for warning in recwarn if "lyph" in str(warning.message)]
