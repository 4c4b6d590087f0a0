"""The scale, read from the style sheet that is served.

Contrast: WCAG 2.2, relative luminance and contrast ratio as defined there (criteria 1.4.3 and 1.4.11).
Colour-blind simulation: Machado, Oliveira and Fernandes 2009, severity 1.0 (their matrices, from memory).
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

import dashboard

CSS = (Path(dashboard.__file__).parent / "web" / "spread.css").read_text(encoding="utf-8")
LIGHT, DARK = re.findall(r":root \{([^}]*)\}", CSS)[:2]
SCHEMES = {
    name: dict(re.findall(r"--(\w[\w-]*): (#[0-9a-f]{6})", text))
    for name, text in (("light", LIGHT), ("dark", DARK))
}
SIGHT = {
    "usual": np.eye(3),
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour):
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def luminance(light):
    return float(np.clip(light, 0, 1) @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    low, high = sorted((luminance(linear(one)), luminance(linear(other))))
    return (high + 0.05) / (low + 0.05)


def lightness(light):
    y = luminance(light)
    return 116 * np.cbrt(y) - 16 if y > 0.008856 else 903.3 * y


def test_the_contrast_formula_gives_the_known_extremes():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # widely printed for #777 on white


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("step", range(6))
def test_a_label_reads_on_every_class(scheme, step):
    colours = SCHEMES[scheme]
    assert contrast(colours[f"c{step}"], colours[f"k{step}"]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("sight", SIGHT)
def test_the_scale_goes_one_way_in_lightness_for_every_kind_of_sight(scheme, sight):
    steps = [lightness(np.array(SIGHT[sight]) @ linear(SCHEMES[scheme][f"c{step}"])) for step in range(6)]
    gaps = np.diff(steps) * (-1 if scheme == "light" else 1)
    assert gaps.min() > 7


def oklab_lightness(light):
    """L of OKLab (Ottosson 2020), from linear sRGB; 1 for white."""
    cones = np.array([
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]) @ light  # fmt: skip
    return float([0.2104542553, 0.7936177850, -0.0040720468] @ np.cbrt(cones))


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_scale_keeps_its_order_in_perceived_lightness_and_its_ends_stand_apart(scheme):
    """From the ground towards the ink in both themes: more chance stands out more."""
    assert oklab_lightness(np.ones(3)) == pytest.approx(1, abs=1e-6)
    colours = SCHEMES[scheme]
    steps = [oklab_lightness(linear(colours[f"c{step}"])) for step in range(6)]
    outwards = oklab_lightness(linear(colours["ink"])) - oklab_lightness(linear(colours["sheet"]))
    assert (np.diff(steps) * np.sign(outwards)).min() > 0.05
    assert contrast(colours["c0"], colours["c5"]) >= 3


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        ("ink", "paper"), ("ink", "sheet"), ("ink", "fold"), ("ink", "accent-wash"), ("soft", "paper"),
        ("soft", "sheet"), ("soft", "fold"), ("accent", "paper"), ("accent-ink", "accent"),
        ("wrong", "paper"), ("paper", "ink"),
    ],
)  # fmt: skip
def test_text_reads_on_its_ground(scheme, text, ground):
    assert contrast(SCHEMES[scheme][text], SCHEMES[scheme][ground]) >= 4.5


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(
    ("line", "ground"), [("line", "sheet"), ("wall", "c0"), ("accent", "sheet"), ("wall", "paper")]
)
def test_lines_and_focus_rings_are_seen(scheme, line, ground):
    assert contrast(SCHEMES[scheme][line], SCHEMES[scheme][ground]) >= 3


def test_nothing_is_fetched_from_elsewhere():
    for file in Path(dashboard.__file__).parent.rglob("*"):
        if file.suffix in (".js", ".css"):
            text = file.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
            assert "://" not in text, file.name
            assert "innerHTML" not in text, file.name
