"""Fitting perceptrons in processes of their own, the same to the last bit every time.

One thread each and torch's deterministic algorithms; vector instructions are held to AVX2, so that
newer processors come to the same sums (on others than x86 with AVX2 the last bits may differ).
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from itertools import pairwise
from multiprocessing import get_context

import numpy as np
import numpy.typing as npt

from models.recipe import Fit, NetRecipe
from posecheck.body.net import Perceptron

Rows = npt.NDArray[np.float32]

SAME_SUMS = {"MKL_CBWR": "AVX2", "ATEN_CPU_CAPABILITY": "avx2", "OMP_NUM_THREADS": "1"}
"""Environment of the processes that fit, read when torch is loaded."""


@dataclass(frozen=True, eq=False)
class Task:
    """One perceptron to be fitted.

    Attributes:
        inputs: ``(n, n_features)`` scaled.
        wanted: ``(n, n_outputs)`` in units of the outputs.
        seed: of its first weights and of the order in which rows are taken.
    """

    inputs: Rows
    wanted: Rows
    seed: int


def fit_perceptrons(
    tasks: Sequence[Task], net: NetRecipe, fit: Fit, workers: int, called: str
) -> list[Perceptron]:
    """Fit each task's perceptron, ``workers`` at a time; prints how far it has come."""
    # The largest first, so that no worker is left with one at the end.
    order = sorted(range(len(tasks)), key=lambda i: -len(tasks[i].inputs))
    found: dict[int, Perceptron] = {}
    start = time.monotonic()
    with ProcessPoolExecutor(
        workers, mp_context=get_context("spawn"), initializer=_prepare
    ) as pool:
        jobs = {pool.submit(fit_perceptron, tasks[i], net, fit): i for i in order}
        for job in as_completed(jobs):
            found[jobs[job]] = job.result()
            minutes = (time.monotonic() - start) / 60
            print(f"{called}: {len(found)} of {len(tasks)} fitted, {minutes:.1f} min", flush=True)
    return [found[i] for i in range(len(tasks))]


def _prepare() -> None:
    os.environ.update(SAME_SUMS)


def fit_perceptron(task: Task, net: NetRecipe, fit: Fit) -> Perceptron:
    """One perceptron, by AdamW and a learning rate that rises and falls once."""
    import torch
    from torch import nn

    from models.fit.loss import interval_loss

    torch.set_num_threads(1)
    torch.use_deterministic_algorithms(True)
    torch.manual_seed(task.seed)
    x, y = torch.from_numpy(task.inputs), torch.from_numpy(task.wanted)
    n_outputs = y.shape[1]
    layers: list[nn.Module] = []
    for before, after in pairwise((x.shape[1], *net.hidden)):
        layers += [nn.Linear(before, after), nn.ReLU(), nn.Dropout(net.dropout)]
    model = nn.Sequential(*layers, nn.Linear(net.hidden[-1], 3 * n_outputs))
    optimizer = torch.optim.AdamW(
        model.parameters(), lr=net.rate, weight_decay=fit.weight_decay, foreach=True
    )
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimizer,
        net.rate,
        total_steps=net.epochs * -(-len(x) // net.batch),
        pct_start=fit.warm_up,
    )
    for _ in range(net.epochs):
        for rows in torch.randperm(len(x)).split(net.batch):
            optimizer.zero_grad()
            value, below, above = model(x[rows]).split(n_outputs, dim=1)
            interval_loss(
                value,
                below,
                above,
                y[rows],
                cover=fit.cover,
                huber=fit.huber if net.mean else None,
            ).backward()
            optimizer.step()
            schedule.step()
    linear = [layer for layer in model if isinstance(layer, nn.Linear)]
    return Perceptron(
        tuple(layer.weight.detach().numpy().T.astype(float) for layer in linear),
        tuple(layer.bias.detach().numpy().astype(float) for layer in linear),
    )
