"""Words, shapes and controls stand out from what is behind them, in light and in dark.

Contrast as in WCAG 2.2 (W3C Recommendation, 2023): 1.4.3 asks 4.5 to 1 for text, 1.4.11 asks 3 to
1 for shapes and the edges of controls; relative luminance as its glossary defines it.
"""

from __future__ import annotations

import re

import pytest

from posecheck.pages.inline import inlined

STYLE = str(inlined(("style.css",), ()).style)

TEXT = ("ink", "soft", "link", "clear", "flagged", "unsure")
SHAPES = ("field", "flagged", "clear", "unsure", "bar")


def colours(dark: bool) -> dict[str, str]:
    """The named colours of the style, in light or in dark."""
    found: dict[str, str] = {}
    root = re.findall(r":root \{(.*?)\}", STYLE, re.S)
    light, at_night, printed = root
    assert "prefers-color-scheme: dark" in STYLE.split(at_night)[0][-80:]
    assert "@media print" in STYLE.split(printed)[0][-40:]
    for block in (light, at_night) if dark else (light,):
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", block))
    return found


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    if len(digits) == 3:
        digits = "".join(2 * digit for digit in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_the_formula_gives_the_figures_of_the_recommendation() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # The lightest grey on white that the recommendation's own understanding document passes.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777", "#fff") < 4.5


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("behind", ["paper", "sheet"])
def test_text_stands_out(dark: bool, behind: str) -> None:
    named = colours(dark)
    faint = {name: contrast(named[name], named[behind]) for name in TEXT}
    assert min(faint.values()) >= 4.5, faint
    assert contrast(named["on-deep"], named["deep"]) >= 4.5


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("behind", ["paper", "sheet"])
def test_shapes_and_edges_of_controls_stand_out(dark: bool, behind: str) -> None:
    named = colours(dark)
    faint = {name: contrast(named[name], named[behind]) for name in SHAPES}
    assert min(faint.values()) >= 3, faint
