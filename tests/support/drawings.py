"""What a drawing holds, read back from its SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np


def parsed(markup: str) -> ET.Element:
    return ET.fromstring(markup)


def of_class(tree: ET.Element, name: str) -> list[ET.Element]:
    return [element for element in tree.iter() if name in (element.get("class") or "").split()]


def points(path: ET.Element) -> np.ndarray:
    pairs = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d") or "")
    return np.array(pairs, dtype=float)
