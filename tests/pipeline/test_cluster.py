"""Several machines: a real scheduler and workers on the loopback, with a scripted measuring."""

from __future__ import annotations

import dataclasses
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest
from clusters import Started, scheduler, traced, until
from places import ROOT
from scripted import (
    CHECK_ON_CLUSTER,
    calls,
    clips,
    same_facts,
    scripted_measure,
    scripted_reader,
)

from posecheck.errors import ClusterError, UsageError
from posecheck.files.digest import file_digest
from posecheck.pipeline.batch import Checked, check_clips
from posecheck.pipeline.keys import measures_key
from posecheck.pipeline.settings import Settings
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

from posecheck.pipeline.cluster import cluster_workers
from posecheck.pipeline.scheduler import Cluster

SETTINGS = Settings()


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """A scheduler with two workers that live through the tests."""
    with scheduler(tmp_path_factory.mktemp("two"), ["a", "b"]) as started:
        yield started


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    folder = tmp_path / "practice"
    folder.mkdir()
    return Practice(folder, "practice")


def run(
    started: Started,
    practice: Practice,
    paths: list[Path],
    remarks: list[str] | None = None,
    there: Path | None = None,
    on_tick: Callable[[], object] = lambda: None,
    facts: Callable[[], dict[str, str]] = same_facts,
    tls: Path | None = None,
) -> dict[str, Checked]:
    """Check clips on the cluster; what came of each, by name."""
    folder = practice.folder / "checked"
    cluster = Cluster(
        address=started.address,
        tls=tls,
        here=practice.folder,
        there=there or practice.folder,
        films=[practice.folder],
        results=[folder],
    )
    done: list[Checked] = []
    said = [] if remarks is None else remarks
    reader = partial(scripted_reader, SETTINGS)
    with (
        Record(folder / "record.sqlite", make=True) as record,
        cluster_workers(cluster, reader, facts, said.append) as workers,
    ):
        check_clips(
            paths,
            practice,
            SETTINGS,
            record,
            on_result=done.append,
            measure=scripted_measure,
            workers=workers,
            on_tick=on_tick,
        )
    return {each.path.stem: each for each in done}


def content(practice: Practice) -> dict[str, object]:
    """All that a record says of its clips."""
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        return {
            result.path.name: (
                result.clip_digest,
                result.fault,
                result.provenance,
                [(rep.number, rep.rep, rep.measures, rep.picture) for rep in result.reps],
            )
            for result in record.results(practice)
        }


def test_the_record_is_that_of_one_machine(
    two: Started, practice: Practice, tmp_path: Path
) -> None:
    texts = {f"clip-{number}": "fine" for number in range(6)}
    texts |= {"gone": "nobody", "odd": "stumble"}
    paths = clips(practice, **texts)
    done = run(two, practice, paths)
    assert set(done) == set(texts)
    # both did some, each with one reader for all
    assert len({worker for _, worker in calls(practice)}) == 2
    alone = Practice(tmp_path / "alone", "practice")
    alone.folder.mkdir()
    with Record(alone.folder / "checked" / "record.sqlite", make=True) as record:
        check_clips(
            clips(alone, **texts),
            alone,
            SETTINGS,
            record,
            measure=scripted_measure,
            open_reader=scripted_reader,
        )
    assert content(practice) == content(alone)


def test_a_killed_worker_costs_nothing(practice: Practice, tmp_path: Path) -> None:
    """Its clip is done by another, and what it did before stays."""
    paths = clips(practice, a="slow", b="fine", c="fine", d="fine")
    remarks: list[str] = []
    with scheduler(tmp_path, ["one", "two"]) as started:

        def kill() -> None:
            until((practice.folder / "a.pid").exists)
            os.kill(int((practice.folder / "a.pid").read_text()), signal.SIGKILL)
            (practice.folder / "go").touch()

        killer = threading.Thread(target=kill)
        killer.start()
        done = run(started, practice, paths, remarks)
        killer.join()
    assert {name for name, each in done.items() if each.result.fault is None} == set("abcd")
    assert [name for name, _ in calls(practice)].count("a.mp4") == 2
    (said,) = remarks
    assert said.startswith(f"The worker at {started.address[:15]}")
    assert said.endswith(" is gone; a.mp4 is begun again.")
    assert content(practice)["a.mp4"][0] == file_digest(paths[0])


def test_a_nanny_starts_a_killed_worker_again(practice: Practice, tmp_path: Path) -> None:
    """Also where it was the only one."""
    paths = clips(practice, a="slow", b="fine")
    with scheduler(tmp_path) as started:
        started.worker("one", nanny=True)
        started.wait()

        def on_tick() -> None:
            if not (practice.folder / "go").exists() and (practice.folder / "a.pid").exists():
                os.kill(int((practice.folder / "a.pid").read_text()), signal.SIGKILL)
                (practice.folder / "go").touch()

        done = run(started, practice, paths, on_tick=on_tick)
    assert {name for name, each in done.items() if each.result.fault is None} == {"a", "b"}
    assert len({worker for _, worker in calls(practice)}) == 2


def test_a_clip_that_kills_every_worker_is_given_up(practice: Practice, tmp_path: Path) -> None:
    paths = clips(practice, a="killed", b="fine", c="fine", d="fine")
    with scheduler(tmp_path, ["one", "two", "three"]) as started:
        done = run(started, practice, paths)
    assert done["a"].result.fault.startswith("a.mp4: its worker was stopped from outside twice")
    assert {name for name, each in done.items() if each.result.fault is None} == set("bcd")


def test_a_worker_may_come_later(practice: Practice, tmp_path: Path) -> None:
    paths = clips(practice, a="slow", b="slow")
    with scheduler(tmp_path, ["one"]) as started:

        def on_tick() -> None:
            if len(started.workers) == 1 and len(list(practice.folder.glob("*.pid"))) == 1:
                started.worker("two")
            if len(list(practice.folder.glob("*.pid"))) == 2:
                (practice.folder / "go").touch()

        run(started, practice, paths, on_tick=on_tick)
    assert len({worker for _, worker in calls(practice)}) == 2


def test_a_worker_with_other_code_is_not_used(practice: Practice, tmp_path: Path) -> None:
    paths = clips(practice, a="fine", b="fine")
    remarks: list[str] = []
    with scheduler(tmp_path) as started:
        started.worker("old", POSECHECK_TEST_CODE="older")
        with pytest.raises(ClusterError) as caught:
            run(started, practice, paths, remarks)
        assert str(caught.value) == f"{started.address}: none of its 1 workers can be used."
        (said,) = remarks
        assert said.endswith(
            " is not used: its code is older, here it is here's; install the same on both."
        )
        assert not (practice.folder / "calls.log").exists()
        started.worker("same")
        started.wait()
        assert set(run(started, practice, paths)) == {"a", "b"}
    assert len({worker for _, worker in calls(practice)}) == 1


def test_a_worker_that_does_not_see_the_film(
    two: Started, practice: Practice, tmp_path: Path
) -> None:
    remarks: list[str] = []
    paths = clips(practice, a="fine")
    with pytest.raises(ClusterError):
        run(two, practice, paths, remarks, there=tmp_path / "elsewhere")
    assert len(remarks) == 2
    assert remarks[0].endswith(
        f" is not used: it does not see {tmp_path}/elsewhere; share that folder with it under the "
        "same path, or say with --seen-as where it lies there."
    )
    assert not (practice.folder / "calls.log").exists()


def test_a_folder_that_workers_see_elsewhere(
    two: Started, practice: Practice, tmp_path: Path
) -> None:
    """What the practice says of its clips is known there too, also where that path is a link."""
    (tmp_path / "mounted").symlink_to(practice.folder)
    paths = clips(practice, a="fine", b="nobody")
    practice = dataclasses.replace(practice, notes={"a.mp4": ClipNotes(spot="top")})
    run(two, practice, paths, there=tmp_path / "mounted")
    assert set(content(practice)) == {"a.mp4", "b.mp4"}
    kept = content(practice)["a.mp4"][2].settings_digest
    assert kept == measures_key(SETTINGS, practice, paths[0])
    assert kept != measures_key(SETTINGS, practice, paths[1])


def test_nobody_is_there(
    practice: Practice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posecheck.pipeline.scheduler.ANSWER_S", 2.0)
    paths = clips(practice, a="fine")
    nobody = Started("tcp://127.0.0.1:9", tmp_path)
    with pytest.raises(ClusterError) as caught:
        run(nobody, practice, paths)
    assert str(caught.value) == (
        "tcp://127.0.0.1:9: no scheduler answers there; check the address, and that dask scheduler "
        "runs."
    )
    with pytest.raises(UsageError, match="this is no address of a scheduler"):
        run(Started("carrier-pigeon://loft", tmp_path), practice, paths)
    with scheduler(tmp_path) as started, pytest.raises(ClusterError) as caught:
        run(started, practice, paths)
    assert str(caught.value) == (
        f"{started.address}: this scheduler has no workers; start some with dask worker."
    )


def test_a_scheduler_that_ends_midway(practice: Practice, tmp_path: Path) -> None:
    """What is done is kept."""
    paths = clips(practice, a="fine", b="slow")
    with scheduler(tmp_path, ["one"]) as started:

        def on_tick() -> None:
            if (practice.folder / "b.pid").exists() and started.scheduler.poll() is None:
                started.scheduler.kill()

        with pytest.raises(ClusterError, match="the scheduler does not answer any more"):
            run(started, practice, paths, on_tick=on_tick)
    assert set(content(practice)) == {"a.mp4"}


# -- what goes over the network ------------------------------------------------------------------


def certificates(folder: Path) -> Path:
    """A certificate authority of one's own and one certificate, made as docs/cluster.md says."""
    docs = (ROOT / "docs" / "cluster.md").read_text("utf-8")
    commands = [line for line in docs.splitlines() if line.startswith("openssl ")]
    assert len(commands) == 3
    folder.mkdir()
    for command in commands:
        subprocess.run(shlex.split(command), cwd=folder, check=True, capture_output=True)
    return folder


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl here")
def test_with_tls_only_who_has_a_certificate_is_let_in(practice: Practice, tmp_path: Path) -> None:
    paths = clips(practice, a="fine", b="fine")
    own, other = certificates(tmp_path / "own"), certificates(tmp_path / "other")
    words = [
        *("--tls-ca-file", str(own / "ca.pem")),
        *("--tls-cert", str(own / "cert.pem"), "--tls-key", str(own / "key.pem")),
    ]
    with scheduler(tmp_path, ["one"], tls=words) as started:
        assert started.address.startswith("tls://")
        assert set(run(started, practice, paths, tls=own)) == {"a", "b"}
        with pytest.MonkeyPatch.context() as sooner:
            sooner.setattr("posecheck.pipeline.scheduler.ANSWER_S", 2.0)
            with pytest.raises(ClusterError, match="no scheduler answers there"):
                run(started, practice, paths, tls=other)
        with pytest.raises(UsageError, match="this is no address of a scheduler"):
            run(started, practice, paths)
        (own / "key.pem").unlink()
        with pytest.raises(UsageError) as caught:
            run(started, practice, paths, tls=own)
    assert str(caught.value) == (
        f"{own}/key.pem: there is no such file; --tls wants ca.pem, cert.pem and key.pem."
    )


@pytest.mark.skipif(shutil.which("strace") is None, reason="no strace here")
def test_nothing_reaches_beyond_the_addresses_that_were_given(
    practice: Practice, tmp_path: Path
) -> None:
    """Scheduler, worker and the check, each watched by the operating system."""
    clips(practice, a="fine", b="fine")
    trace = tmp_path / "check.trace"
    with scheduler(tmp_path, ["one"], trace=True) as started:
        program = [sys.executable, "-c", CHECK_ON_CLUSTER, started.address, str(practice.folder)]
        done = subprocess.run(
            [*traced(trace), *program],
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.stdout == "checked\n", done.stderr
    port = started.address.rpartition(":")[2]
    for name in ("scheduler", "one", "check"):
        calls = (tmp_path / f"{name}.trace").read_text()
        assert set(re.findall(r'inet_addr\("([^"]*)"\)', calls)) == {"127.0.0.1"}
        assert "AF_INET6" not in calls
    # the check itself opens connections to the scheduler alone, and listens nowhere
    assert set(re.findall(r"htons\((\d+)\)", trace.read_text())) == {port}
    assert "bind(" not in trace.read_text()
