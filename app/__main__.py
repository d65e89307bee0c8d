"""``python -m app`` is the command line."""

from app.cli import main

main()
