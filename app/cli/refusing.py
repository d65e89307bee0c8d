"""How a command refuses."""

from __future__ import annotations

import sys
from typing import NoReturn

import click


def refuse(message: str) -> NoReturn:
    """One line on standard error, exit status 2."""
    click.echo(f"tallyfold: {' '.join(message.split())}", err=True)
    sys.exit(2)
