"""Share players' files on the network that this machine is on, until Ctrl-C."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import typer

from posecheck.practice.roster import Player
from posecheck.store.finding import find_record, measured_practices
from posecheck.store.record import Record
from posecheck.web.links import Links
from posecheck.web.sharing import own_address, sharing_server
from posecheck.web.tuning import LINK_DAYS, SHARING_PORT

WARNING = (
    "Everybody on this network can reach this server, and what is sent is not encrypted: use a "
    "network that is yours. Only players' own files are served, each to whoever has its link."
)


def share(
    folder: Path,
    port: int | None,
    address: str | None,
    new_passphrase: bool,
    ask: Callable[[], str],
) -> None:
    """Serve players' files, and print a link for each player who has none.

    Args:
        folder: of the practice, or of its results.
        port: to listen on, None for the usual one.
        address: of this machine on the network, None to find it.
        new_passphrase: whether to ask for another in place of the one that is kept.
        ask: gives a new passphrase.

    Raises:
        PosecheckError: there is nothing to share, or it cannot be shared.
    """
    record = find_record(folder)
    links = Links.read(record.parent)
    players = _players(record)
    if links.passphrase is None or new_passphrase:
        links.set_passphrase(ask())
    server, sharing = sharing_server(
        record.parent, players, links, address or own_address(), port or SHARING_PORT
    )
    with server:
        typer.echo(WARNING)
        typer.echo(f"Coach, with the passphrase: {sharing.root}/")
        for number, player in sorted(sharing.players.items()):
            if number in links.shared():
                typer.echo(f"{player.display_name}: has a link already; a new one on that page.")
            else:
                typer.echo(f"{player.display_name}, for {LINK_DAYS} days: {sharing.link(number)}")
        typer.echo("Ctrl-C ends it. Links hold while it runs on this address and port.")
        try:
            server.serve()
        except KeyboardInterrupt:
            typer.echo("")


def _players(record: Path) -> dict[int, Player]:
    with Record(record) as opened:
        practices = measured_practices(opened)
    return {number: player for each in practices for number, player in each.players.items()}
