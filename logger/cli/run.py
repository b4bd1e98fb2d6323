"""`beadwatch run`: the recorder."""

import asyncio
import logging
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import say
from logger.cli.places import default_rig, default_socket, default_store
from logger.daemon.run import RunOptions
from logger.daemon.run import run as run_recorder
from logger.domain.listen import ListenOptions


def run(
    rig_file: Annotated[
        Path | None, typer.Argument(metavar="[RIG.toml]", help="Its usual places where none is named.")
    ] = None,
    joint_file: Annotated[
        Path | None, typer.Option("--joint", metavar="JOINT.toml", help="Open this joint at once.")
    ] = None,
    store: Annotated[Path | None, typer.Option(help="The record.")] = None,
    socket: Annotated[Path | None, typer.Option(help="The local socket.")] = None,
    listen: Annotated[
        str, typer.Option(metavar="HOST:PORT", help="Reach it over TCP too: needs a token file.")
    ] = "",
    token_file: Annotated[str, typer.Option(help="Holds the token; mode 600.")] = "",
    tls_cert: Annotated[str, typer.Option(help="Needed for an address on the network.")] = "",
    tls_key: Annotated[str, typer.Option(help="Key of the certificate.")] = "",
    time_scale: Annotated[
        float, typer.Option(min=0.1, max=200.0, help="Demonstration only: clock seconds per real second.")
    ] = 1.0,
) -> None:
    """Record the rig until stopped by a signal. Reads only: nothing is ever written to the rig."""
    logging.getLogger("logger").setLevel(logging.INFO)
    options = RunOptions(
        rig_file=rig_file or default_rig(),
        joint_file=joint_file,
        store=store or default_store(),
        socket=socket or default_socket(),
        time_scale=time_scale,
        listen=_listen_options(listen, token_file, tls_cert, tls_key),
    )

    def begun() -> None:
        say(f"recording into {options.store}, listening on {options.socket}")

    asyncio.run(run_recorder(options, begun))


def _listen_options(listen: str, token_file: str, tls_cert: str, tls_key: str) -> ListenOptions | None:
    if not listen:
        if token_file or tls_cert or tls_key:
            raise typer.BadParameter("--token-file, --tls-cert and --tls-key belong to --listen")
        return None
    return ListenOptions(address=listen, token_file=token_file, tls_cert=tls_cert, tls_key=tls_key)
