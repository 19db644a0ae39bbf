"""Data frames as Markdown tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd


def markdown(frame: pd.DataFrame, columns: Mapping[str, str], first: str = "") -> str:
    """A table with a row for each of the frame's, led by its name.

    Args:
        frame: what is shown, a column each.
        columns: by heading, how a cell is written: a format string over the row's columns, such as
            ``"{knee_error:.1f} ({knee_bias:+.1f})"``. A cell is empty where the first column that
            it names is not known.
        first: heading of the rows' names.
    """
    lines = [_line([first, *columns]), "|" + "---|" * (1 + len(columns))]
    for name, row in frame.iterrows():
        cells = [_cell(form, row.to_dict()) for form in columns.values()]
        lines.append(_line([str(name), *cells]))
    return "\n".join(lines)


def _line(cells: Sequence[str]) -> str:
    return "|" + "".join(f" {cell} |" if cell else " |" for cell in cells)


def _cell(form: str, row: Mapping[str, Any]) -> str:
    named = form.partition("{")[2].partition("}")[0].partition(":")[0]
    return "" if named and pd.isna(row[named]) else form.format_map(row)


def error_form(called: str, digits: int = 1, unit: str = "") -> str:
    """How an error is written: mean absolute, bias in brackets."""
    return f"{{{called}_error:.{digits}f}} ({{{called}_bias:+.{digits}f}}){unit}"
