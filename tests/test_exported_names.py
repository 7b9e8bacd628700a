"""What is public is listed once, exists, and is what the contract names."""

from __future__ import annotations

import importlib
import inspect
from pathlib import Path

import pytest

import heatmap

ROOMS = sorted(path.parent.name for path in (Path(heatmap.__file__).parent).glob("*/__init__.py"))


def test_the_contract_of_the_library() -> None:
    """Names that scripts are told to rely on."""
    assert {"load_grill", "load_rounds", "assess", "Assessment", "fit_surface", "Surface"} <= set(heatmap.__all__)
    parameters = inspect.signature(heatmap.assess).parameters
    assert list(parameters)[:3] == ["grill", "rounds", "round"]
    assert parameters["round"].default is None
    surface = inspect.signature(heatmap.fit_surface).parameters
    assert list(surface)[:3] == ["points_mm", "rail_c", "own_std_c"]
    assert surface["extent_mm"].kind is inspect.Parameter.KEYWORD_ONLY
    from heatmap.physics.conduction import seared_slab
    from heatmap.physics.planck import band_radiance, band_temperature

    assert list(inspect.signature(band_radiance).parameters) == ["kelvin", "low_um", "high_um"]
    assert list(inspect.signature(band_temperature).parameters)[0] == "radiance"
    slab = {
        "thickness_m",
        "conductivity",
        "density",
        "specific_heat",
        "start_c",
        "steps",
        "rail_c",
        "contact_w_m2k",
    }
    assert slab | {"air_c", "air_w_m2k", "rest_w_m2k", "at_fraction"} <= set(inspect.signature(seared_slab).parameters)


@pytest.mark.parametrize("name", heatmap.__all__)
def test_public_names_are_found_on_first_use(name: str) -> None:
    thing = getattr(heatmap, name)
    assert getattr(thing, "__module__", "heatmap").startswith("heatmap")
    assert (thing.__doc__ or "").strip(), f"heatmap.{name} says nothing about itself"


def test_a_name_that_is_none() -> None:
    with pytest.raises(AttributeError, match="module 'heatmap' has no attribute 'grate'"):
        heatmap.grate  # noqa: B018


@pytest.mark.parametrize("room", ROOMS)
def test_lists_are_sorted_and_true(room: str) -> None:
    module = importlib.import_module(f"heatmap.{room}")
    names = getattr(module, "__all__", [])
    assert len(set(names)) == len(names)
    for name in names:
        assert getattr(module, name, None) is not None, f"heatmap.{room}.{name} is listed and not there"
    assert sorted(heatmap.__all__) == list(heatmap.__all__)


@pytest.mark.parametrize("room", ROOMS)
def test_every_public_function_and_class_says_what_it_is(room: str) -> None:
    module = importlib.import_module(f"heatmap.{room}")
    for name in getattr(module, "__all__", []):
        thing = getattr(module, name)
        if inspect.isclass(thing) or inspect.isfunction(thing):
            assert thing.__doc__, f"heatmap.{room}.{name}"
