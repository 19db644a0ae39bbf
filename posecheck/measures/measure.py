"""One quantity as measured in one rep, with its interval or the reason why it is missing."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """A quantity as measured in one rep.

    Attributes:
        key: which quantity.
        value: best estimate, None when the film does not show it.
        low, high: 90 % interval, None together with value.
        read_from: what it was read from ("33 of 41 frames, both legs in view").
        missing_because: why there is no value, None when there is one.
    """

    key: str
    value: float | None
    low: float | None
    high: float | None
    read_from: str
    missing_because: str | None = None

    def __post_init__(self) -> None:
        if self.value is None:
            if self.missing_because is None or self.low is not None or self.high is not None:
                raise ValueError(f"{self.key}: a missing value needs a reason and no interval")
        elif self.low is None or self.high is None or not self.low <= self.value <= self.high:
            raise ValueError(f"{self.key}: want low <= value <= high, got {self}")


def missing(key: str, because: str) -> Measure:
    """A measure that the film does not show."""
    return Measure(key, None, None, None, read_from="", missing_because=because)
