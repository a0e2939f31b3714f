"""``narrator review``: the page on which the shop listens, corrects and approves."""

from __future__ import annotations

import ipaddress
import webbrowser

import click

from narrator.errors import NarratorError
from narrator.settings import load_settings


@click.command("review")
@click.option("--port", type=click.IntRange(0, 65535), default=8765, show_default=True,
              help="Port to serve; 0 takes any that is free.")  # fmt: skip
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option("--address", default="127.0.0.1", show_default=True,
              help="Address to serve; one that others can reach is guarded by a password.")  # fmt: skip
def command(port: int, no_browser: bool, address: str) -> None:
    """Serve the review page until it is stopped with Ctrl+C."""
    from narrator.review.access import Access, new_password  # noqa: PLC0415 - the web loads only where it is used
    from narrator.review.app import make_app  # noqa: PLC0415
    from narrator.review.serve import make_server, open_socket  # noqa: PLC0415

    try:
        wanted = ipaddress.ip_address(address)
    except ValueError as error:
        raise NarratorError("E703", address=address) from error
    if wanted.is_unspecified:
        raise NarratorError("E703", address=address)
    access = Access(str(wanted), port)
    if not access.local:
        access.password = new_password()
    listening = open_socket(access)
    url = f"http://{f'[{wanted}]' if wanted.version == 6 else wanted}:{access.port}/"

    def ready() -> None:
        """Tell where the page is, once it answers."""
        click.echo(f"The review page is at {url} (stop it with Ctrl+C).", err=True)
        if access.password:
            click.echo(
                f"Password, shown only now: {access.password}\n"
                "Warning: the page is not encrypted. Whoever can listen on this network can read the "
                "password and the jobs; use it only on a network that you trust.",
                err=True,
            )
        if not no_browser:
            webbrowser.open(url)

    make_server(make_app(load_settings(), access), ready).run([listening])
