"""A Dask scheduler: its address, what is asked of it, and the connection to it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from posecheck.errors import ClusterError, UsageError
from posecheck.pipeline.limits import ANSWER_S


@dataclass(frozen=True)
class Cluster:
    """Where workers of other machines are to be had, and what they need.

    Attributes:
        address: of the scheduler, such as ``tcp://192.168.1.20:8786``.
        tls: folder with ``ca.pem``, ``cert.pem`` and ``key.pem``, for an address with ``tls://``.
        here, there: a folder as this machine sees it and as the workers do.
        films: folders that workers must see, as this machine sees them.
        results: folders that they must be able to write to, made if need be.
        at_once: how many tasks at most, None for as many as there are workers.
    """

    address: str
    tls: Path | None
    here: Path
    there: Path
    films: Sequence[Path]
    results: Sequence[Path]
    at_once: int | None = None


def connected(cluster: Cluster) -> Any:
    """A client of the scheduler, to be closed.

    Raises:
        UsageError: the address or the TLS files cannot be used, or Dask is not installed.
        ClusterError: nobody answers there.
    """
    try:
        from distributed import Client, Security
    except ImportError:
        raise UsageError(
            "--scheduler wants Dask, which is not installed; run: pip install 'posecheck[cluster]'"
        ) from None
    # What there is to say of lost connections is said below, in a sentence.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    security = None
    if cluster.tls is not None:
        ca, cert, key = (cluster.tls / f"{name}.pem" for name in ("ca", "cert", "key"))
        for file in (ca, cert, key):
            if not file.is_file():
                raise UsageError(
                    f"{file}: there is no such file; --tls wants ca.pem, cert.pem and key.pem."
                )
        security = Security(
            require_encryption=True,
            tls_ca_file=str(ca),
            tls_client_cert=str(cert),
            tls_client_key=str(key),
        )
    try:
        return Client(cluster.address, timeout=ANSWER_S, security=security, set_as_default=False)
    except (OSError, TimeoutError):
        raise ClusterError(
            f"{cluster.address}: no scheduler answers there; check the address, and that dask "
            "scheduler runs."
        ) from None
    except (TypeError, ValueError, RuntimeError) as error:
        raise UsageError(
            f"{cluster.address}: this is no address of a scheduler ({error}); give one such as "
            "tcp://192.168.1.20:8786."
        ) from None
