"""How far off the figures are, as one page that opens offline."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from markupsafe import Markup

from posecheck.errors import UsageError
from posecheck.files.whole_file import refuse_to_overwrite
from posecheck.judging.verdict import Call
from posecheck.measures.figures import after_figure, error_decimals, fixed
from posecheck.measures.quantities import QUANTITIES, QUANTITY
from posecheck.pages import accuracy_plots as plots
from posecheck.pages.environment import page_environment
from posecheck.pages.svg import call_mark
from posecheck.scoring.accuracy import Accuracy
from posecheck.scoring.groups import Group, groups

_TITLE = "<title>How accurate it is:"
_HEAD_BYTES = 1024
"""The title of a page stands within so much of its front.

Source: definition (its template, in which little comes before)
"""


def room_for_accuracy_page(path: Path) -> None:
    """Make sure, before anything is measured, that a page replaces nothing but an earlier one.

    Raises:
        UsageError: there is another file of this name.
    """
    refuse_to_overwrite(path, _is_accuracy_page)


def _is_accuracy_page(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return _TITLE.encode() in file.read(_HEAD_BYTES)
    except OSError:
        return False


def write_accuracy_page(accuracy: Accuracy, practice: str, path: Path) -> None:
    """Write the page.

    Args:
        accuracy: results set beside truth.
        practice: name of the practice with truth.
        path: of the page.

    Raises:
        UsageError: it cannot be written, or there is another file of this name.
    """
    room_for_accuracy_page(path)
    environment = page_environment(Call=Call, call_mark=call_mark, amount=amount, share=share)
    style = files("posecheck.pages") / "templates" / "style.css"
    compared = [
        quantity
        for quantity in QUANTITIES
        if any(each.key == quantity.key for each in accuracy.readings)
    ]
    page = environment.get_template("accuracy.html").render(
        practice=practice,
        accuracy=accuracy,
        clips=len({each.clip for each in accuracy.readings}),
        coverage=plots.coverage(
            [
                (quantity.label, sum(each.inside for each in own), len(own))
                for quantity in compared
                for own in [[each for each in accuracy.readings if each.key == quantity.key]]
            ]
        ),
        measures=[_measure(accuracy, quantity.key, quantity.label) for quantity in compared],
        style=Markup(style.read_text(encoding="utf-8")),
    )
    try:
        path.write_text(page, encoding="utf-8")
    except OSError as error:
        raise UsageError(
            f"{path}: it cannot be written ({error.strerror}); name another place."
        ) from None


def amount(unit: str, value: float | None, signed: bool = False) -> str:
    """An error with its unit, empty when there is none."""
    if value is None:
        return ""
    return f"{fixed(value, error_decimals(unit), signed)}{after_figure(unit)}"


def share(value: float | None) -> str:
    """A share in per cent, empty when there is none."""
    return "" if value is None else f"{100 * value:.0f} %"


def _measure(accuracy: Accuracy, key: str, label: str) -> dict[str, object]:
    """One measure's plots and tables."""
    readings = [each for each in accuracy.readings if each.key == key]
    frames = [each for each in accuracy.frames if each.key == key]
    tables: dict[str, tuple[Group, ...]] = groups(key, readings, frames)
    return {
        "key": key,
        "label": label,
        "unit": QUANTITY[key].unit,
        "n_frames": sum(len(each.error) for each in frames),
        "tables": tables,
        "plots": (
            ("Read over true, with error bars", plots.read_against_true(readings)),
            ("Error by view", plots.error_by_view(readings, frames)),
            ("Error by height", plots.error_by_height(readings, frames)),
            ("Error by defender", plots.error_by_defender(readings)),
        ),
    }
