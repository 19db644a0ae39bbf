"""The workers of other machines, for ``posecheck check --scheduler``."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from rich.console import Console

from posecheck.cli.printing import say
from posecheck.errors import UsageError
from posecheck.pipeline.cluster import cluster_workers
from posecheck.pipeline.measure_task import open_reader
from posecheck.pipeline.scheduler import Cluster
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Workers
from posecheck.practice.practice import Practice

SHOWN = 12
"""Characters of a digest that are printed: plenty to tell two apart.

Source: definition
"""


@dataclass(frozen=True)
class Machines:
    """Where other machines are, as the options of ``posecheck check`` say.

    Attributes:
        scheduler: its address.
        seen_as: the folder that was named as workers see it, None where it is the same path.
        tls: folder with the certificate, None without.
    """

    scheduler: str
    seen_as: Path | None = None
    tls: Path | None = None

    def workers(
        self,
        folder: Path,
        practices: dict[Path, Path],
        settings: Settings,
        jobs: int | None,
        console: Console,
    ) -> AbstractContextManager[Workers]:
        """The workers, each looked at before it is given anything.

        Args:
            folder: that was named: a practice's or a season's.
            practices: their folders, each with that of its results.
            settings: of the measuring.
            jobs: how many clips at once, None for as many as there are workers.
            console: says who is not used, and why.

        Raises:
            UsageError, ClusterError: as :func:`~posecheck.pipeline.cluster.cluster_workers`.
        """
        cluster = Cluster(
            address=self.scheduler,
            tls=self.tls,
            here=folder,
            there=self.seen_as or folder,
            films=list(practices),
            results=list(practices.values()),
            at_once=jobs,
        )
        return cluster_workers(
            cluster,
            partial(open_reader, settings),
            partial(facts_of, settings),
            lambda sentence: say(console, sentence),
        )


def machines(scheduler: str | None, seen_as: Path | None, tls: Path | None) -> Machines | None:
    """What the options say, None where the work stays on this machine.

    Raises:
        UsageError: they do not fit together.
    """
    if scheduler is None:
        if seen_as is not None or tls is not None:
            raise UsageError("--seen-as and --tls go with --scheduler; add it.")
        return None
    if (tls is not None) != scheduler.startswith("tls://"):
        raise UsageError(
            f"--scheduler {scheduler}: an address with tls:// goes with --tls FOLDER, and no other."
        )
    if seen_as is not None and not seen_as.is_absolute():
        raise UsageError(f"--seen-as {seen_as}: give the whole path, as workers see it.")
    return Machines(scheduler, seen_as, tls)


def facts_of(settings: Settings) -> dict[str, str]:
    """What must be the same on every machine that measures and draws."""
    from posecheck.files.version import installed_version
    from posecheck.pages.drawing import made_by
    from posecheck.pipeline.keys import measures_key, models_used, scan_key
    from posecheck.pose.model_files import pose_model_location

    location = pose_model_location(settings.model, settings.models_folder, settings.reader)
    # A practice that says nothing, so that only code, pose models and settings are left.
    nothing = Practice(Path("/"), ""), Path("/clip")
    return {
        "version": installed_version(),
        "pose model": models_used(settings) if location.exists() else "not set up",
        "measuring code": measures_key(settings, *nothing)[:SHOWN],
        "scanning code": scan_key(settings, 1.0)[:SHOWN],
        "drawing code": made_by(False)[:SHOWN],
    }
