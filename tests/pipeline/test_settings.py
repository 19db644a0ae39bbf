"""What makes a clip be measured again."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.pipeline import check
from posecheck.pipeline.check import Settings


def test_where_files_lie_does_not_matter() -> None:
    moved = Settings(models_folder=Path("a"), keypoints_folder=Path("b"))
    assert moved.digest() == Settings().digest()


def test_another_reach_model_or_fit_does(monkeypatch: pytest.MonkeyPatch) -> None:
    digests = {Settings().digest(), Settings(reach_m=2.0).digest(), Settings("lite").digest()}
    monkeypatch.setattr(check, "_fitted", lambda: "fitted anew")
    assert len(digests | {Settings().digest()}) == 4
