"""The tokens of the look against WCAG 2.2: contrast as promised, and a small style sheet."""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).resolve().parents[2] / "teamtrack" / "common" / "static" / "css" / "base.css"
SIZE_LIMIT_BYTES = 20_000

# Contrast against paper that the look promises.
PROMISED = {
    "light": {"ink": 16.8, "quiet": 8.1, "plum": 11.0, "petrol": 9.3, "umber": 8.5, "line": 4.0},
    "dark": {"ink": 16.5, "quiet": 10.5, "plum": 10.6, "petrol": 11.1, "umber": 11.4, "line": 5.5},
}


def luminance(colour: str) -> float:
    """Relative luminance of "#RRGGBB": WCAG 2.2, glossary, "relative luminance"."""
    channels = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, glossary, "contrast ratio"."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def tokens(selector: str) -> dict[str, str]:
    block = re.search(re.escape(selector) + r" \{(.*?)\}", CSS.read_text(), re.S)
    assert block
    return dict(re.findall(r"--(\w+): (#[0-9A-F]{6})", block.group(1)))


THEMES = {"light": tokens(':root, [data-theme="light"]'), "dark": tokens('[data-theme="dark"]')}


def test_contrast_formula_on_published_pairs() -> None:
    """WCAG 2.2: black on white is 21 to 1; G18's text names #767676 on white as just above 4.5 (from memory)."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", PROMISED)
def test_contrast_is_as_promised(theme: str) -> None:
    colours = THEMES[theme]
    found = {name: contrast(colours[name], colours["paper"]) for name in PROMISED[theme]}
    assert found == pytest.approx(PROMISED[theme], abs=0.06)


@pytest.mark.parametrize("theme", PROMISED)
def test_no_hue_stands_out_by_lightness(theme: str) -> None:
    hues = [THEMES[theme][name] for name in ("plum", "petrol", "umber")]
    assert max(contrast(one, other) for one in hues for other in hues) <= 1.31


def test_dark_by_device_is_the_dark_by_hand() -> None:
    assert tokens(":root:not([data-theme])") == THEMES["dark"]


def test_the_style_sheet_is_small_and_takes_nothing_from_elsewhere() -> None:
    text = CSS.read_text()
    assert CSS.stat().st_size < SIZE_LIMIT_BYTES
    assert "@import" not in text
    assert "url(" not in text
